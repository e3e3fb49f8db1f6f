"""Lengths of fasteners and thicknesses of shims: a number with its unit, and when “in” is the inch.

A unit that is named counts. “in” is the inch at the end of what is said, and before what can only follow a length; in
``M2 x 3 in the corners`` it says where. “mil” is asked about: it is said of the millimetre and of the thou.
"""

import re
from fractions import Fraction
from typing import Final

from camerawright.wording.spoken import value

_INCH: Final = Fraction(254, 10)  # exactly [mm]
_MM_PER: Final = {
    r"mms?|millimet(?:re|er)s?": Fraction(1),
    r"cms?|centimet(?:re|er)s?": Fraction(10),
    r"[µμu]m|microns?|micromet(?:re|er)s?": Fraction(1, 1000),
    r"thou|thousandths?\s+of\s+an\s+inch": _INCH / 1000,
    r"(?:of\s+an\s+)?inch(?:es)?|in\.?|″": _INCH,
}
_SAYS_WHERE: Final = (
    r"at|from|through|thro|thru|in|on|under|underneath|beneath|behind|near|beside|above|below|inside|over|between|next"
)
_INCH_SURELY: Final = (
    rf"in\.(?!\w)|in(?=\s*(?:$|[,;()×*]|x\s|by\s(?!the\b))|\s+(?:long|deep|thick|{_SAYS_WHERE})\b)"
    r"|(?<=\d)in(?!\w|\s+(?:the|an?|each|every|either|all|both|its)\b)"
)
UNIT: Final = (
    r"(?:(?:mms?|millimet(?:re|er)s?|cms?|centimet(?:re|er)s?|[µμu]m|microns?|micromet(?:re|er)s?|thou"
    rf"|thousandths?\s+of\s+an\s+inch|(?:of\s+an\s+)?inch(?:es)?)(?![^\W\d_])|{_INCH_SURELY}|″(?!\w))"
)
"""Pattern of a unit behind a number, to be used without regard to case."""
MIL: Final = re.compile(r"\s*mils?\b", re.I)
FRACTION: Final = re.compile(r"[/¼½¾⅛⅓⅔⅜⅝⅞]|\b(?:half|quarters?|thirds?|eighths?)\b", re.I)


def in_mm(number: str, unit: str | None) -> float:
    """A length in mm: that of a number which `NUMBER` found, in the unit that `UNIT` found, or in mm. [mm]"""
    named = unit and next(mm for pattern, mm in _MM_PER.items() if re.fullmatch(pattern, unit, re.I))
    return float((value(number) or Fraction(0)) * (named or 1))


def both_spellings(number: str, *, inches: str = "in", mm: str = "mm") -> str:
    """What to ask of a number that may be mm or inches: the question, and how to write either."""
    return f"mm or inches? Write {number} {mm} or {number} {inches}"
