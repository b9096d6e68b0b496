"""Valuations of an inventory: money, carbon, waste."""
