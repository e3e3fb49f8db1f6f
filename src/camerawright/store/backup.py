"""A copy of a workshop, taken while it is in use, and the way back from one. A backup is itself a workshop folder."""

import shutil
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

from camerawright.recordings.disk import flush_folder
from camerawright.store import media
from camerawright.store.database import FILE_NAME as DATABASE
from camerawright.store.workshop import Workshop, open_workshop
from camerawright.trouble import Refused


def back_up(workshop: Workshop, target: Path, progress: Callable[[int, int], None]) -> None:
    """Copy a workshop into a new folder, which has its name only once it is complete and on the disk.

    Others may go on writing. The database is copied first, as it is at one moment: whatever its entries refer to is
    on the disk by then. Files are copied as they are; `Workshop.verify` says which are damaged.

    Parameters
    ----------
    workshop
        The open workshop.
    target
        The folder to make. There must be nothing of that name.
    progress
        Called with the number of files copied and of all files.

    Raises
    ------
    Refused
        There is something of that name, the disk is full, or a file may not be read or written.
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


def restore(source: Path, target: Path) -> None:
    """Copy a backup into a new or empty folder, once all of it is found whole.

    Raises
    ------
    Refused
        The source is no backup or is damaged, or the target is not empty. The target is then as it was.
    """
    if target.exists() and not (target.is_dir() and not any(target.iterdir())):
        raise Refused("it is not an empty folder", "name an empty or a new folder", str(target))
    if not (source / DATABASE).is_file():
        raise Refused("there is no backup in it", "name the folder that a backup was made into", str(source))
    with _whole(target) as part:
        for name in _names(source):
            _copy(source / name, part / name)
        wrong = _problems(part)
        if wrong:
            more = f" and {len(wrong) - 3} more" if len(wrong) > 3 else ""
            raise Refused(
                f"it cannot be restored: {'; '.join(wrong[:3])}{more}".replace(str(part), str(source)),
                "restore another backup, or name this folder itself as the workshop",
                str(source),
            )


def _problems(folder: Path) -> tuple[str, ...]:
    """What is wrong with a workshop folder, in words."""
    try:
        with open_workshop(folder) as opened:
            return opened.verify()
    except Refused as refused:
        return (str(refused),)


@contextmanager
def _whole(target: Path) -> Iterator[Path]:
    """A folder beside `target` that gets its name when the block is left without error, and vanishes otherwise."""
    part = media.fresh_part(target.parent)
    try:
        media.make_folder(target.parent)
        part.mkdir()
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


def _names(folder: Path) -> list[Path]:
    """The files in a workshop folder, relative to it, without what is half-written or only for running programs."""
    return sorted(
        path.relative_to(folder)
        for path in folder.rglob("*")
        if path.is_file() and not path.name.startswith(media.PART) and path.name != f"{DATABASE}-shm"
    )


def _copy(source: Path, target: Path) -> None:
    """Copy one file and wait until the disk has its bytes."""
    target.parent.mkdir(parents=True, exist_ok=True)
    media.write(target, media.chunks(source))
