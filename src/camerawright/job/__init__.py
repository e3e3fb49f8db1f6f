"""One job: where it stands, its entries, what is owed, cleaning, refit."""
