"""Tests of compare/readers."""
