"""What was computed from journals, kept beside them, so that the next command or page need not read them again.

All of it can be computed again at any time: it has no seal, is in no export, and may be thrown away. Each row says what
it rests on; whoever asks compares that. A row that is not as it was kept is passed over.
"""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import islice
from typing import Any, Final

from sqlalchemy import Connection, Select, delete, insert, select

from camerawright.store import seals
from camerawright.store.tables import COMPUTED

_NAMES_A_QUERY: Final = 500
_COLUMNS: Final = ("kind", "name", "rests_on", "body", "sha256")


@dataclass(frozen=True, kw_only=True)
class Kept:
    """A result as text, and what it was computed from."""

    rests_on: str
    body: str


def recalled(connection: Connection, kind: str, names: Sequence[str]) -> dict[str, Kept]:
    """The results of a kind that are kept under these names."""
    found = {}
    left = iter(names)
    while some := list(islice(left, _NAMES_A_QUERY)):
        rows = connection.execute(_bytes_of_rows().where(COMPUTED.c.kind == kind, COMPUTED.c.name.in_(some)))
        found.update({name: kept for name, kept, is_whole in map(_read, rows) if is_whole})
    return found


def put(connection: Connection, kind: str, results: Mapping[str, Kept], *, most: int | None = None) -> None:
    """Keep results, each in the place of the one before; of a kind so many at most, the newest."""
    for name, kept in results.items():
        connection.execute(delete(COMPUTED).where(COMPUTED.c.kind == kind, COMPUTED.c.name == name))
        sha256 = _sha256(kind, name, kept)
        row = {"kind": kind, "name": name, "rests_on": kept.rests_on, "body": kept.body, "sha256": sha256}
        connection.execute(insert(COMPUTED).values(row))
    if most is not None:
        newest = select(COMPUTED.c.n).where(COMPUTED.c.kind == kind).order_by(COMPUTED.c.n.desc()).limit(most)
        connection.execute(delete(COMPUTED).where(COMPUTED.c.kind == kind, COMPUTED.c.n.not_in(newest)))


def altered(connection: Connection) -> Iterator[str]:
    """The rows that are not as they were kept, as a person calls them."""
    for row in connection.execute(_bytes_of_rows().execution_options(yield_per=1000)):
        name, _, is_whole = _read(row)
        if not is_whole:
            yield f"what was computed as {seals.as_text(row[0])} of {name}"


def _bytes_of_rows() -> Select[Any]:
    return select(*(seals.as_bytes(name).label(name) for name in _COLUMNS)).select_from(COMPUTED)


def _read(row: Iterable[bytes | None]) -> tuple[str, Kept, bool]:
    """The name of a row, what it holds, and whether nobody has changed it since."""
    kind, name, rests_on, body, sha256 = map(seals.as_text, row)
    kept = Kept(rests_on=rests_on, body=body)
    return name, kept, _sha256(kind, name, kept) == sha256


def _sha256(kind: str, name: str, kept: Kept) -> str:
    return seals.content_sha256(text.encode() for text in (kind, name, kept.rests_on, kept.body))
