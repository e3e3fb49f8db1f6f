"""The apertures that are engraved on a lens: read from a line of text, and written in one way everywhere."""

import re
from itertools import pairwise
from typing import Final

from camerawright.trouble import NotUnderstood

EXAMPLE: Final = "3.5, 4, 5.6, 8, 11, 16, 22"
USUAL: Final = (1.0, 1.4, 2.0, 2.8, 4.0, 5.6, 8.0, 11.0, 16.0, 22.0, 32.0, 45.0, 64.0)
"""The usual series, as engraved: from stop to stop half the light. [common practice]"""

_LEAST_APART: Final = 1.06  # as a ratio: a sixth of a stop. 3.5 and 4 are 0.39 stop apart
_WIDEST, _SMALLEST = 0.5, 256.0
_PARTED: Final = re.compile(r"[\s;]+")
_NUMBER: Final = re.compile(r"(?:[fF]\s*/?\s*)?(\d{1,3}(?:\.\d{1,2})?)")
_DECIMAL_COMMA: Final = re.compile(r"\d{1,2},\d")


def apertures_read(text: str) -> tuple[float, ...]:
    """Read a line of f-numbers, the widest aperture first.

    Parameters
    ----------
    text
        Numbers parted by commas or spaces, with or without "f/"; where spaces part them, a comma may be the decimal
        sign. Nothing gives no apertures.

    Raises
    ------
    NotUnderstood
        Something is no f-number, or they are in no order.
    """
    found = []
    for word in _words(text):
        number = _NUMBER.fullmatch(word)
        if number is None or not _WIDEST <= float(number[1]) <= _SMALLEST:
            raise NotUnderstood(f"{word!r} is no f-number", f"write the apertures like {EXAMPLE}", "apertures")
        found.append(float(number[1]))
    rising = found if not found or found[0] <= found[-1] else found[::-1]
    for wide, narrow in pairwise(rising):
        if narrow < wide * _LEAST_APART:
            raise NotUnderstood(
                f"{wide:g} and {narrow:g} do not follow each other",
                f"write each aperture once, from the widest to the smallest, like {EXAMPLE}",
                "apertures",
            )
    return tuple(rising)


def _words(text: str) -> list[str]:
    """One word for each aperture; a decimal comma becomes a point."""
    words: list[str] = []
    for piece in _PARTED.split(re.sub(r"[fF]\s*/\s*", "f/", text.strip())):
        part = piece.strip(",")
        bare = part.removeprefix("f/")
        words += [bare.replace(",", ".")] if _DECIMAL_COMMA.fullmatch(bare) else part.split(",")
    return [word for word in words if word]


def apertures_written(f_numbers: tuple[float, ...]) -> str:
    """The line that `apertures_read` reads as the same again: ``3.5, 4, 5.6``."""
    return ", ".join(f"{f_number:g}" for f_number in f_numbers)


def aperture_name(f_number: float) -> str:
    """An aperture as one says it: ``f/5.6``."""
    return f"f/{f_number:g}"


def usual_apertures(widest: float) -> tuple[float, ...]:
    """The widest aperture, and those of the usual series that are smaller."""
    return (widest, *(f_number for f_number in USUAL if f_number > widest * _LEAST_APART))
