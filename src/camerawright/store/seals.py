"""Seals: what is in the workshop, by hashes that each writer brings up to date, so that a stranger's change shows.

The entries of a job are a chain: each link is the hash of the link before, the job and the entry, in the order in
which they came in. So an entry that is taken out, moved, or changed with its own hash redone breaks the chain there.
The seal of a journal holds how many entries it has and its last link, which shows when the last ones are gone. A row of
the directory, and a file that a person may edit, has the hash of its content as its seal.

None of this is a secret: who does over every hash is not found. Keep backups where nobody else writes.
"""

import hashlib
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any, Final

from sqlalchemy import Connection, LargeBinary, Text, cast, column, delete, insert, select, table, update

SEALED: Final[Mapping[str, tuple[str, ...]]] = {
    "owner": ("n", "name", "contact"),
    "camera": (
        "n", "maker", "model", "serial", "variant", "maker_key", "model_key", "serial_key", "variant_key", "f_numbers",
    ),
    "job": (
        "n", "owner", "camera", "taken_in", "owners_words", "film_inside", "accessories", "condition", "wanted",
        "profile",
    ),
    "medium": ("sha256", "suffix", "n_bytes"),
}  # fmt: skip
"""The tables whose rows have a seal, and the columns under it, the row's name first. A migration that fills another
column leaves the seals as they are."""

JOURNAL: Final = "journal"
FILE: Final = "file"
BEGINNING: Final = "beginning"
"""The kind of the one seal that says how many entries were there before there were seals."""

_SEAL: Final = table("seal", column("kind"), column("name"), column("sha256"), column("n_entries"))
_NOTHING: Final = b"\xff"  # no text in UTF-8 has such a byte


@dataclass(frozen=True, kw_only=True)
class Seal:
    """One seal; `n_entries` is 0 for what is no journal."""

    sha256: str = ""
    n_entries: int = 0


def link(before: str, n_job: int, sha256: str) -> str:
    """The next link of a job's chain, after the link before ("" for none), for an entry's SHA-256."""
    return hashlib.sha256(f"{before}\n{n_job}\n{sha256}".encode()).hexdigest()


def as_bytes(name: str) -> Any:
    """A column as its bytes, which can be read whatever somebody wrote into it."""
    return cast(cast(column(name), Text), LargeBinary)


def rows(connection: Connection, name: str, key: Any = None) -> Iterator[tuple[str, str]]:
    """The rows of a sealed table, or the one of that name: each row's name and the hash of its content."""
    names = SEALED[name]
    found = select(*(as_bytes(each).label(each) for each in names)).select_from(table(name))
    for row in connection.execute(found if key is None else found.where(column(names[0]) == key)):
        yield as_text(row[0]), content_sha256(row)


def content_sha256(values: Iterable[bytes | None]) -> str:
    """One hash of several values, whichever bytes they hold."""
    digest = hashlib.sha256()
    for value in values:
        said = _NOTHING if value is None else value
        digest.update(f"{len(said)}\n".encode() + said)
    return digest.hexdigest()


def seal_row(connection: Connection, name: str, key: Any) -> None:
    """Seal a row of the directory as it is now."""
    for row, sha256 in rows(connection, name, key):
        put(connection, name, row, Seal(sha256=sha256))


def put(connection: Connection, kind: str, name: str, seal: Seal) -> None:
    """Put a seal in the place of the one before, if there is one."""
    values = {"sha256": seal.sha256, "n_entries": seal.n_entries}
    done = connection.execute(update(_SEAL).where(_SEAL.c.kind == kind, _SEAL.c.name == name).values(values))
    if not done.rowcount:
        connection.execute(insert(_SEAL).values(kind=kind, name=name, **values))


def take_away(connection: Connection, kind: str, name: str) -> None:
    """Forget a seal."""
    connection.execute(delete(_SEAL).where(_SEAL.c.kind == kind, _SEAL.c.name == name))


def of_journal(connection: Connection, n_job: int) -> Seal:
    """The seal of a job's journal; of one without entries, a blank one."""
    found = select(_SEAL.c.sha256, _SEAL.c.n_entries).where(_SEAL.c.kind == JOURNAL, _SEAL.c.name == str(n_job))
    row = connection.execute(found).one_or_none()
    return Seal(sha256=row.sha256, n_entries=row.n_entries) if row else Seal()


def of_kind(connection: Connection, kind: str) -> dict[str, Seal]:
    """All seals of a kind, by name."""
    found = select(*(as_bytes(each).label(each) for each in ("name", "sha256", "n_entries"))).select_from(table("seal"))
    return {
        as_text(row.name): Seal(sha256=as_text(row.sha256), n_entries=_number(row.n_entries))
        for row in connection.execute(found.where(column("kind") == kind))
    }


def as_text(value: bytes | None) -> str:
    """Bytes as text; where they are none, with signs that no hash forgives."""
    return (value or b"").decode(errors="replace")


def _number(value: bytes | None) -> int:
    """A whole number, or -1 for what is none."""
    return int(value) if value is not None and value.isdigit() and len(value) < 19 else -1
