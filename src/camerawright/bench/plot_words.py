"""What pictures that several tests draw show, in words with their figures."""

import math
from collections.abc import Sequence
from typing import Any

from camerawright.bench.comparison_record import never_less, time_text
from camerawright.bench.contract import Json


def effective_words(shot: Json) -> str:
    """The effective time of a firing, or of a set of them, with its 95 % interval."""
    return time_text(shot["effective_s"], 1e3 * shot["k95_effective"] * shot["u_effective_s"])


def speed_card_words(compared: Sequence[Json]) -> str:
    """Marked against actual speeds."""
    return "Off the mark: " + "; ".join(_speed(one) for one in compared) + "."


def _speed(one: Json) -> str:
    """One mark."""
    text = f"{one['marked']} {signed(one['mean_stops'])} ± {never_less(one['U95_mean_stops'])} stops"
    if one["verdict"] is None:
        return f"{text}, no limits"
    return f"{text}, {one['verdict']} ({signed(one['lower_ev'])} to {signed(one['upper_ev'])} are allowed)"


def overlaid_words(name: str, shots: Sequence[Json]) -> str:
    """Firings of one speed on one another."""
    ms = [1e3 * shot["effective_s"] for shot in shots]
    if len(ms) == 1:
        return f"{name}: one firing, effective {effective_words(shots[0])}"
    return (
        f"{name}: {len(ms)} firings, effective from {figure(min(ms))} to {figure(max(ms))} ms,"
        f" the first {figure(ms[0])} ms"
    )


def figure(value: float) -> str:
    """Three digits, never as a power of ten."""
    digits = max(0, 2 - len(str(int(abs(value)))) + 1) if value else 1
    return f"{value:.{digits}f}"


def significant(value: float, n_digits: int = 3) -> str:
    """A figure to so many digits, never as a power of ten."""
    return f"{value:.{max(0, n_digits - 1 - math.floor(math.log10(value)))}f}" if value > 0 else "0"


def signed(value: Any, digits: int = 2) -> str:
    """With its sign, a minus as a minus."""
    return f"{value:+.{digits}f}".replace("-", "−")
