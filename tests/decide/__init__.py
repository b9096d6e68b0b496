"""Tests of compare/decide."""
