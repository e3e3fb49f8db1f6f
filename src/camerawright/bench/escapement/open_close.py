"""From the opening to the closing by sound: only where two clicks stand out so that no other can be meant."""

import math

import numpy as np
from numpy.typing import NDArray

from camerawright.bench.escapement.clicks import Clicks
from camerawright.bench.escapement.record import OpenClose
from camerawright.bench.record import Refusal
from camerawright.quantity import BudgetLine, Quantity
from camerawright.wording import numbers

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


def open_close(clicks: Clicks, beats_s: Floats, target_s: float | None) -> OpenClose:
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
        return _refused(
            f"at this speed the ±{numbers.short(1e3 * SOUND_TO_LIGHT_S)} ms of the sound are too large a part of the"
            " time"
        )
    order = np.argsort(clicks.level_db)[::-1]
    levels = clicks.level_db[order]
    first, last = sorted(float(t) for t in clicks.at_s[order[:2]])
    if len(levels) > 2 and levels[1] - levels[2] < ALONE_DB:
        return _refused(
            f"a third click is only {numbers.fixed(float(levels[1] - levels[2]), 1)} dB softer than the second, so"
            " nobody can tell which two are the opening and the closing"
        )
    if int(np.sum(levels > levels[0] - NEAR_DB)) > MOST_NEAR:
        return _refused("too many clicks are about as loud as the loudest")
    if last - first < LEAST_S:
        return _refused(
            f"the two loudest clicks are only {numbers.fixed(1e3 * (last - first), 0)} ms apart, which is too fast for"
            " sound"
        )
    between = float(np.mean((beats_s > first) & (beats_s < last)))
    if between < _SHARE_BETWEEN:
        return _refused("the beat does not lie between the two loudest clicks")
    lines = (
        BudgetLine("onsets", math.sqrt(2) * U_ONSET_S),
        BudgetLine("sound to light", SOUND_TO_LIGHT_S / math.sqrt(3)),
        BudgetLine("clock", 50e-6 * (last - first)),
    )
    doubtful = ("Shorter than 1/8 s: the offset of the sound is more than one per cent of it.",)
    return OpenClose(
        open_s=first,
        close_s=last,
        time=Quantity(last - first, "s", lines),
        flags=doubtful if last - first < FLAG_S else (),
    )


def _refused(reason: str) -> OpenClose:
    """No time from opening to closing."""
    return OpenClose(refused=Refusal(reason, ADVICE_LIGHT))
