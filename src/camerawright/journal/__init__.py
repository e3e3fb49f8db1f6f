"""What happened at the bench: entries, the state they add up to, and what may happen next. Pure."""
