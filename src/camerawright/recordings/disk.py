"""Until the disk has it: what a killed program or a lost plug must not take back."""

import os
import sys
from contextlib import suppress
from pathlib import Path
from uuid import uuid4

from camerawright.trouble import Unreadable


def flush(descriptor: int) -> None:
    """Wait until the disk has a file's bytes."""
    if sys.platform == "darwin":
        import fcntl  # noqa: PLC0415  (not there on Windows)

        fcntl.fcntl(descriptor, fcntl.F_FULLFSYNC)  # fsync stops at the drive's cache there
    else:
        os.fsync(descriptor)


def flush_folder(folder: Path) -> None:
    """Wait until the disk has a folder's names; Windows offers no such call."""
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
        The disk does not take it; nothing is left of it.
    """
    part = path.with_name(f"{path.name}.{uuid4().hex}.new")
    try:
        with part.open("xb") as out:
            out.write(data)
            out.flush()
            flush(out.fileno())
        part.replace(path)
    except OSError as error:
        with suppress(OSError):
            part.unlink()
        raise Unreadable(str(error.strerror or error), "check the disk and the permissions", str(path)) from None
