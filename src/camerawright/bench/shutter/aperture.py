"""What a firing would have been with the lens stopped down, from its own curve of light.

Stopped down, blades of a leaf shutter uncover the working aperture sooner and cover it later. With an opening that
stays round and grows from the middle, the light x (1 = free, wide open) belongs to an uncovered radius √x; an aperture
of relative radius r passes min(1, x/r²) of its light. Any opening passes no more than that and no less than x.
"""

import numpy as np
from numpy.typing import NDArray

from camerawright.bench.shutter.budget import Budget, Seen
from camerawright.bench.shutter.record import StoppedDown
from camerawright.numeric.pulse import Pulse, Timed
from camerawright.quantity import BudgetLine, Quantity

Floats = NDArray[np.float64]

STOPS = (1.0, 2.0, 3.0, 4.0)
"""By how much the lens is stopped down. [stops]"""

_U_ROUND = 0.06  # u of the gain, as a part of it: see docs/accuracy.md
_ROUND_SHORT = 0.03  # by how much blades with straight edges gain less than a round opening: see docs/accuracy.md
_U_BETWEEN = 0.02


def stopped_down(one: Seen, effective: Quantity, budget: Budget) -> tuple[StoppedDown, ...]:
    """The effective time for each of `STOPS`; empty where the light of full opening is unknown.

    Notes
    -----
    For a round opening that grows at a steady rate this gives te = T - 4/3 r t1, t1 the opening time wide open. The
    budget has the lines of any time, and *blade shape* for an opening that is not round.
    """
    if one.level_from == "its own peak":
        return ()
    return tuple(StoppedDown(stops, _predicted(one, effective, budget, stops)) for stops in STOPS)


def _predicted(one: Seen, effective: Quantity, budget: Budget, stops: float) -> Quantity:
    """One prediction."""
    found = budget.quantity(passed(one.pulse, 2.0 ** (-stops / 2), one.window.rate_hz), one)
    gain_s = found.value - effective.value
    line = BudgetLine("blade shape", _U_ROUND * abs(gain_s))
    return Quantity(found.value - _ROUND_SHORT * gain_s, "s", (*found.budget, line))


def passed(pulse: Pulse, radius: float, rate_hz: float) -> Timed:
    """The light through a concentric hole of a relative radius, over its full light. [s]"""
    first, last = pulse.reach
    part = pulse.light[first:last] / (pulse.level * radius**2)
    is_partly = _smooth(part) < 1
    value = float(np.where(is_partly, part, 1.0).sum())
    partly = float(part[is_partly].sum())
    partly_weights = np.zeros_like(pulse.light)
    partly_weights[first:last] = is_partly / (pulse.level * radius**2)
    weights = pulse.baseline.taken_off(partly_weights) - partly * pulse.level_weights / pulse.level
    light = part * radius**2
    per_bend = float((light * (1 - light))[is_partly].sum()) / radius**2
    dt = 1 / rate_hz
    return Timed(value * dt, weights * dt, -partly * dt, per_bend * dt, 0.0, _U_BETWEEN)


def _smooth(part: Floats) -> Floats:
    """Light over a few samples, for telling where it is above a height."""
    return np.convolve(part, np.full(5, 0.2), mode="same")
