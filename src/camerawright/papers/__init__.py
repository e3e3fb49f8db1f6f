"""Papers: what each one says, and its template."""
