"""The two routes: job and plant in, inventory out."""
