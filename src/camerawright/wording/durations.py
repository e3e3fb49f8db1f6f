"""How long something takes, as it is typed or said: ``90 min``, ``1,5 h``, ``an hour and a half``, ``3 weeks``."""

import re
from fractions import Fraction
from functools import cache
from typing import Final

from camerawright.wording.spoken import NUMBER, value

_MINUTES: Final = {
    r"min(?:ute)?s?": 1,
    r"h|hrs?|hours?": 60,
    r"d|days?": 24 * 60,
    r"w|wks?|weeks?": 7 * 24 * 60,
    r"fortnights?": 14 * 24 * 60,
    r"months?": 30 * 24 * 60,
}
_HOUR: Final = 60
_MOST: Final = 100 * 366 * 24 * 60  # more than a hundred years is a slip
_UNIT: Final = "|".join(_MINUTES)
_NUMBER: Final = rf"(?:{NUMBER}|an?\b)"
_PART_MORE: Final = re.compile(r"\s+and\s+(?:an?\s+)?(half|quarter|three[\s-]quarters)$", re.I)
_MINUTES_MORE: Final = re.compile(r"\s*(\d{1,2})(?:\s*min\w*)?$", re.I)
_CLOCK: Final = re.compile(r"(\d{1,3}):([0-5]\d)(?:\s*h(?:ours?|rs?)?)?", re.I)
_BEFORE: Final = re.compile(r"^(?:for|in|about|after|another)\s+|\s+(?:from\s+now|more|time)$", re.I)


def minutes_said(text: str) -> Fraction | None:
    """How many minutes a text says, exactly; None if it says no duration. A month is 30 days.

    Parameters
    ----------
    text
        Numbers with their units, the largest first; a part of the last unit may follow: ``two hours and a quarter``.
    """
    said = _BEFORE.sub("", _BEFORE.sub("", " ".join(text.split()).casefold()))
    i, total, last = 0, Fraction(0), 0
    while i < len(said):
        if last and (part := _PART_MORE.fullmatch(said, i)):
            return total + (value(part[1]) or 0) * last
        if last == _HOUR and (minutes := _MINUTES_MORE.fullmatch(said, i)):
            return total + int(minutes[1]) if int(minutes[1]) < last else None
        piece = _piece().match(said, i)
        number = _number(piece) if piece else None
        if piece is None or number is None:
            return None
        unit = _in_minutes(piece[2] or piece[3] or piece[5] or piece[6])
        if last and unit >= last:
            return None
        total, last, i = total + number * unit, unit, piece.end()
    return total if last and total <= _MOST else None


def minutes_by_clock(text: str) -> Fraction | None:
    """How many minutes ``1:30`` is, as hours and minutes; None if it is not written so."""
    found = _CLOCK.fullmatch(text.strip())
    return Fraction(int(found[1]) * 60 + int(found[2])) if found else None


@cache
def _piece() -> re.Pattern[str]:
    """A number with its unit; made when it is asked for, as that takes some milliseconds."""
    return re.compile(
        rf"\s*(?:,|and\b)?\s*(?:({_NUMBER})\s*(?:({_UNIT})\b|({_UNIT})(?=\d)(?=\d+(?:\s*min\w*)?$))"
        rf"|({NUMBER})\s+(?:of\s+)?an?\s+({_UNIT})\b|({_UNIT})\b)",
        re.I,
    )


def _number(piece: re.Match[str]) -> Fraction | None:
    """The number of a piece; a unit alone is one of it, if it is a word: “hour and a half”."""
    said = piece[1] or piece[4]
    if said is None:
        return Fraction(1) if len(piece[6]) > 3 else None  # no "h" or "min" alone
    return Fraction(1) if said in {"a", "an"} else value(said)


def _in_minutes(unit: str) -> int:
    return next(minutes for pattern, minutes in _MINUTES.items() if re.fullmatch(pattern, unit))
