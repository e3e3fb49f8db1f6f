"""The tables, for SQLAlchemy Core. How they come about stands in `migrations/`; a test holds the two together."""

from datetime import UTC, datetime
from typing import Final

from sqlalchemy import (
    JSON,
    Boolean,
    Column,
    Date,
    DateTime,
    Dialect,
    ForeignKey,
    Index,
    Integer,
    MetaData,
    String,
    Table,
    Text,
    TypeDecorator,
    UniqueConstraint,
    text,
)

REVISIONS: Final = ("0001", "0002", "0003", "0004", "0005", "0006", "0007")
"""Every migration this program knows, oldest first; the last is what it works with."""


class Utc(TypeDecorator[datetime]):
    """An instant, kept as naive UTC: SQLite drops the offset of a timestamp."""

    impl = DateTime
    cache_ok = True

    def process_bind_param(self, value: datetime | None, dialect: Dialect) -> datetime | None:
        """To naive UTC; a naive value is a bug of the caller."""
        if value is None:
            return None
        if value.tzinfo is None:
            raise ValueError("an instant needs its offset")
        return value.astimezone(UTC).replace(tzinfo=None)

    def process_result_value(self, value: datetime | None, dialect: Dialect) -> datetime | None:
        """Back to aware UTC."""
        return None if value is None else value.replace(tzinfo=UTC)


METADATA: Final = MetaData(
    naming_convention={
        "pk": "pk_%(table_name)s",
        "fk": "fk_%(table_name)s_%(column_0_name)s",
        "uq": "uq_%(table_name)s_%(column_0_name)s",
        "ix": "ix_%(table_name)s_%(column_0_name)s",
    }
)

OWNER: Final = Table(
    "owner",
    METADATA,
    Column("n", Integer, primary_key=True),
    Column("name", String, nullable=False),
    Column("contact", String, nullable=False),
    UniqueConstraint("name", "contact"),
)

CAMERA: Final = Table(
    "camera",
    METADATA,
    Column("n", Integer, primary_key=True),
    Column("maker", String, nullable=False),
    Column("model", String, nullable=False),
    Column("serial", String, nullable=False),
    Column("variant", String, nullable=False),
    # What is compared: `name_key` of each, as no two databases fold alike.
    Column("maker_key", String, nullable=False),
    Column("model_key", String, nullable=False),
    Column("serial_key", String, nullable=False),
    Column("variant_key", String, nullable=False, index=True),
    Column("f_numbers", JSON, nullable=False, server_default="[]"),  # engraved on the lens, the widest first
    UniqueConstraint("maker_key", "model_key", "serial_key"),
)

JOB: Final = Table(
    "job",
    METADATA,
    Column("n", Integer, primary_key=True),  # "J" and this number is what a job is called
    Column("owner", ForeignKey("owner.n"), nullable=False),
    Column("camera", ForeignKey("camera.n"), nullable=False, index=True),
    Column("taken_in", Date, nullable=False),
    Column("owners_words", Text, nullable=False),
    Column("film_inside", Boolean, nullable=False),
    Column("accessories", JSON, nullable=False),
    Column("condition", Text, nullable=False),
    Column("wanted", Text, nullable=False),
    Column("profile", String, nullable=False),
    Column("form", String(32)),  # the id of the form that it was taken in by, if a page had one
    Index("uq_job_form", "form", unique=True),
)

ENTRY: Final = Table(
    "entry",
    METADATA,
    Column("n", Integer, primary_key=True),
    Column("job", ForeignKey("job.n"), nullable=False, index=True),
    Column("id", String(32), nullable=False, unique=True),
    Column("at", Utc, nullable=False),
    Column("kind", String, nullable=False, index=True),
    Column("body", Text, nullable=False),  # the line of JSON as `written` gave it
    Column("sha256", String(64), nullable=False),  # of the body, in UTF-8
    Column("chain", String(64), nullable=False, server_default=""),  # `seals.link`
)

MEDIUM: Final = Table(
    "medium",
    METADATA,
    Column("sha256", String(64), primary_key=True),
    Column("suffix", String, nullable=False),  # of the file it came from: ".wav", ".jpg" or nothing
    Column("n_bytes", Integer, nullable=False),
)

GLANCE_SAID: Final = (
    "CAST(job AS TEXT) || '|' || stage || '|' || CAST(is_done AS TEXT) || '|' || CAST(n_off AS TEXT) || '|'"
    " || CAST(n_owed AS TEXT) || '|' || next_step || '|' || COALESCE(CAST(good_until AS TEXT), '')"
)
"""All that a row of `glance` says, in one text."""
GLANCE_ALTERED: Final = f"said <> {GLANCE_SAID}"

GLANCE: Final = Table(
    "glance",
    METADATA,
    Column("job", ForeignKey("job.n"), primary_key=True),
    Column("stage", String, nullable=False),
    Column("is_done", Boolean, nullable=False, index=True),
    Column("n_off", Integer, nullable=False),
    Column("n_owed", Integer, nullable=False),
    Column("next_step", Text, nullable=False),
    Column("good_until", Utc, index=True),
    Column("said", Text, nullable=False, server_default=""),  # `GLANCE_SAID`, to tell a row that was altered
    Index("ix_glance_altered", "job", sqlite_where=text(GLANCE_ALTERED)),
)
"""`glances` says what they are."""

COMPUTED: Final = Table(
    "computed",
    METADATA,
    Column("n", Integer, primary_key=True),
    Column("kind", String, nullable=False),
    Column("name", String, nullable=False),
    Column("rests_on", String, nullable=False),  # what it was computed from
    Column("body", Text, nullable=False),
    Column("sha256", String(64), nullable=False),  # of all that, to tell a row that another program altered
    UniqueConstraint("kind", "name"),
)
"""`computed` says what they are."""

CACHES: Final = (GLANCE, COMPUTED)
"""The tables that can be thrown away: what they hold is computed again."""

SEAL: Final = Table(
    "seal",
    METADATA,
    Column("kind", String, primary_key=True),  # "journal", "file", or the name of a table
    Column("name", String, primary_key=True),
    Column("sha256", String(64), nullable=False),
    Column("n_entries", Integer, nullable=False),  # of a journal
)
"""`seals` says what they are."""

GUARDS: Final = {
    "entry_keeps_its_content": "CREATE TRIGGER entry_keeps_its_content BEFORE UPDATE ON entry"
    " BEGIN SELECT RAISE(ABORT, 'a journal entry is never changed'); END",
    "entry_stays": "CREATE TRIGGER entry_stays BEFORE DELETE ON entry"
    " BEGIN SELECT RAISE(ABORT, 'a journal entry is never deleted'); END",
    "entry_is_not_replaced": "CREATE TRIGGER entry_is_not_replaced BEFORE INSERT ON entry"
    " WHEN EXISTS (SELECT 1 FROM entry WHERE id = NEW.id OR n = NEW.n)"
    " BEGIN SELECT RAISE(ABORT, 'a journal entry is never replaced'); END",
}
"""The triggers of an SQLite database, by name: the only ones that belong there."""
