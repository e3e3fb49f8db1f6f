"""Verdicts as signs and bars: never told by colour alone."""

import math
from collections.abc import Mapping
from typing import Final

from camerawright.quantity import Word
from camerawright.wording import numbers

SIGNS: Final[Mapping[Word, str]] = {"within": "✓", "outside": "✕", "undecided": "?"}
"""The sign of a verdict on pages, papers, in pictures and in the terminal."""

NO_LIMITS: Final = "no limits"

_HALF: Final = 24  # characters from as marked to the end of a bar


def word(verdict: Word | None) -> str:
    """A verdict in a table: its word, or that there are no limits to judge by."""
    return verdict or NO_LIMITS


def bar(error: float, expanded: float, lower: float | None, upper: float | None, verdict: Word | None) -> str:
    """An error in stops drawn on a line: its 95 % interval, the limits in brackets, the sign of its verdict."""
    limits = [] if lower is None or upper is None else [lower, upper]
    scale = max(0.5, math.ceil(2 * max(abs(error) + expanded, *(abs(limit) for limit in limits), 0.0)) / 2)

    def column(stops: float) -> int:
        return round(_HALF * (1 + max(-1.0, min(1.0, stops / scale))))

    drawn = ["."] * (2 * _HALF + 1)
    drawn[_HALF] = "|"
    first, last = column(error - expanded), column(error + expanded)
    drawn[first : last + 1] = "-" * (last + 1 - first)
    for limit, sign in zip(limits, "[]", strict=False):
        drawn[column(limit)] = sign
    drawn[column(error)] = SIGNS[verdict] if verdict else "o"
    return f"fast {numbers.short(-scale)} {''.join(drawn)} +{numbers.short(scale)} slow"
