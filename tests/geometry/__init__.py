"""Tests of compare/geometry."""
