"""Tests of compare/valuation."""
