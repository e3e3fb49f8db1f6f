"""Forms and files in, streamed to disk and counted, so that nothing larger than was agreed gets in."""

import logging
from collections.abc import AsyncIterator, Mapping
from contextlib import asynccontextmanager
from dataclasses import dataclass
from typing import Final

from python_multipart.multipart import parse_options_header
from starlette.datastructures import FormData, UploadFile
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.types import Message, Receive

logging.getLogger("python_multipart").setLevel(logging.CRITICAL)  # what is wrong with a form, its page says

MB: Final = 1_000_000
FORM_MAX_BYTES: Final = 42 * MB
"""A form with one photo of up to 40 MB."""
RECORDING_MAX_BYTES: Final = 1500 * MB
"""A minute of slow motion at 200 Mbit/s, as telephones write 4K at 120 frames a second; ten firings take half of it.
Of stereo sound at 96 kHz and 24 bits it is over forty minutes."""
FIELD_MAX_BYTES: Final = 1 * MB
_DIGITS: Final = 15
"""Of the size of a request: Python reads no number of thousands of digits."""
_UTF_8: Final = frozenset({b"utf-8", b"utf8"})
MAX_FILES: Final = 8
"""Browsers send an empty file for each that was not chosen."""


@dataclass(frozen=True, kw_only=True)
class Photo:
    """A photo as it came in, not looked at yet."""

    name: str
    data: bytes


@asynccontextmanager
async def posted(request: Request, *, max_bytes: int, max_files: int = MAX_FILES) -> AsyncIterator[FormData]:
    """The form of a request; its files are closed, and gone from the disk, at the end.

    Raises
    ------
    HTTPException
        413 if it is larger than `max_bytes`, said before it is read where the browser tells its size.
    """
    told = request.headers.get("content-length", "")
    if told.isdecimal() and (len(told) > _DIGITS or int(told) > max_bytes):
        raise _too_large(max_bytes)
    _, options = parse_options_header(request.headers.get("content-type"))
    if options.get(b"charset", b"utf-8").lower() not in _UTF_8:  # others can spell what is no text
        raise HTTPException(415, "The form is not in UTF-8: nothing was entered. Use the workshop's own page.")
    form = await Request(request.scope, _counted(request.receive, max_bytes)).form(
        max_files=max_files, max_fields=200, max_part_size=FIELD_MAX_BYTES
    )
    try:
        yield form
    finally:
        await form.close()


def texts(form: FormData) -> Mapping[str, str]:
    """The text fields; of several with one name (boxes ticked), all, separated by commas."""
    found: dict[str, list[str]] = {}
    for name, value in form.multi_items():
        if isinstance(value, str):
            found.setdefault(name, []).append(value.replace("\r\n", "\n"))
    return {name: ", ".join(values) for name, values in found.items()}


async def photo_in(form: FormData) -> Photo | None:
    """The photo of a form, if one was chosen."""
    file = form.get("photo_file")
    if not isinstance(file, UploadFile) or not file.filename:
        return None
    return Photo(name=file.filename, data=await file.read())


def _counted(receive: Receive, max_bytes: int) -> Receive:
    """The same, until too much has come in."""
    n_bytes = 0

    async def receive_counted() -> Message:
        nonlocal n_bytes
        message = await receive()
        n_bytes += len(message.get("body", b""))
        if n_bytes > max_bytes:
            raise _too_large(max_bytes)
        return message

    return receive_counted


def _too_large(max_bytes: int) -> HTTPException:
    return HTTPException(413, f"That is more than {max_bytes // MB} MB: send a shorter recording or a smaller photo.")
