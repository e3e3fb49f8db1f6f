"""Light, and what an AC-coupled input records of it: RC stages by scipy.signal, nothing of the estimator's."""

import math

import numpy as np
from numpy.typing import NDArray
from scipy import signal

from camerawright.numeric.firings import Span

Floats = NDArray[np.float64]

PLATEAU = 0.3


def angular(corners_hz: tuple[float, ...]) -> tuple[float, float]:
    """Corner frequencies as the coefficients of 1/s and 1/s²: their sum, and the product of two. [rad]"""
    w = [2 * math.pi * corner_hz for corner_hz in corners_hz]
    return sum(w), (math.prod(w) if len(w) == 2 else 0.0)


def recorded(light: Floats, corners_hz: tuple[float, ...], rate_hz: float) -> Floats:
    """Light through RC stages in a row: s/(s + w) each, made digital by the bilinear transform (scipy.signal)."""
    poles = [-2 * math.pi * corner_hz for corner_hz in corners_hz]
    b, a = signal.bilinear(np.poly(np.zeros(len(poles))), np.poly(poles), rate_hz)
    return np.asarray(signal.lfilter(b, a, light), dtype=np.float64)


def openings(n: int, *, rate_hz: float, open_s: float = 0.02, apart_s: float = 0.8, lead_s: float = 0.5) -> Floats:
    """Rectangles of light; where they are, `spans` says."""
    at_s = np.arange(round((lead_s + n * apart_s) * rate_hz)) / rate_hz
    light = np.zeros(len(at_s))
    for span in spans(n, open_s=open_s, apart_s=apart_s, lead_s=lead_s):
        light[(at_s > span.up_s) & (at_s < span.down_s)] = PLATEAU
    return light


def spans(n: int, *, open_s: float = 0.02, apart_s: float = 0.8, lead_s: float = 0.5) -> tuple[Span, ...]:
    """Where the openings are."""
    return tuple(Span(lead_s + i * apart_s, lead_s + i * apart_s + open_s) for i in range(n))


def off_line(values: Floats) -> Floats:
    """What is left of values in a row once their straight line is taken off."""
    return np.asarray(signal.detrend(values))
