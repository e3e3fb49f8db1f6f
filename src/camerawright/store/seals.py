"""Seals: what is in the workshop, by hashes that each writer brings up to date, so that a stranger's change shows.

The entries of a job are a chain: each link is the hash of the link before, the job and the entry, in the order in
which they came in. So an entry that is taken out, moved, or changed with its own hash redone breaks the chain there.
The seal of a journal holds how many entries it has and its last link, which shows when the last ones are gone. A row of
the directory, and a file that a person may edit, has the hash of its content as its seal.

None of this is a secret: who does over every hash is not found, nor who takes out the newest entry and does over the
seal of its journal. Keep backups where nobody else writes.
"""

import hashlib
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from sqlite3 import Connection
from typing import Final

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

_NOTHING: Final = b"\xff"  # no text in UTF-8 has such a byte


@dataclass(frozen=True, kw_only=True)
class Seal:
    """One seal; `n_entries` is 0 for what is no journal."""

    sha256: str = ""
    n_entries: int = 0


def link(before: str, n_job: int, sha256: str) -> str:
    """The next link of a job's chain, after the link before ("" for none), for an entry's SHA-256."""
    return hashlib.sha256(f"{before}\n{n_job}\n{sha256}".encode()).hexdigest()


def as_bytes(*names: str) -> str:
    """What selects columns as their bytes, which can be read whatever somebody wrote into them."""
    return ", ".join(f"CAST(CAST({name} AS TEXT) AS BLOB) AS {name}" for name in names)


def rows(connection: Connection, kind: str, key: int | str | None = None) -> Iterator[tuple[str, str]]:
    """The rows of a sealed table, or the one of that name: each row's name and the hash of its content."""
    names = SEALED[kind]
    where = "" if key is None else f" WHERE {kind}.{names[0]} = :key"
    for row in connection.execute(f"SELECT {as_bytes(*names)} FROM {kind}{where}", {"key": key}):
        yield as_text(row[0]), content_sha256(row)


def content_sha256(values: Iterable[bytes | None]) -> str:
    """One hash of several values, whichever bytes they hold."""
    digest = hashlib.sha256()
    for value in values:
        said = _NOTHING if value is None else value
        digest.update(f"{len(said)}\n".encode() + said)
    return digest.hexdigest()


def seal_row(connection: Connection, kind: str, key: int | str) -> None:
    """Seal a row of the directory as it is now."""
    for name, sha256 in list(rows(connection, kind, key)):
        put(connection, kind, name, Seal(sha256=sha256))


def put(connection: Connection, kind: str, name: str, seal: Seal) -> None:
    """Put a seal in the place of the one before, if there is one."""
    connection.execute(
        "INSERT INTO seal (kind, name, sha256, n_entries) VALUES (:kind, :name, :sha256, :n_entries)"
        " ON CONFLICT (kind, name) DO UPDATE SET sha256 = excluded.sha256, n_entries = excluded.n_entries",
        {"kind": kind, "name": name, "sha256": seal.sha256, "n_entries": seal.n_entries},
    )


def take_away(connection: Connection, kind: str, name: str) -> None:
    """Forget a seal."""
    connection.execute("DELETE FROM seal WHERE kind = :kind AND name = :name", {"kind": kind, "name": name})


def of_journal(connection: Connection, n_job: int) -> Seal:
    """The seal of a job's journal; of one without entries, a blank one."""
    found = "SELECT sha256, n_entries FROM seal WHERE kind = :kind AND name = :job"
    row = connection.execute(found, {"kind": JOURNAL, "job": str(n_job)}).fetchone()
    return Seal(sha256=row[0], n_entries=row[1]) if row else Seal()


def of_kind(connection: Connection, kind: str) -> dict[str, Seal]:
    """All seals of a kind, by name."""
    found = f"SELECT {as_bytes('name', 'sha256', 'n_entries')} FROM seal WHERE kind = :kind"
    return {
        as_text(name): Seal(sha256=as_text(sha256), n_entries=_number(n_entries))
        for name, sha256, n_entries in connection.execute(found, {"kind": kind})
    }


def as_text(value: bytes | None) -> str:
    """Bytes as text; where they are none, with signs that no hash forgives."""
    return (value or b"").decode(errors="replace")


def _number(value: bytes | None) -> int:
    """A whole number, or -1 for what is none."""
    return int(value) if value is not None and value.isdigit() and len(value) < 19 else -1
