"""Where the light of a firing passes a part of its level, between the samples."""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from camerawright.numeric.plateau import ADVICE_EDGE
from camerawright.trouble import NotMeasurable

Floats = NDArray[np.float64]

FOOT: Final = 0.1
"""The total time is told from this part of the level: light begins and ends without a slope, so its ends show badly."""
_STEEP = 0.15  # half the length of a crossing's parabola, in edge durations; found by simulation


@dataclass(frozen=True)
class Crossing:
    """The place where the light passes a level."""

    at: float  # [samples]
    slope: float  # [1/sample]
    curvature: float  # [1/sample²]
    weights: Floats  # of the light at the crossing


class Crossings:
    """Finds where the light passes a part of the level, by a short parabola around a first guess."""

    def __init__(
        self, light: Floats, smooth: Floats, level: float, plateau: tuple[int, int], sigma: float, high: float
    ) -> None:
        self._light, self._smooth, self._level = light, smooth, level
        # a longer parabola averages more noise away, a shorter one follows the edge better
        self._steep = _STEEP * float(np.clip((sigma / (0.01 * level)) ** 0.4, 0.8, 2.0))
        top = int(np.argmax(smooth))
        self._top = plateau if plateau[0] < plateau[1] else (top, top + 1)
        self._edge = {rising: self._duration(rising, high) for rising in (True, False)}

    def _guess(self, part: float, rising: bool) -> float:
        """Find the crossing of the smoothed light that is nearest to the plateau, between samples."""
        level, smooth = part * self._level, self._smooth
        if rising:
            below = np.flatnonzero(smooth[: self._top[0] + 1] < level)
            i = int(below[-1]) if below.size else -1
            j = i + 1
        else:
            below = np.flatnonzero(smooth[self._top[1] - 1 :] < level) + self._top[1] - 1
            i = int(below[0]) if below.size else -1
            j = i - 1
        if i < 0 or smooth[j] == smooth[i]:
            raise NotMeasurable("an edge of a firing cannot be followed down to the dark", ADVICE_EDGE)
        return i + (j - i) * float((level - smooth[i]) / (smooth[j] - smooth[i]))

    def _duration(self, rising: bool, high: float) -> float:
        """Measure an edge from its foot to nearly open. [samples]"""
        return abs(self._guess(high, rising) - self._guess(FOOT, rising))

    def at(self, part: float, *, rising: bool) -> Crossing:
        """Find the crossing of a part of the level."""
        guess = self._guess(part, rising)
        reach = max(2.0, self._steep * self._edge[rising])
        first, last = max(0, int(np.ceil(guess - reach))), min(len(self._light) - 1, int(guess + reach))
        if last < first:
            raise NotMeasurable("an edge of a firing cannot be followed down to the dark", ADVICE_EDGE)
        t: Floats = np.arange(first, last + 1, dtype=np.float64) - guess
        pseudo = _parabola_weights(t, reach)
        fit = pseudo @ self._light[first : last + 1]
        fit = np.concatenate([fit, np.zeros(3 - len(fit))])
        shift = _root(fit - np.array([part * self._level, 0, 0]), reach)
        slope = float(fit[1] + 2 * fit[2] * shift)
        if slope * (1 if rising else -1) <= 0:
            raise NotMeasurable("an edge of a firing is lost in the noise", ADVICE_EDGE)
        weights = np.zeros_like(self._light)
        weights[first : last + 1] = np.power(shift, np.arange(len(pseudo))) @ pseudo
        return Crossing(guess + shift, slope, float(2 * fit[2]), weights)


def _parabola_weights(t: Floats, reach: float) -> Floats:
    """Least-squares weights of a parabola's coefficients over t; of a straight line's for fewer than five points."""
    if len(t) < 5:
        return np.asarray(np.linalg.pinv(np.vander(t, 2, increasing=True)))
    # coefficients c = (VᵀV)⁻¹ Vᵀ y; t is brought to within ±1 first, which keeps VᵀV well conditioned
    design = np.vander(t / reach, 3, increasing=True)
    return np.asarray(np.linalg.solve(design.T @ design, design.T) / reach ** np.arange(3)[:, None])


def _root(fit: Floats, reach: float) -> float:
    """Find the zero of a parabola nearest to 0, within a reach: Newton's iteration from 0."""
    near = 0.0
    for _ in range(6):
        slope = fit[1] + 2 * fit[2] * near
        if slope == 0:
            break
        near = float(np.clip(near - (fit[0] + fit[1] * near + fit[2] * near**2) / slope, -reach, reach))
    return near
