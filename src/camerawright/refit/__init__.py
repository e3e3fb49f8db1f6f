"""What must come off, the way back together, cleaning routes, and what earlier strip-downs taught. Pure."""
