"""What the firings of a recording say about one another: a lamp or a gain that changes, blades that stick."""

import math
from collections.abc import Callable, Sequence

import numpy as np

from camerawright.bench.shutter.record import Firing
from camerawright.handbook.light_sensors import MAINS_LIGHT_HZ
from camerawright.quantity import Quantity
from camerawright.wording import numbers

_LEVEL_SPREAD = 0.05
_NEITHER = (0.25, 0.6)  # stops: firings of one speed lie closer, speeds of a dial further apart. Common practice
_UNLIKE = 2.5  # times: the same springs move the blades at every speed; at two stops less the edges are twice as short
_SHORT_S = 1 / min(MAINS_LIGHT_HZ)


def unsteadiness(firings: Sequence[Firing]) -> float:
    """Relative standard deviation of the level from firing to firing, 0 where it is small.

    Compared are all firings with a plateau, and all that are open for about the usual time; the larger counts.
    """
    usual_s = float(np.median([firing.half_peak.value for firing in firings]))
    groups = (
        [firing.level for firing in firings if firing.has_plateau],
        [firing.opens_to * firing.level for firing in firings if abs(firing.half_peak.value / usual_s - 1) < 0.15],
    )
    spreads = [
        float(np.std(group, ddof=1) / np.mean(group))
        for group in groups
        if len(group) > 1 and max(group) > (1 + _LEVEL_SPREAD) * min(group)
    ]
    return max(spreads, default=0.0)


def u_unsteady_s(unsteady: float, time_s: float) -> float:
    """What a light that differs from firing to firing may do within one too short to show it, were it mains flicker."""
    if time_s > 1.5 / MAINS_LIGHT_HZ[0]:
        return 0.0
    return unsteady * time_s * min(1.0, 2 * math.pi * MAINS_LIGHT_HZ[0] * time_s) / 2


def flags(firings: Sequence[Firing], unsteady: float) -> tuple[str, ...]:
    """What is doubtful about the firings of a recording taken together, and about a single one."""
    out = []
    if len(firings) == 1 and firings[0].effective.value < _SHORT_S:
        out.append(
            "A single firing as short as this does not show whether the lamp is steady and the shutter repeats: fire"
            " three or more."
        )
    if apart := _widest_doubtful_gap(firings):
        out.append(
            f"Firings lie {numbers.fixed(apart, 2)} stop apart: too far for one speed, too near for two. The shutter"
            " sticks, or the"
            " lamp switches on and off."
        )
    out += _edge_flags(firings, "opening", lambda firing: firing.opening)
    out += _edge_flags(firings, "closing", lambda firing: firing.closing)
    if unsteady:
        out.append(
            f"The level differs from firing to firing by {numbers.percent(unsteady)}. Look for automatic gain or"
            " another"
            " enhancement of the input, a lamp that flickers, or a lamp or sensor that moved."
        )
    return tuple(out)


def _widest_doubtful_gap(firings: Sequence[Firing]) -> float:
    """The widest step between neighbours in time that is neither one speed's scatter nor the next speed, in stops."""
    gaps = np.diff(np.sort(np.log2([firing.effective.value for firing in firings])))
    return float(max((gap for gap in gaps if _NEITHER[0] < gap < _NEITHER[1]), default=0.0))


def _edge_flags(firings: Sequence[Firing], name: str, of: Callable[[Firing], Quantity]) -> list[str]:
    """Edges that differ more than the same springs, and their uncertainty, allow."""
    times = sorted((of(firing) for firing in firings), key=lambda time: time.value)
    if times[-1].interval[0] < _UNLIKE * times[0].interval[1]:
        return []
    return [
        f"The {name} takes {numbers.short(1e3 * times[0].value, 2)} ms in one firing and"
        f" {numbers.short(1e3 * times[-1].value, 2)} ms in another:"
        " the blades stick, or the lamp flickers or switches on and off."
    ]
