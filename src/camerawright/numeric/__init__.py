"""Array primitives that two or more bench tests use. Pure."""
