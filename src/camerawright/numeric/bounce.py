"""Blades that bounce: light soon after the closing, and a dip of the light soon after the opening."""

import numpy as np
from numpy.typing import NDArray

from camerawright.numeric.plateau import running_mean

Floats = NDArray[np.float64]

_BOUNCE_S = 0.2e-3
_BOUNCE_WITHIN_S, _DIP_WITHIN_S = 12e-3, 6e-3  # soon after the closing, and after the opening. Common practice


def _bounce_width(rate_hz: float) -> int:
    """How many samples are averaged when a bounce is looked for, an odd number: blades do not bounce faster."""
    return max(3, round(_BOUNCE_S * rate_hz)) | 1


def bounce_threshold(level: float, sigma: float, rate_hz: float) -> float:
    """Light that is surely no noise: six sigma of the mean over a bounce's width, and 2 % of the level at least."""
    return max(0.02 * level, 6 * sigma / float(np.sqrt(_bounce_width(rate_hz))))


def reopened(after: Floats, level: float, sigma: float, rate_hz: float) -> tuple[float, int]:
    """Height (in levels) of a second opening soon after the closing, and how many samples later it is over."""
    width = _bounce_width(rate_hz)
    soon = running_mean(after, width)[: round(_BOUNCE_WITHIN_S * rate_hz)]
    seen = np.flatnonzero(soon[width:] > bounce_threshold(level, sigma, rate_hz))
    if seen.size < width:
        return 0.0, 0
    return float(soon[width:].max()) / level, int(seen[-1]) + 3 * width


def dipped(light: Floats, plateau: tuple[int, int], level: float, sigma: float, rate_hz: float) -> float:
    """Depth (in levels) of a closing soon after the opening; 0 if none is seen.

    It must last as long as a bounce, and no longer than half of where it is looked for: a whole plateau that lies low
    at first is a lamp or a sensor that warms up.
    """
    width = _bounce_width(rate_hz)
    open_n = plateau[1] - plateau[0]
    soon = running_mean(light, width)[plateau[0] : plateau[0] + min(open_n // 2, round(_DIP_WITHIN_S * rate_hz))]
    if len(soon) < 3 * width:
        return 0.0
    rest = float(np.median(light[plateau[0] + len(soon) : plateau[1]]))
    seen = np.count_nonzero(soon < rest - bounce_threshold(level, sigma, rate_hz))
    return (rest - float(soon.min())) / level if width <= seen <= len(soon) // 2 else 0.0
