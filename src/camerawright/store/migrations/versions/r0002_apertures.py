"""The apertures that are engraved on a camera's lens."""

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"


def upgrade() -> None:
    """No camera of an older workshop has any: nobody was asked."""
    op.add_column("camera", sa.Column("f_numbers", sa.JSON, nullable=False, server_default="[]"))
