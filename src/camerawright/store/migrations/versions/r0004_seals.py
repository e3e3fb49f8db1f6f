"""Seals of all that is in the workshop, a chain of each job's entries, and the form that a job came of."""

import sqlalchemy as sa
from alembic import op

from camerawright.store import seals
from camerawright.store.migrations.versions.r0001_workshop import SQLITE_APPEND_ONLY

revision = "0004"
down_revision = "0003"


def upgrade() -> None:
    """What is there is sealed as it is found."""
    op.add_column("job", sa.Column("form", sa.String(32), nullable=True))
    op.create_index("uq_job_form", "job", ["form"], unique=True)
    op.add_column("entry", sa.Column("chain", sa.String(64), nullable=False, server_default=""))
    op.create_table(
        "seal",
        sa.Column("kind", sa.String, nullable=False),
        sa.Column("name", sa.String, nullable=False),
        sa.Column("sha256", sa.String(64), nullable=False),
        sa.Column("n_entries", sa.Integer, nullable=False),
        sa.PrimaryKeyConstraint("kind", "name", name="pk_seal"),
    )
    is_sqlite = op.get_context().dialect.name == "sqlite"
    if is_sqlite:
        op.execute("DROP TRIGGER IF EXISTS entry_keeps_its_content")
    n_entries = _chain(op.get_bind())
    if is_sqlite:
        op.execute(SQLITE_APPEND_ONLY[0])
    for name in seals.SEALED:
        for row, sha256 in list(seals.rows(op.get_bind(), name)):
            seals.put(op.get_bind(), name, row, seals.Seal(sha256=sha256))
    seals.put(op.get_bind(), seals.BEGINNING, "entries", seals.Seal(n_entries=n_entries))


def _chain(connection: sa.Connection) -> int:
    """Chain the entries that are there; how many they are."""
    entry = sa.table("entry", sa.column("n"), sa.column("chain"))
    found = sa.select(*(seals.as_bytes(name).label(name) for name in ("n", "job", "sha256"))).select_from(entry)
    ends: dict[int, seals.Seal] = {}
    rows = connection.execute(found.order_by(sa.column("n"))).all()
    for row in rows:
        n_job, before = int(row.job), ends.get(int(row.job), seals.Seal())
        link = seals.link(before.sha256, n_job, row.sha256.decode(errors="replace"))
        ends[n_job] = seals.Seal(sha256=link, n_entries=before.n_entries + 1)
        connection.execute(sa.update(entry).where(entry.c.n == int(row.n)).values(chain=link))
    for n_job, end in ends.items():
        seals.put(connection, seals.JOURNAL, str(n_job), end)
    return len(rows)
