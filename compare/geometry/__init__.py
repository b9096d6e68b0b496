"""Blanks, their lines, and how they lie on the sheet."""
