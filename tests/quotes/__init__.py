"""Tests of compare/quotes."""
