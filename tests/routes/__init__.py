"""Tests of compare/routes."""
