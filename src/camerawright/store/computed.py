"""What was computed from journals, kept beside them, so that the next command or page need not read them again.

All of it can be computed again at any time: it has no seal, is in no export, and may be thrown away. Each row says what
it rests on; whoever asks compares that. A row that is not as it was kept is passed over.
"""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from sqlite3 import Connection
from typing import Final

from camerawright.store import seals
from camerawright.store.columns import list_text

_BYTES: Final = f"SELECT {seals.as_bytes('kind', 'name', 'rests_on', 'body', 'sha256')} FROM computed"


@dataclass(frozen=True, kw_only=True)
class Kept:
    """A result as text, and what it was computed from."""

    rests_on: str
    body: str


def recalled(connection: Connection, kind: str, names: Sequence[str]) -> dict[str, Kept]:
    """The results of a kind that are kept under these names."""
    found = f"{_BYTES} WHERE computed.kind = :kind AND computed.name IN (SELECT value FROM json_each(:names))"
    rows = connection.execute(found, {"kind": kind, "names": list_text(names)})
    return {name: kept for name, kept, is_whole in map(_read, rows) if is_whole}


def put(connection: Connection, kind: str, results: Mapping[str, Kept], *, most: int | None = None) -> None:
    """Keep results, each in the place of the one before; of a kind so many at most, the newest."""
    for name, kept in results.items():
        row = {"kind": kind, "name": name, "rests_on": kept.rests_on, "body": kept.body}
        connection.execute("DELETE FROM computed WHERE kind = :kind AND name = :name", {"kind": kind, "name": name})
        connection.execute(
            "INSERT INTO computed (kind, name, rests_on, body, sha256)"
            " VALUES (:kind, :name, :rests_on, :body, :sha256)",
            {**row, "sha256": _sha256(kind, name, kept)},
        )
    if most is not None:
        connection.execute(
            "DELETE FROM computed WHERE kind = :kind"
            " AND n NOT IN (SELECT n FROM computed WHERE kind = :kind ORDER BY n DESC LIMIT :most)",
            {"kind": kind, "most": most},
        )


def altered(connection: Connection) -> Iterator[str]:
    """The rows that are not as they were kept, as a person calls them."""
    for row in connection.execute(_BYTES):
        name, _, is_whole = _read(row)
        if not is_whole:
            yield f"what was computed as {seals.as_text(row[0])} of {name}"


def _read(row: Iterable[bytes | None]) -> tuple[str, Kept, bool]:
    """The name of a row, what it holds, and whether nobody has changed it since."""
    kind, name, rests_on, body, sha256 = map(seals.as_text, row)
    kept = Kept(rests_on=rests_on, body=body)
    return name, kept, _sha256(kind, name, kept) == sha256


def _sha256(kind: str, name: str, kept: Kept) -> str:
    return seals.content_sha256(text.encode() for text in (kind, name, kept.rests_on, kept.body))
