"""Evenrun's dashboard: views that call the engine and compute nothing themselves."""
