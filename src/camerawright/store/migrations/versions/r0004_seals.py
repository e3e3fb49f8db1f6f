"""Seals of all that is in the workshop, a chain of each job's entries, and the form that a job came of."""

import sqlite3

import sqlalchemy as sa
from alembic import op

from camerawright.store import seals
from camerawright.store.migrations.versions.r0001_workshop import APPEND_ONLY

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
    op.execute("DROP TRIGGER IF EXISTS entry_keeps_its_content")
    connection = op.get_bind().connection.driver_connection  # in the same transaction
    assert isinstance(connection, sqlite3.Connection)
    n_entries = _chain(connection)
    op.execute(APPEND_ONLY[0])
    for name in seals.SEALED:
        for row, sha256 in list(seals.rows(connection, name)):
            seals.put(connection, name, row, seals.Seal(sha256=sha256))
    seals.put(connection, seals.BEGINNING, "entries", seals.Seal(n_entries=n_entries))


def _chain(connection: sqlite3.Connection) -> int:
    """Chain the entries that are there; how many they are."""
    ends: dict[int, seals.Seal] = {}
    rows = connection.execute(f"SELECT {seals.as_bytes('n', 'job', 'sha256')} FROM entry ORDER BY entry.n").fetchall()
    for n, job, sha256 in rows:
        n_job, before = int(job), ends.get(int(job), seals.Seal())
        link = seals.link(before.sha256, n_job, seals.as_text(sha256))
        ends[n_job] = seals.Seal(sha256=link, n_entries=before.n_entries + 1)
        connection.execute("UPDATE entry SET chain = :chain WHERE n = :n", {"chain": link, "n": int(n)})
    for n_job, end in ends.items():
        seals.put(connection, seals.JOURNAL, str(n_job), end)
    return len(rows)
