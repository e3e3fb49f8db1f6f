"""What the camera does not see between two frames, and how well a sum over frames then tells an integral."""

import math

import numpy as np

_TERMS = 6
_LEAST_SPREAD_S = 0.25e-3  # of an edge, by its blades alone: a ramp of 0.9 ms. Common practice
_DUTIES = np.linspace(0.05, 1.0, 20)


def edge_spread(mixed: float, n_edges: int) -> float:
    """How far an edge of the light is smeared by blades, rows and exposure, as a standard deviation in intervals.

    Parameters
    ----------
    mixed
        Sum of b(1 - b) over the frames, in units of the level, of one edge on the average.
    n_edges
        How many edges it was taken from.

    Notes
    -----
    At a random moment of the frames the expected sum is the integral of F(1 - F) over the interval, F the smeared edge:
    half the mean difference of two draws from its slope, which is 0.577 sd for a box and 0.564 sd for a normal shape.
    Few edges tell little, and too wide an edge would be too good an answer: it is shrunk by two edges without smear.
    """
    return max(0.0, mixed) / 0.57 * n_edges / (n_edges + 2)


def u_dead_time(
    spread: float, interval_s: float, duty: float | None, frames_open: float, u_frames_open: float = math.inf
) -> float:
    """Standard uncertainty of a sum over frames as the integral of one firing. [s]

    Parameters
    ----------
    spread
        From `edge_spread`. [intervals]
    duty
        Exposure over interval, None where nobody said: then any that the spread allows, equally likely.
    frames_open
        The firing's effective time over the interval.
    u_frames_open
        How well that is known otherwise; by the firing alone only as well as the answer, so both are found together.

    Notes
    -----
    By Poisson's sum the error is the light's spectrum at the multiples of the frame rate: for each edge and multiple
    k a swing of T/(2 pi k) times the exposure's sinc(k duty) and the blades' exp(-2 pi² k² sd²), and the swings of
    opening and closing differ in phase by the firing's own length. With instant edges and no exposure the mean square
    is T²/6.
    """
    k = np.arange(1, _TERMS + 1)
    least = _LEAST_SPREAD_S / interval_s
    spread = max(spread, math.hypot(least, (duty or 0) / math.sqrt(12)))
    duties = np.array([duty]) if duty is not None else _DUTIES * min(1.0, math.sqrt(12) * spread)
    blades = np.maximum(spread**2 - duties**2 / 12, least**2)[:, None]
    passed = np.sinc(k * duties[:, None]) * np.exp(-2 * math.pi**2 * k**2 * blades)
    swing = np.mean((interval_s / (math.pi * k)) ** 2 * passed**2, axis=0)
    u_s = interval_s / math.sqrt(6)
    for _ in range(8):
        u_open = min(u_s / interval_s, u_frames_open)
        phase = np.cos(2 * math.pi * k * frames_open) * np.exp(-2 * (math.pi * k * u_open) ** 2)
        u_s = math.sqrt(float(np.sum(swing * (1 - phase))))
    return u_s
