"""A copy of a workshop, taken while it is in use, and the way back from one. A backup is itself a workshop folder."""

import os
import re
import shutil
import sys
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager, suppress
from dataclasses import replace
from pathlib import Path
from typing import Final

from camerawright.recordings.disk import flush_folder, make_folder
from camerawright.store import check, media
from camerawright.store.database import FILE_NAME as DATABASE
from camerawright.store.folder import MEDIA
from camerawright.store.workshop import Workshop, open_workshop
from camerawright.trouble import Refused, Trouble

_REMAINS: Final = re.compile(rf"{media.PART}[0-9a-f]{{32}}")


def back_up(
    workshop: Workshop, target: Path, progress: Callable[[int, int], None], *, takes_damage: bool = False
) -> tuple[Trouble, ...]:
    """Copy a workshop into a new folder, which has its name only once it is complete, on the disk, and read again.

    Others may go on writing. The database is copied first, as it is at one moment: whatever its entries refer to is
    on the disk by then. What an earlier backup beside it left half made is removed.

    Parameters
    ----------
    workshop
        The open workshop.
    target
        The folder to make. There must be nothing of that name.
    progress
        Called with the number of files copied and of all files.
    takes_damage
        Whether to copy what is damaged as it is.

    Returns
    -------
    tuple of Trouble
        What is damaged in the copy; nothing unless that was asked for.

    Raises
    ------
    Refused
        There is something of that name, the disk is full, a file may not be read or written, or something is damaged.
    """
    if target.exists():
        raise Refused("there is something of that name", "name a new folder", str(target))
    if target.resolve().is_relative_to(workshop.folder.resolve()):
        raise Refused("it is inside the workshop itself", "name a folder elsewhere", str(target))
    with _whole(target) as part:
        workshop.copy_database(part / DATABASE)
        names = [name for name in _names(workshop.folder) if not name.name.startswith(DATABASE)]
        n_files = 1 + len(names)
        progress(1, n_files)
        for n_done, name in enumerate(names, start=2):
            _copy(workshop.folder / name, part / name)
            progress(n_done, n_files)
        wrong = _problems(part, target, with_edited=True)
        if wrong and not takes_damage:
            mend = "mend that first; or copy it as it is with --damaged, and keep the backups from before"
            raise Refused(f"nothing was copied, since {_some(wrong)}", mend, str(workshop.folder))
    return wrong


def restore(source: Path, target: Path) -> None:
    """Copy a backup into a new or empty folder, once all of it is found whole.

    Raises
    ------
    Refused
        The source is no backup or is damaged, or the target is not empty or inside it. The target is then as it was.
    """
    if target.exists() and not (target.is_dir() and not any(target.iterdir())):
        raise Refused("it is not an empty folder", "name an empty or a new folder", str(target))
    if not (source / DATABASE).is_file():
        raise Refused("there is no backup in it", "name the folder that a backup was made into", str(source))
    if target.resolve().is_relative_to(source.resolve()):
        raise Refused("it is inside the backup itself", "name a folder elsewhere", str(target))
    with _whole(target) as part:
        for name in _names(source):
            _copy(source / name, part / name)
        wrong = _problems(part, source)
        if wrong:
            mend = "restore another backup, or name this folder itself as the workshop"
            raise Refused(f"it cannot be restored: {_some(wrong)}", mend, str(source))


def _problems(part: Path, shown: Path, *, with_edited: bool = False) -> tuple[Trouble, ...]:
    """What is wrong with a workshop folder, as if it were another already; `with_edited`: also with what is edited."""
    try:
        with open_workshop(part, to_read=True) as opened:
            found = opened.checked()
            wrong = (*found.damage, *(found.unusable if with_edited else ()))
    except Refused as refused:
        wrong = (*refused.troubles, *check.of_folder(part / MEDIA))
    return tuple(replace(each, where=each.where.replace(str(part), str(shown))) for each in wrong)


def _some(wrong: Sequence[Trouble]) -> str:
    """The first few troubles without their mends, and how many more there are."""
    more = f" and {len(wrong) - 3} more" if len(wrong) > 3 else ""
    return "; ".join(str(replace(each, mend="")) for each in wrong[:3]) + more


@contextmanager
def _whole(target: Path) -> Iterator[Path]:
    """A folder beside `target` that gets its name when the block is left without error, and vanishes otherwise."""
    part = media.fresh_part(target.parent)
    try:
        _sweep(target.parent)
        make_folder(part)
        with _held(part):
            yield part
        for folder in (part, *(path for path in part.rglob("*") if path.is_dir())):
            flush_folder(folder)
        if target.is_dir():
            target.rmdir()  # refused by the system where something came into it meanwhile
        part.rename(target)
        flush_folder(target.parent)
    except OSError as error:
        raise media.told(error, target) from error
    finally:
        shutil.rmtree(part, ignore_errors=True)


@contextmanager
def _held(part: Path) -> Iterator[None]:
    """While this lasts, `_sweep` of another program knows that the folder is being filled."""
    if sys.platform == "win32":
        yield  # what is open there cannot be removed
        return
    import fcntl  # noqa: PLC0415  (not there on Windows)

    descriptor = os.open(part, os.O_RDONLY)
    try:
        fcntl.flock(descriptor, fcntl.LOCK_EX | fcntl.LOCK_NB)
        yield
    finally:
        os.close(descriptor)


def _sweep(beside: Path) -> None:
    """Remove what backups that were cut off left beside this one: folders named like ours that nobody fills."""
    for part in beside.glob(f"{media.PART}*"):
        if _REMAINS.fullmatch(part.name) and part.is_dir() and not part.is_symlink():
            with suppress(OSError), _held(part):
                shutil.rmtree(part)


def _names(folder: Path) -> list[Path]:
    """The files in a workshop folder, relative to it, without what is half-written or only for running programs."""
    return sorted(
        path.relative_to(folder)
        for path in folder.rglob("*")
        if path.is_file() and not path.name.startswith(media.PART) and path.name != f"{DATABASE}-shm"
    )


def _copy(source: Path, target: Path) -> None:
    """Copy one file and wait until the disk has its bytes."""
    make_folder(target.parent)
    media.write(target, media.chunks(source))
