"""Cited figures and formulas. Pure."""
