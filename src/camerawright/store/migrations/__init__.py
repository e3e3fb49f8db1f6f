"""How the tables came about, one step a file, for Alembic. Only here SQLAlchemy and Alembic are known."""
