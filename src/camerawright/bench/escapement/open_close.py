"""From the opening to the closing by sound: only where two clicks stand out so that no other can be meant."""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from camerawright.bench.escapement.clicks import Clicks
from camerawright.quantity import BudgetLine, Quantity

Floats = NDArray[np.float64]

U_ONSET_S = 1e-3
"""u of when a click begins. From cutting real clicks out of published recordings and pairing them again: 0.4 to 0.8 ms
for a pair at 40 to 50 dB, 1 ms at 30 dB."""
SOUND_TO_LIGHT_S = 1.5e-3
"""How far the sound's time may differ from the light's, either way: a blade hits its stop when the light is full, not
half, and the lever's latency is not known. Assumed."""
ALONE_DB = 10.0
"""The third loudest click must be this far below the second."""
NEAR_DB, MOST_NEAR = 12.0, 3
"""At most so many clicks may be this near to the loudest."""
SLOWEST_MARK_REFUSED_S = 1 / 15.5
LEAST_S = 0.05
FLAG_S = 0.11
_SHARE_BETWEEN = 0.8

ADVICE_LIGHT = "time it by light"


@dataclass(frozen=True)
class Pair:
    """When the two clicks fell, and the time between; doubtful below 1/8 s, where 2 ms are more than a per cent."""

    open_s: float
    close_s: float
    time: Quantity
    flags: tuple[str, ...]


@dataclass(frozen=True)
class Refused:
    """Why there is no time from opening to closing."""

    reason: str
    advice: str = ADVICE_LIGHT


def find_pair(clicks: Clicks, beats_s: Floats, target_s: float | None) -> Pair | Refused:
    """The opening and closing clicks of a run, or why they cannot be told.

    Parameters
    ----------
    clicks
        Of the run.
    beats_s
        Its beats: most must lie between the two.
    target_s
        What the set speed stands for, where known.
    """
    if target_s is not None and target_s < SLOWEST_MARK_REFUSED_S:
        return Refused(f"at this speed the sound's ±{1e3 * SOUND_TO_LIGHT_S:g} ms are too much of the time")
    order = np.argsort(clicks.level_db)[::-1]
    levels = clicks.level_db[order]
    first, last = sorted(float(t) for t in clicks.at_s[order[:2]])
    if len(levels) > 2 and levels[1] - levels[2] < ALONE_DB:
        return Refused(
            f"a third click is only {levels[1] - levels[2]:.1f} dB softer than the second: which two are the opening"
            f" and"
            " the closing cannot be told"
        )
    if int(np.sum(levels > levels[0] - NEAR_DB)) > MOST_NEAR:
        return Refused("too many clicks are about as loud as the loudest")
    if last - first < LEAST_S:
        return Refused(f"the two loudest clicks are only {1e3 * (last - first):.0f} ms apart: too fast for sound")
    between = float(np.mean((beats_s > first) & (beats_s < last)))
    if between < _SHARE_BETWEEN:
        return Refused("the beat does not lie between the two loudest clicks")
    lines = (
        BudgetLine("onsets", math.sqrt(2) * U_ONSET_S),
        BudgetLine("sound to light", SOUND_TO_LIGHT_S / math.sqrt(3)),
        BudgetLine("clock", 50e-6 * (last - first)),
    )
    flags = ("Shorter than 1/8 s: the sound's offset is more than a per cent of it.",) if last - first < FLAG_S else ()
    return Pair(first, last, Quantity(last - first, "s", lines), flags)
