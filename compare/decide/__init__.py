"""Decisions: which route, from which run length on."""
