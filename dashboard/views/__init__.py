"""The views: each a layout made from a state, and the callbacks that keep it up to date."""
