"""Where a curtain was when: from its times at two or three places to its way across the gate."""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

# What the fitted motion may be wrong by, as parts of the time between the outer sensors; see `doubt`. About twice what
# 150 simulated pairs of springs, slack by 10 to 40 % and from rest 5 to 9 mm before the gate, showed (rms 0.031,
# 0.0015, 0.36, 0.012): real curtains have friction that these have not.
_CUBIC, _CUBIC_DIFFERENCE = 0.05, 0.004
_BOW, _BOW_DIFFERENCE = 0.5, 0.02
_BEYOND = 2.0  # a bow is more than a parabola beyond two sensors


@dataclass(frozen=True)
class Motion:
    """x = x0 + v (t - t0) + a/2 (t - t0)²; [mm], [s]."""

    t0_s: float
    x0_mm: float
    v_mm_s: float
    a_mm_s2: float

    def at(self, t_s: float) -> float:
        """Where its edge is. [mm]"""
        t = t_s - self.t0_s
        return self.x0_mm + self.v_mm_s * t + self.a_mm_s2 / 2 * t**2

    def when(self, x_mm: Floats) -> Floats:
        """When its edge passes places, going forward; where it never does, when it comes nearest. [s]"""
        under = np.maximum(0.0, self.v_mm_s**2 + 2 * self.a_mm_s2 * (x_mm - self.x0_mm))
        return np.asarray(self.t0_s + 2 * (x_mm - self.x0_mm) / (self.v_mm_s + np.sqrt(under)))

    def speed(self, x_mm: Floats) -> Floats:
        """How fast it passes places. [mm/s]"""
        return np.sqrt(np.maximum(0.0, self.v_mm_s**2 + 2 * self.a_mm_s2 * (x_mm - self.x0_mm)))


def motion_through(t_s: Floats, x_mm: Floats) -> Motion:
    """Constant acceleration through three places (least squares through more), steady speed through two.

    Parameters
    ----------
    t_s, x_mm : shape (n,), n >= 2
    """
    t0 = float(t_s.mean())
    # through three or fewer the fit is exact, and solved for it is a tenth of the work
    exact = len(t_s) <= 3
    fit = np.linalg.solve(np.vander(t_s - t0), x_mm) if exact else np.polyfit(t_s - t0, x_mm, 2)
    a, v, x0 = (0.0, *fit) if len(fit) == 2 else fit
    return Motion(t0, float(x0), float(v), 2 * float(a))


def doubt(x_mm: Floats, at_mm: Floats) -> tuple[Floats, Floats]:
    """How far the fitted times may be off at places, in parts of the time between the outer sensors.

    Of either curtain's time, and of the difference of the two, which move alike; both shape (n,). With three sensors
    what is left out is a change of the acceleration, a cubic with its zeros at the sensors; with two the acceleration
    itself, a bow.
    """
    at = np.sort(at_mm)
    ends = at[[0, -1]] if len(at) == 2 else at[[0, len(at) // 2, -1]]
    shape = np.prod([(x_mm - one) / (at[-1] - at[0]) for one in ends], axis=0)
    if len(at) == 2:
        shape = shape * np.where((x_mm < at[0]) | (x_mm > at[-1]), _BEYOND, 1.0)
    either, difference = (_BOW, _BOW_DIFFERENCE) if len(at) == 2 else (_CUBIC, _CUBIC_DIFFERENCE)
    return np.asarray(either * shape), np.asarray(difference * shape)


def exposure_zero_mm(first: Motion, second: Motion, width_mm: float, near_mm: float) -> float | None:
    """Where in the gate the second curtain catches up with the first, nearest to a place; None where it does not."""
    x = np.linspace(0, width_mm, 721)
    along = second.when(x) - first.when(x)
    crossings = np.flatnonzero(along[1:] * along[:-1] < 0)
    if not crossings.size:
        return None
    zeros = x[crossings] + (x[1] - x[0]) * along[crossings] / (along[crossings] - along[crossings + 1])
    return float(zeros[np.argmin(np.abs(zeros - near_mm))])


def is_plausible(t_s: Floats, x_mm: Floats) -> str | None:
    """Why the places and times of a curtain cannot be right, or None."""
    order = np.argsort(x_mm)
    steps_s, steps_mm = np.diff(t_s[order]), np.diff(x_mm[order])
    if np.any(steps_s <= 0):
        return "the light does not come to the sensors in the order of their places"
    speeds = steps_mm / steps_s / 1e3
    if speeds.min() < _SPEEDS[0] or speeds.max() > _SPEEDS[1]:
        return f"a curtain would run at {speeds.min():.2g} to {speeds.max():.2g} mm/ms, and curtains run at 1 to 10"
    if len(speeds) > 1 and not 1 / _MOST_GAIN < speeds[-1] / speeds[0] < _MOST_GAIN:
        return f"a curtain would change its speed from {speeds[0]:.1f} to {speeds[-1]:.1f} mm/ms between the sensors"
    return None


_SPEEDS = (0.3, 20.0)  # mm/ms, generous. Common practice: cloth 36 mm in 8 to 18 ms, metal 24 mm in 3 to 10
_MOST_GAIN = 3.0  # from rest under a steady pull, run-up 5 mm, sensors at 2, 18 and 34 mm: 1.7


def stops_per_ms(exposure_s: float, ms: float) -> float:
    """What a curtain that is late by so much does to an exposure. [stop]"""
    return math.log2(1 + ms * 1e-3 / exposure_s)
