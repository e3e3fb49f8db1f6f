"""Everything in a workshop read once: what is missing, altered or cannot be understood, in words."""

from collections.abc import Iterator
from pathlib import Path

from pydantic import ValidationError
from sqlalchemy import select

from camerawright.journal.entries import Corrected, Entry
from camerawright.store import media
from camerawright.store.database import Database
from camerawright.store.journal import body_sha256, parsed
from camerawright.store.tables import ENTRY, MEDIUM


def problems(database: Database, folder: Path) -> Iterator[str]:
    """What is wrong with a database and its folder of media files."""
    damage = list(database.damage())
    if damage:
        yield from (f"{database.path}: {words}" for words in damage)
        return  # what a damaged database says of its content is worth nothing
    with database.reading() as connection:
        rows = connection.execute(select(ENTRY.c.job, ENTRY.c.id, ENTRY.c.body, ENTRY.c.sha256).order_by(ENTRY.c.n))
        entries = [tuple(row) for row in rows]
        kept = set(connection.scalars(select(MEDIUM.c.sha256)))
    wanted: dict[str, str] = {}  # what entries refer to, and who does
    for n_job, entry_id, body, sha256 in entries:
        name = f"entry {entry_id} of J{n_job}"
        entry = _understood(body)
        if body_sha256(body) != sha256:
            yield f"{name}: its content was altered"
        elif entry is None or entry.id != entry_id:
            yield f"{name}: it cannot be understood"
        else:
            wanted.update((medium, name) for medium in _media_of(entry))
    yield from _wrong_files(folder, kept)
    for medium, name in wanted.items():
        if medium not in kept and not media.path_of(folder, medium).is_file():
            yield f"{name}: the file {medium} that it refers to was never kept here"


def _understood(body: str) -> Entry | None:
    """The entry in a row's body, if it is one."""
    try:
        return parsed(body)
    except ValidationError:
        return None


def _media_of(entry: Entry) -> Iterator[str]:
    """The media files that an entry refers to."""
    for said in (entry, entry.becomes) if isinstance(entry, Corrected) else (entry,):
        for name in ("photo", "recording"):
            sha256 = getattr(said, name, None)
            if sha256 is not None:
                yield sha256


def _wrong_files(folder: Path, kept: set[str]) -> Iterator[str]:
    """Media files that are missing, altered or in the wrong place."""
    there = set(media.files(folder))
    for path in sorted(there | {media.path_of(folder, sha256) for sha256 in kept}):
        if path not in there:
            yield f"{path}: the file is missing"
        elif not media.is_sha256(path.name) or path != media.path_of(folder, path.name):
            yield f"{path}: the file does not belong here"
        elif media.file_sha256(path) != path.name:
            yield f"{path}: the file was altered"
