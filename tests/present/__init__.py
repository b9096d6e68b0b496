"""Tests of compare/present."""
