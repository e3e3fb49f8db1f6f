"""What lies in a workshop's folder, and how it is laid out."""

from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path
from typing import Final

from camerawright.recordings.disk import flush_folder, make_folder
from camerawright.store import media, terms
from camerawright.store.database import FILE_NAME as DATABASE
from camerawright.store.database import is_ours, lay_down
from camerawright.trouble import Refused

MEDIA: Final = "media"
PROFILES: Final = "profiles"
OURS: Final = frozenset({DATABASE, f"{DATABASE}-wal", f"{DATABASE}-shm", MEDIA, PROFILES, terms.FILE_NAME})


def lay_out(folder: Path) -> None:
    """Put into a new or empty folder what belongs to a workshop; where there is one already, what it lacks.

    Raises
    ------
    Refused
        The folder holds something else.
    OSError
        It may not be written, or the disk is full.
    """
    if folder.exists():
        check_folder(folder)
        _check_free(folder)
    for made in (folder, folder / MEDIA, folder / PROFILES):
        make_folder(made)
    _write_once(folder / terms.FILE_NAME, terms.BLANK.encode())
    for name, text in _given_profiles():
        _write_once(folder / PROFILES / name, text)
    database = folder / DATABASE
    if not database.exists() or database.stat().st_size == 0:
        lay_down(database)


def keep_private(folder: Path) -> None:
    """Let nobody but their owner read the folder and the files in it that the program writes or a person edits."""
    for path in (folder, *(folder / name for name in OURS), *(folder / PROFILES).glob("*")):
        with suppress(OSError):  # another user's, or a disk without permissions
            path.chmod(0o700 if path.is_dir() else 0o600)


def check_folder(folder: Path) -> None:
    """Refuse what is no folder, and a database in it that is not ours or no plain file."""
    mend = "name an empty or a new folder"
    if not folder.is_dir():
        raise Refused("it is not a folder", mend, str(folder))
    database = folder / DATABASE
    for name in (DATABASE, f"{DATABASE}-wal", f"{DATABASE}-shm", f"{DATABASE}-journal"):
        if (folder / name).exists():
            media.check_plain(folder / name)  # SQLite would wait for a pipe for ever
    if database.exists() and database.stat().st_size > 0 and not is_ours(database):
        raise Refused("it is not a workshop's database", mend, str(database))


def _check_free(folder: Path) -> None:
    """Refuse a folder that holds something else and no workshop."""
    if (folder / DATABASE).exists():
        return
    strange = sorted(path.name for path in folder.iterdir() if path.name not in OURS and not _is_part(path))
    if strange:
        more = f" and {len(strange) - 3} more" if len(strange) > 3 else ""
        found = f"it holds something else ({', '.join(strange[:3])}{more})"
        raise Refused(found, "name an empty or a new folder", str(folder))


def _is_part(path: Path) -> bool:
    """Whether a killed writer left that behind."""
    return path.name.startswith(media.PART)


def _given_profiles() -> Iterator[tuple[str, bytes]]:
    """The tolerance profiles that come with the program: file names and contents."""
    from importlib.resources import files as package_files  # noqa: PLC0415  (only to make a workshop)

    given = package_files("camerawright.handbook") / PROFILES
    if given.is_dir():
        for profile in given.iterdir():
            if profile.name.endswith(".toml"):
                yield profile.name, profile.read_bytes()


def _write_once(path: Path, text: bytes) -> None:
    """Write a file that is not there yet; what somebody edited stays."""
    if path.exists():
        return
    part = media.fresh_part(path.parent)
    try:
        media.write(part, (text,))
        part.replace(path)
        flush_folder(path.parent)
    finally:
        media.discard(part)
