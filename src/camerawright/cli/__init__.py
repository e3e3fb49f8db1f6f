"""Commands: parse, call, print."""
