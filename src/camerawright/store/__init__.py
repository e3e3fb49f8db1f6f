"""The workshop folder: tables, journal, media. The only place with SQL."""
