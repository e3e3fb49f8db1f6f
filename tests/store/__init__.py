"""The workshop folder."""
