"""Turns as they are counted: ``4 1/2``, ``a turn and a half``, ``three quarters of a turn``, ``270°``."""

import re
from fractions import Fraction
from typing import Final

from camerawright.trouble import NotUnderstood
from camerawright.wording.spoken import NUMBER, in_plain_signs, value

_TURN: Final = r"(?:turns?|revolutions?|revs?|rev\.)"
_WHOLE_TURN: Final = rf"(?:(?:full|whole|complete)\s+)?{_TURN}"
_COUNTED: Final = re.compile(
    rf"(?:(?P<number>{NUMBER})(?:\s+(?:of\s+)?(?:an?\s+)?{_WHOLE_TURN})?|(?P<couple>(?:a\s+)?couple\s+of\s+{_TURN})"
    rf"|(?:a\s+)?{_WHOLE_TURN})",
    re.I,
)
_AND_MORE: Final = re.compile(
    rf"(?:(?P<number>{NUMBER})|an?)\s+{_WHOLE_TURN}\s+and\s+(?:(?P<part>{NUMBER})|an?\s+(?P<one>half|quarter|third|eighth))",
    re.I,
)
_DEGREES: Final = re.compile(rf"({NUMBER})\s*(?:°|deg(?:rees?)?\b\.?)", re.I)
_SIGN: Final = re.compile(r"(?:(?P<minus>[-−–]|minus\s)|\+|plus\s)\s*", re.I)
_DIRECTION: Final = re.compile(
    r"(.*\S)\s+(?:clockwise|cw|(anti[\s-]?clockwise|counter[\s-]?clockwise|acw|ccw))", re.I | re.S
)
_BARE_DEGREES: Final = frozenset({"45", "90", "120", "135", "180", "270", "360", "540", "720"})
"""Numbers that nobody counts turns to."""


def turns_typed(text: str) -> float:
    """Turns; a minus is the other way.

    Raises
    ------
    NotUnderstood
        It is no number of turns, or may be degrees.
    """
    said = in_plain_signs(" ".join(text.split()))
    sign = _SIGN.match(said)
    bare = said[sign.end() :] if sign else said
    if bare in _BARE_DEGREES:
        raise NotUnderstood(f"“{text}”: turns, or degrees?", f"write {bare} turns or {bare}°")
    turns = _turns(bare)
    if turns is None:
        raise NotUnderstood(f"“{text}” is not a number of turns", "write it like 4.5, 4 1/2 or 270°")
    return -float(turns) if sign and sign["minus"] else float(turns)


def signed_turns_typed(text: str) -> float:
    """Turns, clockwise positive: with a minus, or with the direction behind them; raises as `turns_typed`."""
    found = _DIRECTION.fullmatch(text.strip())
    if not found:
        return turns_typed(text)
    turns = turns_typed(found[1])
    if turns < 0:
        raise NotUnderstood(f"“{text}”: a minus and a direction", "write one of them")
    return -turns if found[2] else turns


def _turns(said: str) -> Fraction | None:
    """Turns without their sign; None if they are none."""
    if degrees := _DEGREES.fullmatch(said):
        number = value(degrees[1])
        return None if number is None else number / 360
    if more := _AND_MORE.fullmatch(said):
        whole = value(more["number"]) if more["number"] else Fraction(1)
        part = value(more["part"] or more["one"]) or value(f"one {more['one']}")
        return None if whole is None or part is None or whole.denominator > 1 or part >= 1 else whole + part
    found = _COUNTED.fullmatch(said)
    if not found:
        return None
    return value(found["number"]) if found["number"] else Fraction(2 if found["couple"] else 1)


def turns_written(turns: float) -> str:
    """The text that `turns_typed` reads as these turns again."""
    text = f"{turns:.12g}"
    return f"{text} turns" if text.lstrip("-") in _BARE_DEGREES else text
