"""Recordings and photos as files, each named by the SHA-256 of its bytes, and safe on the disk before it has a name."""

import errno
import hashlib
import os
import re
import stat
import time
from collections.abc import Iterable, Iterator
from contextlib import suppress
from pathlib import Path
from typing import Final

from camerawright.recordings.disk import flush, flush_folder, make_folder, private
from camerawright.trouble import Refused

PART: Final = "part-"  # how a file begins that has no final name yet
NO_PLAIN_FILE: Final = "it is no plain file, but a pipe, a device or a folder"
_CHUNK: Final = 1 << 20
_ABANDONED_S: Final = 24 * 3600.0
_SHA256: Final = re.compile(r"[0-9a-f]{64}")
_SUFFIX: Final = re.compile(r"(\.[a-z0-9]{1,10})?")


def is_sha256(text: str) -> bool:
    """Whether a text is a SHA-256 in lower-case hexadecimal."""
    return _SHA256.fullmatch(text) is not None


def path_of(media: Path, sha256: str) -> Path:
    """Where bytes of that hash are, or would be."""
    return media / sha256[:2] / sha256


def clean_suffix(suffix: str) -> str:
    """A file suffix as it is kept: lower case, with its dot, or nothing.

    Raises
    ------
    Refused
        It is none.
    """
    lowered = suffix.strip().lower()
    if not _SUFFIX.fullmatch(lowered):
        raise Refused(f"its suffix {suffix!r} is not one", "rename it to end like .wav, .flac or .jpg", "the file")
    return lowered


def put(media: Path, data: bytes | Path) -> tuple[str, int]:
    """Keep bytes, or a copy of a file; the same bytes are kept once.

    Returns
    -------
    tuple of str and int
        Their SHA-256 and their number.

    Raises
    ------
    Refused
        The file cannot be read, or the disk is full or may not be written. Nothing half-written gets a name.
    """
    part = fresh_part(media)
    try:
        sha256, n_bytes = write(part, (data,) if isinstance(data, bytes) else chunks(data))
        final = path_of(media, sha256)
        if file_sha256(final) != sha256:  # not there yet, or altered since
            make_folder(final.parent)
            part.replace(final)
        flush_folder(final.parent)
    except OSError as error:
        raise told(error, media) from error
    finally:
        discard(part)
    return sha256, n_bytes


def file_sha256(path: Path) -> str | None:
    """The SHA-256 of a file's bytes; None where there is no such file.

    Raises
    ------
    OSError
        It cannot be read, or is no plain file: a pipe would never answer, and a device never end.
    """
    try:
        check_plain(path)
        with path.open("rb") as file:
            return hashlib.file_digest(file, "sha256").hexdigest()
    except FileNotFoundError:
        return None


def check_plain(path: Path) -> None:
    """Refuse to open what is there and is no plain file, nor a link to one.

    Raises
    ------
    OSError
        It is a pipe, a socket, a device or a folder; or there is nothing.
    """
    if not stat.S_ISREG(path.stat().st_mode):
        raise OSError(errno.EINVAL, NO_PLAIN_FILE, str(path))


def files(media: Path) -> Iterator[Path]:
    """All files that have their final name, by name."""
    for folder in sorted(media.iterdir()) if media.is_dir() else ():
        if folder.is_dir():
            yield from sorted(path for path in folder.iterdir() if not path.name.startswith("."))


def sweep(media: Path) -> None:
    """Remove what killed writers left behind, once it is a day old: a younger one may still be written."""
    for part in media.glob(f"{PART}*"):
        with suppress(OSError):  # another process was quicker, or still has it open
            if time.time() - part.stat().st_mtime > _ABANDONED_S:
                part.unlink()


def fresh_part(folder: Path) -> Path:
    """A name in `folder` that no other writer has."""
    return folder / f"{PART}{os.urandom(16).hex()}"


def discard(part: Path) -> None:
    """Remove what was not given its final name; where that fails, `sweep` will."""
    with suppress(OSError):
        part.unlink(missing_ok=True)


def write(path: Path, chunks: Iterable[bytes]) -> tuple[str, int]:
    """Write a new file and wait until the disk has it; return its SHA-256 and number of bytes."""
    digest = hashlib.sha256()
    n_bytes = 0
    with open(path, "xb", opener=private) as file:
        for chunk in chunks:
            digest.update(chunk)
            n_bytes += len(chunk)
            file.write(chunk)
        file.flush()
        flush(file.fileno())
    return digest.hexdigest(), n_bytes


def chunks(path: Path) -> Iterator[bytes]:
    """A file's bytes, in pieces that fit in memory."""
    with path.open("rb") as file:
        while chunk := file.read(_CHUNK):
            yield chunk


def told(error: OSError, place: Path) -> Refused:
    """What the operating system's error means to the user."""
    at = Path(error.filename) if isinstance(error.filename, str) else place
    where = str(place if at.name.startswith(PART) else at)
    if error.errno in (errno.ENOSPC, errno.EDQUOT, errno.EFBIG):
        return Refused("the disk is full, nothing was written", "free some space and do it again", str(place))
    if error.errno in (errno.EACCES, errno.EPERM, errno.EROFS):
        return Refused("it may not be read or written", "give this user leave, or take another folder", where)
    if error.strerror == NO_PLAIN_FILE:
        return Refused(NO_PLAIN_FILE, "take it away, and restore the file from a backup", where)
    return Refused(error.strerror or str(error), "see that it is there and can be read and written", where)
