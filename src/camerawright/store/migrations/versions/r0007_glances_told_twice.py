"""A glance says itself twice, so that a row that another program altered shows; an index holds those that differ."""

import sqlalchemy as sa
from alembic import op

revision = "0007"
down_revision = "0006"

_SAID = (
    "CAST(job AS TEXT) || '|' || stage || '|' || CAST(is_done AS TEXT) || '|' || CAST(n_off AS TEXT) || '|'"
    " || CAST(n_owed AS TEXT) || '|' || next_step || '|' || COALESCE(CAST(good_until AS TEXT), '')"
)


def upgrade() -> None:
    """Kept as they are: 20,000 jobs computed again would hold up every list for minutes."""
    op.add_column("glance", sa.Column("said", sa.Text, nullable=False, server_default=""))
    op.execute(f"UPDATE glance SET said = {_SAID}")
    op.create_index("ix_glance_altered", "glance", ["job"], sqlite_where=sa.text(f"said <> {_SAID}"))
