"""Numbers and verdicts as text: the one place where a figure becomes words."""
