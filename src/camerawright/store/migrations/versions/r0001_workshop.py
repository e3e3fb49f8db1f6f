"""Owners, cameras, jobs, journal entries that nobody can change, and media."""

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None
branch_labels = None
depends_on = None

# REPLACE deletes without firing a delete trigger, so a second row of the same id is stopped at the door.
APPEND_ONLY = (
    "CREATE TRIGGER entry_keeps_its_content BEFORE UPDATE ON entry"
    " BEGIN SELECT RAISE(ABORT, 'a journal entry is never changed'); END",
    "CREATE TRIGGER entry_stays BEFORE DELETE ON entry"
    " BEGIN SELECT RAISE(ABORT, 'a journal entry is never deleted'); END",
    "CREATE TRIGGER entry_is_not_replaced BEFORE INSERT ON entry"
    " WHEN EXISTS (SELECT 1 FROM entry WHERE id = NEW.id OR n = NEW.n)"
    " BEGIN SELECT RAISE(ABORT, 'a journal entry is never replaced'); END",
)


def upgrade() -> None:
    """From an empty database to the first workshop."""
    op.create_table(
        "owner",
        sa.Column("n", sa.Integer, nullable=False),
        sa.Column("name", sa.String, nullable=False),
        sa.Column("contact", sa.String, nullable=False),
        sa.PrimaryKeyConstraint("n", name="pk_owner"),
        sa.UniqueConstraint("name", "contact", name="uq_owner_name"),
    )
    op.create_table(
        "camera",
        sa.Column("n", sa.Integer, nullable=False),
        sa.Column("maker", sa.String, nullable=False),
        sa.Column("model", sa.String, nullable=False),
        sa.Column("serial", sa.String, nullable=False),
        sa.Column("variant", sa.String, nullable=False),
        sa.Column("maker_key", sa.String, nullable=False),
        sa.Column("model_key", sa.String, nullable=False),
        sa.Column("serial_key", sa.String, nullable=False),
        sa.Column("variant_key", sa.String, nullable=False),
        sa.PrimaryKeyConstraint("n", name="pk_camera"),
        sa.UniqueConstraint("maker_key", "model_key", "serial_key", name="uq_camera_maker_key"),
    )
    op.create_index("ix_camera_variant_key", "camera", ["variant_key"])
    op.create_table(
        "job",
        sa.Column("n", sa.Integer, nullable=False),
        sa.Column("owner", sa.Integer, nullable=False),
        sa.Column("camera", sa.Integer, nullable=False),
        sa.Column("taken_in", sa.Date, nullable=False),
        sa.Column("owners_words", sa.Text, nullable=False),
        sa.Column("film_inside", sa.Boolean, nullable=False),
        sa.Column("accessories", sa.JSON, nullable=False),
        sa.Column("condition", sa.Text, nullable=False),
        sa.Column("wanted", sa.Text, nullable=False),
        sa.Column("profile", sa.String, nullable=False),
        sa.PrimaryKeyConstraint("n", name="pk_job"),
        sa.ForeignKeyConstraint(["owner"], ["owner.n"], name="fk_job_owner"),
        sa.ForeignKeyConstraint(["camera"], ["camera.n"], name="fk_job_camera"),
    )
    op.create_index("ix_job_camera", "job", ["camera"])
    op.create_table(
        "entry",
        sa.Column("n", sa.Integer, nullable=False),
        sa.Column("job", sa.Integer, nullable=False),
        sa.Column("id", sa.String(32), nullable=False),
        sa.Column("at", sa.DateTime, nullable=False),
        sa.Column("kind", sa.String, nullable=False),
        sa.Column("body", sa.Text, nullable=False),
        sa.Column("sha256", sa.String(64), nullable=False),
        sa.PrimaryKeyConstraint("n", name="pk_entry"),
        sa.ForeignKeyConstraint(["job"], ["job.n"], name="fk_entry_job"),
        sa.UniqueConstraint("id", name="uq_entry_id"),
    )
    op.create_index("ix_entry_job", "entry", ["job"])
    op.create_table(
        "medium",
        sa.Column("sha256", sa.String(64), nullable=False),
        sa.Column("suffix", sa.String, nullable=False),
        sa.Column("n_bytes", sa.Integer, nullable=False),
        sa.PrimaryKeyConstraint("sha256", name="pk_medium"),
    )
    for trigger in APPEND_ONLY:
        op.execute(trigger)
