"""How the tables came about, one step a file, for Alembic."""
