"""Lamps on the mains."""

LIGHT_HZ = (100.0, 120.0)
"""How often such a lamp flickers: twice the mains' 50 or 60 Hz."""
