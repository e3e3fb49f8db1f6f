"""Writing so that the disk really has it, even if the program is killed or the plug is pulled right after."""

import os
import sys
from contextlib import suppress
from pathlib import Path
from uuid import uuid4

from camerawright.trouble import Unreadable


def private(path: str, flags: int) -> int:
    """For `open`: a new file is for its owner alone, since it tells of other people's cameras."""
    return os.open(path, flags, 0o600)


def touch(path: Path) -> None:
    """Make an empty file for its owner alone, where there is none."""
    with open(path, "ab", opener=private):
        pass


def make_folder(folder: Path) -> None:
    """Make a folder, and those above it, for their owner alone where there are none; the name is on the disk then."""
    if folder.is_dir():
        return
    if not folder.parent.is_dir():
        make_folder(folder.parent)
    folder.mkdir(mode=0o700, exist_ok=True)
    flush_folder(folder.parent)


def flush(descriptor: int) -> None:
    """Wait until the disk has a file's bytes."""
    if sys.platform == "darwin":
        import fcntl  # noqa: PLC0415  (not there on Windows)

        fcntl.fcntl(descriptor, fcntl.F_FULLFSYNC)  # there fsync stops at the drive's cache
    else:
        os.fsync(descriptor)


def flush_folder(folder: Path) -> None:
    """Wait until the disk has the names in a folder; Windows offers no such call."""
    if sys.platform == "win32":
        return
    descriptor = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(descriptor)
    finally:
        os.close(descriptor)


def write(path: Path, data: bytes) -> None:
    """Write a small file whole; it is on the disk when this returns.

    Raises
    ------
    Unreadable
        The disk does not take it; then nothing is left of it.
    """
    part = path.with_name(f"{path.name}.{uuid4().hex}.new")
    try:
        with open(part, "xb", opener=private) as out:
            out.write(data)
            out.flush()
            flush(out.fileno())
        part.replace(path)
    except OSError as error:
        with suppress(OSError):
            part.unlink()
        raise Unreadable(str(error.strerror or error), "check the disk and the permissions", str(path)) from None
