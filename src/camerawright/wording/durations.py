"""How long something takes, as it is typed or said: ``90 min``, ``1,5 h``, ``an hour and a half``, ``3 weeks``."""

import re
from fractions import Fraction
from functools import cache
from typing import Final

from camerawright.trouble import NotUnderstood
from camerawright.wording.spoken import NUMBER, in_plain_signs, value

_MINUTES: Final[dict[str, Fraction | int]] = {
    r"s|secs?|seconds?": Fraction(1, 60),
    r"m|min(?:ute)?s?": 1,
    r"h|hrs?|hours?": 60,
    r"d|days?": 24 * 60,
    r"w|wks?|weeks?": 7 * 24 * 60,
    r"fortnights?": 14 * 24 * 60,
    r"months?": 30 * 24 * 60,
    r"y|yrs?|years?": 365 * 24 * 60,
}
_HOUR: Final = 60
_MOST: Final = 100 * 366 * 24 * 60  # more than a hundred years is a slip
_UNIT: Final = "|".join(_MINUTES)
_NUMBER: Final = rf"(?:{NUMBER}|an?\b)"
_PART_MORE: Final = re.compile(r"\s+and\s+(?:an?\s+)?(half|quarter|three[\s-]quarters)$", re.I)
_MINUTES_MORE: Final = re.compile(r"\s*(\d{1,2})(?:\s*m(?:in\w*)?)?$", re.I)
_CLOCK: Final = re.compile(r"(\d{1,3}):([0-5]\d)(?:\s*h(?:ours?|rs?)?)?", re.I)
_BEFORE: Final = re.compile(
    r"^(?:for|in|about|after|another|at\s+least|until|till)\s+|\s+(?:from\s+now|more|time)$|(?<=[a-z])\.$", re.I
)
_COUPLE: Final = re.compile(r"^(?:a\s+)?couple\s+of\s+", re.I)
_UNTIL: Final = re.compile(r"^(?:until|till)\s+", re.I)
_CAPITAL_M: Final = re.compile(r"(?<=\d)\s*M\b(?!\w)")
_BARE_M: Final = re.compile(r"\d+\s*m\.?", re.I)
_DAYS: Final = re.compile(r"(?<![a-z])(?:d|days?|w|wks?|weeks?|fortnights?|months?|y|yrs?|years?)\b", re.I)
_CLOCK_OR_DECIMAL: Final = re.compile(r"(\d+)[.,]([0-5]\d)\s*h(?:ours?|rs?)?", re.I)
_QUARTERS: Final = frozenset({"00", "25", "50", "75"})
OVERNIGHT: Final = frozenset({"overnight", "over night", "tomorrow morning", "the morning", "morning"})


def minutes_said(text: str) -> Fraction | None:
    """How many minutes a text says, exactly; None if it says no duration. A month is 30 days, a year 365.

    Parameters
    ----------
    text
        Numbers with their units, the largest first; a part of the last unit may follow: ``two hours and a quarter``.

    Raises
    ------
    NotUnderstood
        It may be hours and minutes, or a decimal: ``1.30 h``.
    """
    said = _BEFORE.sub("", _BEFORE.sub("", in_plain_signs(" ".join(text.split())).casefold()))
    said = _COUPLE.sub("2 ", said)
    if _CAPITAL_M.search(text):  # a month, or a minute?
        return None
    if (either := _CLOCK_OR_DECIMAL.fullmatch(said)) and either[2] not in _QUARTERS:
        decimal = f"{either[1]}.{either[2].rstrip('0')}"
        raise NotUnderstood(
            f"“{text}”: hours and minutes, or a decimal?", f"write {either[1]} h {either[2]} min or {decimal} h"
        )
    i, total, last = 0, Fraction(0), Fraction(0)
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


def without_until(text: str) -> str:
    """What is said, without the “until” before it."""
    return _UNTIL.sub("", " ".join(text.split()).casefold())


def is_bare_m(text: str) -> bool:
    """Whether a text says m, which may be months where days are counted."""
    return bool(_BARE_M.fullmatch(text.strip()))


def says_days(text: str) -> bool:
    """Whether a duration is said in days, or in more."""
    return bool(_DAYS.search(text))


def minutes_by_clock(text: str) -> Fraction | None:
    """How many minutes ``1:30`` is, as hours and minutes; None if it is not written so."""
    found = _CLOCK.fullmatch(text.strip())
    return Fraction(int(found[1]) * 60 + int(found[2])) if found else None


@cache
def _piece() -> re.Pattern[str]:
    """A number with its unit; made when it is asked for, as that takes some milliseconds."""
    return re.compile(
        rf"\s*(?:,|and\b)?\s*(?:({_NUMBER})\s*(?:({_UNIT})\b|({_UNIT})(?=\d)(?=\d+(?:\s*m(?:in\w*)?)?$))"
        rf"|({NUMBER})\s+(?:of\s+)?an?\s+({_UNIT})\b|({_UNIT})\b)",
        re.I,
    )


def _number(piece: re.Match[str]) -> Fraction | None:
    """The number of a piece; a unit alone is one of it, if it is a word: “hour and a half”."""
    said = piece[1] or piece[4]
    if said is None:
        return Fraction(1) if len(piece[6]) > 3 else None  # no "h" or "min" alone
    return Fraction(1) if said in {"a", "an"} else value(said)


def _in_minutes(unit: str) -> Fraction:
    return next(Fraction(minutes) for pattern, minutes in _MINUTES.items() if re.fullmatch(pattern, unit))
