"""Bench tests, one folder each."""
