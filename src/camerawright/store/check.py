"""Everything in a workshop read once: what is missing, altered, moved or cannot be understood, and how to mend it.

Nothing here trusts what it reads: every column is read as its bytes.
"""

from collections.abc import Iterator, Mapping, Sequence, Set
from dataclasses import dataclass, replace
from pathlib import Path
from sqlite3 import Connection
from typing import Final

from camerawright.handbook.tolerances import read_profile
from camerawright.store import computed, glances, media, seals
from camerawright.store.check_database import (
    ACCEPT,
    RESTORE,
    orphans,
    put_back,
    strange,
    triggers,
    wrong_guards,
    wrong_indexes,
    wrong_tables,
)
from camerawright.store.check_journals import Journals
from camerawright.store.database import FILE_NAME, Database
from camerawright.store.tables import GUARDS
from camerawright.store.terms import FILE_NAME as TERMS
from camerawright.store.terms import read_terms
from camerawright.trouble import Refused, Trouble, Troubled
from camerawright.wording.numbers import counted

_RESTORE_OR_ACCEPT: Final = f"{RESTORE}; if you changed it yourself, accept it: {ACCEPT}"


@dataclass(frozen=True, kw_only=True)
class Checked:
    """What was found: what is damaged, which files for a person to edit are missing or cannot be understood, which were
    edited since they were sealed, and what else to know."""

    damage: tuple[Trouble, ...] = ()
    unusable: tuple[Trouble, ...] = ()
    edited: tuple[Trouble, ...] = ()
    remarks: tuple[Trouble, ...] = ()


def checked(database: Database, folder: Path, files: Sequence[str]) -> Checked:
    """Read a workshop once.

    Parameters
    ----------
    folder
        Of the media files.
    files
        The files that a person may edit, as seen from the workshop's folder.
    """
    try:
        database.revision()
        with database.reading() as connection:
            broken = [Trouble(where=str(database.path), what=words, mend=RESTORE) for words in database.damage()]
            broken = broken or list(wrong_tables(connection, database.path))
            if not broken:
                return _content(connection, folder, files)
    except Refused as refused:
        broken = list(refused.troubles)
    return Checked(damage=(*broken, *of_folder(folder)))  # what a damaged database says of its content is worth nothing


def _content(connection: Connection, folder: Path, files: Sequence[str]) -> Checked:
    """What a database that can be read says of itself and of the files."""
    journals, kept = Journals(connection), set(_kept(connection))
    damage = [
        *wrong_guards(connection),
        *wrong_indexes(connection),
        *orphans(connection),
        *_wrong_rows(connection),
        *journals.troubles(),
    ]
    damage += [*_never_kept(journals.wanted, kept, folder), *wrong_files(folder, kept)]
    return Checked(
        damage=tuple(damage),
        unusable=tuple(_unusable(connection, folder.parent, files)),
        edited=tuple(_edited(connection, folder.parent, files)),
        remarks=tuple(_remarks(connection, folder, kept)),
    )


def of_folder(folder: Path) -> tuple[Trouble, ...]:
    """What the media files alone say, where the database cannot be opened."""
    return tuple(wrong_files(folder))


def accept(connection: Connection, folder: Path, files: Sequence[str]) -> Iterator[str]:
    """Seal the directory and the files as they are, and put guards and caches back; what was accepted, in words.

    Of journals nothing is accepted: an entry that was altered stays so.
    """
    for trouble in (
        *wrong_guards(connection),
        *wrong_indexes(connection),
        *_wrong_rows(connection),
        *_unusable(connection, folder, files),
        *_edited(connection, folder, files),
    ):
        yield f"{trouble.where}: {trouble.what}"
    put_back(connection)
    for name in triggers(connection):
        connection.execute(f'DROP TRIGGER "{name}"')
    for sql in GUARDS.values():
        connection.execute(sql)
    for kind in (*seals.SEALED, seals.FILE):
        for name in seals.of_kind(connection, kind):
            seals.take_away(connection, kind, name)
    for kind in seals.SEALED:
        for name, sha256 in list(seals.rows(connection, kind)):
            seals.put(connection, kind, name, seals.Seal(sha256=sha256))
    seal_files(connection, folder, files)


def seal_files(connection: Connection, folder: Path, files: Sequence[str]) -> None:
    """Seal the files that a person may edit."""
    for name in files:
        try:
            sha256 = media.file_sha256(folder / name)
        except OSError as error:
            raise media.told(error, folder / name) from error
        seals.put(connection, seals.FILE, name, seals.Seal(sha256=sha256 or ""))


# -- the directory and the files that a person edits -------------------------------------------------------------------


def _wrong_rows(connection: Connection) -> Iterator[Trouble]:
    """Rows of the directory that are not as they were sealed."""
    for kind in seals.SEALED:
        sealed = {name: seal.sha256 for name, seal in seals.of_kind(connection, kind).items()}
        there = dict(seals.rows(connection, kind))
        counts = {name for name, seal in seals.of_kind(connection, kind).items() if seal.n_entries}
        for what, names in (
            ("another program changed its seal", counts),
            ("it is missing", sealed.keys() - there.keys()),
            ("another program put it in", there.keys() - sealed.keys()),
            ("another program changed it", {name for name in there if there[name] != sealed.get(name, there[name])}),
        ):
            for name in sorted(names):
                yield Trouble(where=_row_called(kind, name), what=what, mend=_RESTORE_OR_ACCEPT)


def _row_called(kind: str, name: str) -> str:
    """A row of the directory as a person calls it."""
    return {"job": f"job J{name}", "medium": f"what is known of the file {name}"}.get(kind, f"{kind} {name}")


def _edited(connection: Connection, folder: Path, files: Sequence[str]) -> Iterator[Trouble]:
    """Files that are not as they were sealed."""
    sealed = {name: seal.sha256 for name, seal in seals.of_kind(connection, seals.FILE).items()}
    for name in sorted(sealed.keys() | set(files)):
        try:
            now = media.file_sha256(folder / name)
        except OSError:
            continue  # it is told with what cannot be used
        if now is None:
            continue
        if name not in sealed:
            yield Trouble(where=name, what="it is new", mend=f"if you put it there, accept it: {ACCEPT}")
        elif now != sealed[name]:
            yield Trouble(where=name, what="it was changed since it was accepted", mend=_RESTORE_OR_ACCEPT)


def _unusable(connection: Connection, folder: Path, files: Sequence[str]) -> Iterator[Trouble]:
    """Files for a person to edit that are missing or cannot be understood: papers and verdicts rest on them."""
    for name in sorted(seals.of_kind(connection, seals.FILE).keys() | set(files)):
        path = folder / name
        try:
            media.check_plain(path)
            read_terms(path) if name == TERMS else read_profile(path)
        except FileNotFoundError:
            yield Trouble(where=name, what="it is missing", mend=_RESTORE_OR_ACCEPT)
        except OSError as error:
            yield replace(media.told(error, path).troubles[0], where=name)
        except Troubled as troubled:
            yield Trouble(where=name, what=f"it cannot be understood: {troubled.what}", mend=f"mend it, or {RESTORE}")


# -- the files ---------------------------------------------------------------------------------------------------------


def _kept(connection: Connection) -> Iterator[str]:
    """The files that the database knows of."""
    for row in connection.execute(f"SELECT {seals.as_bytes('sha256')} FROM medium"):
        if media.is_sha256(seals.as_text(row[0])):
            yield seals.as_text(row[0])


def _never_kept(wanted: Mapping[str, str], kept: Set[str], folder: Path) -> Iterator[Trouble]:
    """Files that entries refer to and nobody ever kept; `wanted` says for each which entry does."""
    for sha256, where in wanted.items():
        path = media.path_of(folder, sha256)
        if sha256 not in kept and not path.is_file():
            what = f"the file {sha256} that it refers to was never kept here"
            mend = f"copy it to {path} from where the entry was made, or {RESTORE}"
            yield Trouble(where=where, what=what, mend=mend)


def wrong_files(folder: Path, kept: Set[str] = frozenset()) -> Iterator[Trouble]:
    """Media files that are missing, altered, not to be read or in the wrong place; `kept` are those to be there."""
    there = set(media.files(folder))
    for path in sorted(there | {media.path_of(folder, sha256) for sha256 in kept}):
        if path not in there:
            yield Trouble(where=str(path), what="the file is missing", mend=RESTORE)
        elif not media.is_sha256(path.name) or path != media.path_of(folder, path.name):
            yield Trouble(where=str(path), what="the file does not belong here", mend="move it elsewhere")
        else:
            try:
                is_whole = media.file_sha256(path) == path.name
            except OSError as error:
                yield media.told(error, path).troubles[0]
            else:
                if not is_whole:
                    yield Trouble(where=str(path), what="the file was altered", mend=RESTORE)


def _odd_files(folder: Path) -> Iterator[Trouble]:
    """What lies among the media files and is none, and links to files elsewhere."""
    for path in sorted(folder.iterdir()) if folder.is_dir() else ():
        if not path.is_dir() and not path.name.startswith(media.PART):
            yield Trouble(where=str(path), what="the file does not belong here", mend="move it elsewhere")
    for path in media.files(folder):
        if path.is_symlink():
            what, mend = "it is a link, so what it holds may go or change elsewhere", "put the file itself there"
            yield Trouble(where=str(path), what=what, mend=mend)


# -- what else to know -------------------------------------------------------------------------------------------------


def _remarks(connection: Connection, folder: Path, kept: Set[str]) -> Iterator[Trouble]:
    """What is no damage, but should be known."""
    begun = seals.of_kind(connection, seals.BEGINNING).get("entries", seals.Seal()).n_entries
    if begun:
        what = f"{counted(begun, 'entry', 'entries')} came in before there were seals"
        yield Trouble(where="the journals", what=what, mend="whether one was changed before that nobody can tell")
    altered = [
        *(f"what lists show of J{n_job}" for n_job in glances.altered(connection)),
        *computed.altered(connection),
    ]
    if altered:
        mend = "nothing to do: it is computed again when it is asked for"
        yield Trouble(where=altered[0], what=f"another program changed it, one of {len(altered)} such", mend=mend)
    yield from strange(connection)
    yield from _odd_files(folder)
    unknown = [path for path in media.files(folder) if media.is_sha256(path.name) and path.name not in kept]
    if unknown:
        what = f"{counted(len(unknown), 'file')} that the database does not know, as {unknown[0].name}"
        mend = "a program that was cut off leaves one behind; many mean that an older database was put in its place"
        yield Trouble(where=str(folder), what=what, mend=mend)
    for path in sorted(folder.parent.glob(f"{FILE_NAME.split('.')[0]}*")):
        if path.name not in {FILE_NAME, f"{FILE_NAME}-wal", f"{FILE_NAME}-shm", f"{FILE_NAME}-journal"}:
            mend = "open it in a folder of its own as a workshop, import what only it has, then take it away"
            what = "there is a second database, as a program puts there that syncs folders"
            yield Trouble(where=str(path), what=what, mend=mend)
