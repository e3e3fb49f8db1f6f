"""What was computed from journals, kept for the next command or page."""

import sqlalchemy as sa
from alembic import op

revision = "0006"
down_revision = "0005"


def upgrade() -> None:
    """Empty: what is missing is computed when it is asked for."""
    op.create_table(
        "computed",
        sa.Column("n", sa.Integer, nullable=False),
        sa.Column("kind", sa.String, nullable=False),
        sa.Column("name", sa.String, nullable=False),
        sa.Column("rests_on", sa.String, nullable=False),
        sa.Column("body", sa.Text, nullable=False),
        sa.Column("sha256", sa.String(64), nullable=False),
        sa.PrimaryKeyConstraint("n", name="pk_computed"),
        sa.UniqueConstraint("kind", "name", name="uq_computed_kind"),
    )
    op.create_index("ix_glance_good_until", "glance", ["good_until"])
