"""Where each job stands, kept for lists.

A program that shows something else there clears the table in its migration.
"""

import sqlalchemy as sa
from alembic import op

revision = "0005"
down_revision = "0004"


def upgrade() -> None:
    """Empty: what is missing is computed when a list is shown."""
    op.create_table(
        "glance",
        sa.Column("job", sa.Integer, sa.ForeignKey("job.n", name="fk_glance_job"), nullable=False),
        sa.Column("stage", sa.String, nullable=False),
        sa.Column("is_done", sa.Boolean, nullable=False),
        sa.Column("n_off", sa.Integer, nullable=False),
        sa.Column("n_owed", sa.Integer, nullable=False),
        sa.Column("next_step", sa.Text, nullable=False),
        sa.Column("good_until", sa.DateTime),
        sa.PrimaryKeyConstraint("job", name="pk_glance"),
    )
    op.create_index("ix_entry_kind", "entry", ["kind"])
    op.create_index("ix_glance_is_done", "glance", ["is_done"])
