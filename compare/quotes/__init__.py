"""Quotes: what is kept of each, what the client sees of it, and what became of it when it is computed again."""
