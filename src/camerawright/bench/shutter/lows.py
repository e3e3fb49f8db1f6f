"""What an input does that cuts low tones, as microphone inputs do, and how it is told from a thump."""

from collections.abc import Callable, Sequence

import numpy as np

from camerawright.bench.shutter.record import Firing
from camerawright.numeric.coupling import Coupling
from camerawright.numeric.firings import Found
from camerawright.trouble import NotMeasurable
from camerawright.wording import numbers

_BUMP_S = 3e-3  # what is left of a firing where the lows are cut: as long as the edge of the blades
_LINE_INPUT_HZ = 18.0  # line inputs pass from 1 to 16 Hz on, microphone inputs from 20 Hz on. Common practice
_SLOPES = 0.1  # of the level: a plateau that is undone slopes by a hundredth
ADVICE_LINE = (
    "Use a line input. If there is none, switch off every filter and enhancement of the microphone input (low cut,"
    " noise suppression, automatic gain) and try a faster speed: it droops less"
)


def also(advice: str) -> str:
    """Advice for a firing that is lost although its edges are clear."""
    return (
        f"If the waveform comes back to the dark while the shutter is open, this input cuts lows. {ADVICE_LINE}."
        f" {advice}"
    )


def refuse_unpaired(found: Found) -> None:
    """Refuse edges that do not pair: an input that cuts lows makes a firing two short bumps, one up and one down."""
    durations_s = [span.duration_s for span in found.spans]
    if found.n_lonely >= max(2, len(found.spans)) and np.median(durations_s) < _BUMP_S:
        raise NotMeasurable(
            f"{numbers.counted(found.n_lonely, 'edge')} of light have no partner: this input cuts lows, as a microphone"
            " input does",
            ADVICE_LINE,
        )


def refuse_cut_lows(firings: Sequence[Firing]) -> None:
    """Refuse where in most firings the dark droops, and the plateau slopes or light comes back: no blades do both."""
    if _most(firings, lambda one: one.is_disturbed and (one.bounce > 0 or abs(one.slope) > _SLOPES)):
        raise NotMeasurable(
            "in every firing the open light or the dark after it droops: this input cuts lows, as a microphone input"
            " does",
            ADVICE_LINE,
        )


def _most(firings: Sequence[Firing], is_so: Callable[[Firing], bool]) -> bool:
    """Whether something is so of two firings and of two thirds of all."""
    n = sum(map(is_so, firings))
    return n >= 2 and 3 * n >= 2 * len(firings)


def flags(firings: Sequence[Firing], coupling: Coupling) -> tuple[str, ...]:
    """What is doubtful about an input that cuts lows, and may be measured all the same."""
    corner_hz = max(coupling.corners_hz)
    if corner_hz > _LINE_INPUT_HZ:
        return (
            f"This input cuts lows: its corner is at {numbers.short(corner_hz, 2)} Hz, as of a microphone input. Use a"
            " line input.",
        )
    if _most(firings, lambda one: one.is_disturbed):
        return (
            "The dark beside most firings moves: this input cuts lows more than a line input does, or something shakes"
            " the bench at each firing. Use a line input.",
        )
    return ()
