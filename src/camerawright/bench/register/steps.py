"""The step of a gauge, as its readings show it."""

from typing import Final

import numpy as np

from camerawright.bench.register.places import Floats
from camerawright.wording import numbers

USUAL_STEP_MM: Final = 0.01
"""The last digit of a calliper or depth micrometer. Common practice"""
_STEPS_MM: Final = (0.1, 0.05, 0.02, 0.01, 0.005, 0.002, 0.001, 0.0005, 0.0002, 0.0001)
_VERNIER_MM: Final = 0.05
INCH_STEPS_MM: Final = {0.0254: "0.001 inch", 0.0127: "0.0005 inch", 0.00254: "0.0001 inch"}
"""Steps of gauges in inches; 1 inch is 25.4 mm. They do not end on a digit of a millimetre, so readings are rounded."""
_FINE: Final = 5  # an inch step is recognised where the last digit of the readings is so many times finer
_EXACT_MM: Final = 1e-6


def step_shown(depth_mm: Floats) -> float:
    """The step that a gauge seems to have: the largest that all differences of its readings are multiples of. [mm]

    Differences, not the readings themselves: a bridge that was taken off them may end on any digit. Equal readings
    show no step; then the usual one is taken. Two different ones show one of 0.05 mm at the most, and none in inches:
    their difference is hardly a multiple of so much by design.
    """
    n_different = len(np.unique(np.round(depth_mm, 6)))
    if n_different == 1:
        return min(USUAL_STEP_MM, _last_digit(depth_mm))
    is_few = n_different == 2
    step_mm = next((q for q in _STEPS_MM if q <= (_VERNIER_MM if is_few else 1) and _fits(depth_mm, q)), _STEPS_MM[-1])
    for inch_mm in () if is_few else INCH_STEPS_MM:
        if inch_mm > _FINE * step_mm and _fits(depth_mm, inch_mm, step_mm):
            return inch_mm
    return step_mm


def doubt_of_told(depth_mm: Floats, told_mm: float) -> str:
    """What speaks against a step that was told; "" where nothing does."""
    shown_mm = step_shown(depth_mm)
    is_multiple = abs(told_mm / _last_digit(depth_mm) - round(told_mm / _last_digit(depth_mm))) < _EXACT_MM
    slack_mm = _EXACT_MM if is_multiple else _last_digit(depth_mm)
    n_different = len(np.unique(np.round(depth_mm, 6)))
    if n_different > 1 and not _fits(depth_mm, told_mm, slack_mm):
        return (
            f"You told steps of {named(told_mm)}, but the readings differ by less or by parts of it. They seem to go in"
            f" steps of {named(shown_mm)}. The interval reckons with what you told. Check it."
        )
    if n_different > 2 and shown_mm >= 2 * told_mm:
        return (
            f"You told steps of {named(told_mm)}, but the readings seem to go in steps of {named(shown_mm)}. If you"
            " rounded them when you wrote them, tell what you rounded to as the resolution."
        )
    return ""


def named(step_mm: float) -> str:
    """A step in millimetres, and in inches where it is one of these."""
    inches = next((f" ({name})" for one, name in INCH_STEPS_MM.items() if abs(one - step_mm) < _EXACT_MM), "")
    return f"{numbers.short(step_mm)} mm{inches}"


def _last_digit(depth_mm: Floats) -> float:
    """What the last digit of the readings counts. [mm]"""
    return next((q for q in (0.1, 0.01, 0.001) if np.allclose(depth_mm, np.round(depth_mm / q) * q, 0, 1e-6)), 1e-4)


def _fits(depth_mm: Floats, step_mm: float, slack_mm: float = _EXACT_MM) -> bool:
    """Whether all readings lie, within the slack, at one phase of the step: the largest gap leaves that much."""
    phase = np.sort(depth_mm % step_mm)
    gaps = np.diff(np.append(phase, phase[0] + step_mm))
    return bool(step_mm - gaps.max() <= slack_mm + _EXACT_MM)
