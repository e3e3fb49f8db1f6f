"""Only the pixels of a photo: without place, time, owner, comment, thumbnail or a second picture behind it."""

import struct
from collections.abc import Iterator
from io import BytesIO
from typing import Final

from PIL import Image

from camerawright.recordings.stills import Still, opened
from camerawright.trouble import Unreadable

# Markers of [itu-t-81] table B.1, and where APP14 tells a decoder the colours of the samples.
_START, _END, _SCAN, _COMMENT = 0xD8, 0xD9, 0xDA, 0xFE
_RESTARTS: Final = range(0xD0, 0xD8)
_BARE: Final = frozenset({0x01, _START, *_RESTARTS})
_APPLICATION: Final = range(0xE0, 0xF0)
_JFIF, _EXIF, _ADOBE = 0xE0, 0xE1, 0xEE
_PLAIN_JFIF: Final = b"JFIF\0" + bytes((1, 2, 0, 0, 1, 0, 1, 0, 0))  # version 1.2, square pixels, no thumbnail
_ORIENTATION: Final = 0x0112


def pixels_alone(data: bytes, still: Still) -> bytes:
    """The same picture, in the same format, without anything that was written beside it.

    The pixels are not coded anew where that would change them. Which side is up stays.

    Raises
    ------
    Unreadable
        It is damaged.
    """
    if still.suffix == ".jpg":
        return _jpeg(data)
    with opened(data, "the photo") as image:
        image.load()  # which puts a TIFF upright, and takes its orientation away
        turned = image.getexif().get(_ORIENTATION, 1)
        bare = Image.frombytes(image.mode, image.size, image.tobytes())
        if image.mode == "P" and (palette := image.getpalette("RGBA" if "transparency" in image.info else "RGB")):
            bare.putpalette(palette, "RGBA" if "transparency" in image.info else "RGB")
        kind = image.format
    exif = Image.Exif()
    if turned != 1:
        exif[_ORIENTATION] = turned
    out = BytesIO()
    bare.save(out, kind, exif=exif.tobytes() if turned != 1 else b"", **({"lossless": True} if kind == "WEBP" else {}))
    return out.getvalue()


def _jpeg(data: bytes) -> bytes:
    """The segments of a JPEG file that its pixels need; what stands behind its end is left out."""
    with opened(data, "the photo") as image:
        turned = image.getexif().get(_ORIENTATION, 1)
    out = [bytes((0xFF, _START))]
    for marker, body in _segments(data):
        if marker == _JFIF and body.startswith(b"JFIF\0"):
            out.append(_segment(_JFIF, _PLAIN_JFIF))
        elif marker not in _APPLICATION and marker != _COMMENT:
            out.append(body if marker in _BARE else _segment(marker, body))
        elif marker == _ADOBE and body.startswith(b"Adobe"):
            out.append(_segment(_ADOBE, body))
    if turned != 1:
        out.insert(2 if out[1][1] == _JFIF else 1, _segment(_EXIF, _which_side_is_up(turned)))
    return b"".join((*out, bytes((0xFF, _END))))


def _segment(marker: int, body: bytes) -> bytes:
    """A segment with its marker; of a scan, the length counts its header alone, which says its own length."""
    if marker == _SCAN:
        return bytes((0xFF, marker)) + body
    return bytes((0xFF, marker)) + struct.pack(">H", len(body) + 2) + body


def _which_side_is_up(turned: int) -> bytes:
    """An Exif block with the orientation alone."""
    exif = Image.Exif()
    exif[_ORIENTATION] = turned
    block = exif.tobytes()
    return block if block.startswith(b"Exif\0\0") else b"Exif\0\0" + block


def _segments(data: bytes) -> Iterator[tuple[int, bytes]]:
    """The markers of a JPEG file up to its end, each with what belongs to it.

    References
    ----------
    [itu-t-81] B.1.1: a segment is its marker, the length of what follows with the length itself, and that. Coded data
    follow a scan's header; a 0xFF in them is followed by 0 or by a restart marker.
    """
    i = 2
    try:
        while True:
            if data[i] != 0xFF:
                raise Unreadable("it is damaged", "take it again", "the photo")
            while data[i] == 0xFF:
                i += 1
            marker, i = data[i], i + 1
            if marker == _END:
                return
            if marker in _BARE:
                yield marker, bytes((0xFF, marker))
                continue
            (length,) = struct.unpack_from(">H", data, i)
            end = i + length
            if marker == _SCAN:
                end = _end_of_scan(data, end)
                yield marker, data[i:end]
            else:
                yield marker, data[i + 2 : end]
            i = end
    except (IndexError, struct.error):
        return  # a camera may leave the end out, and decoders take that


def _end_of_scan(data: bytes, i: int) -> int:
    """Where the coded data from `i` on end."""
    while (i := data.find(b"\xff", i)) >= 0 and i + 1 < len(data):
        if data[i + 1] and data[i + 1] not in _RESTARTS and data[i + 1] != 0xFF:
            return i
        i += 1 if data[i + 1] == 0xFF else 2
    return len(data)
