"""What the camera does not see between two frames, and how well a sum over frames then tells an integral."""

import math

import numpy as np
from numpy.typing import NDArray
from scipy import special

from camerawright.quantity import BudgetLine

Floats = NDArray[np.float64]

_TERMS = 6
_LEAST_SPREAD_S = 0.13e-3  # of an edge, by its blades alone: a ramp of 0.45 ms. Common practice
_MIXED = 0.57  # integral of F(1 - F) over the sd of the smear: (1/6)/(1/√12) = 0.577 for a box, 1/√pi for a normal
_DUTIES = np.linspace(0.05, 1.0, 12)
_WIDEST = 0.9  # intervals: an edge smeared further leaves no dead time
_AWAY = np.linspace(-0.75, 0.75, 41)  # of the common length from the mean of the sums. [intervals]
_SCATTERS = np.geomspace(0.002, 0.15, 8)  # of one speed of a shutter in whatever state, relative. Common practice
_U_MIXED = 0.01  # of the level, for what noise and the tails of an edge do to `mixed`
_AGREE = 0.1  # intervals: sums of instant edges have two values only, so few of them agree by chance


def edge_spread(mixed: Floats) -> float:
    """How far an edge of the light is smeared by blades, rows and exposure, as a standard deviation in intervals.

    `mixed` as in `dead_time`; 0 where no opening opened fully. An opening has two edges, and an edge of the shape F
    adds the integral of F(1 - F) to the sum, `_MIXED` standard deviations.
    """
    return max(0.0, float(mixed.mean())) / (2 * _MIXED) if len(mixed) else 0.0


def dead_time(mixed: Floats, interval_s: float, duty: float | None, frames_open: Floats) -> BudgetLine:
    """How well a sum over frames is the integral of one firing. [s]

    Parameters
    ----------
    mixed : shape (m,)
        Sums of b(1 - b) over the frames of each opening that opened fully, b in units of the level.
    duty
        Exposure over interval, None where nobody said: then any that the smear of the edges allows.
    frames_open : shape (n,)
        Sums of the firings over the level, in intervals.

    Notes
    -----
    By Poisson's summation formula the sum of samples at an interval T, times T, is the integral plus the light's
    spectrum at the multiples k/T of the frame rate: that is the error. An instant edge has the spectrum 1/(2 pi i f),
    so each edge gives a swing of T/(2 pi k). A convolution multiplies spectra: times the exposure's (a box of `duty` T)
    sinc(k duty) and the blades' (taken as normal, of the standard deviation sd) exp(-2 pi² k² sd²). The swings of
    opening and closing differ in phase by the firing's own length L: |1 - exp(2 pi i k L)|² = 2 (1 - cos(2 pi k L)).
    At chance moments k and -k together have the mean square (T passed/(pi k))² (1 - cos(2 pi k L)): the lines below.
    With instant edges and no exposure that is on the mean T²/pi² times the sum of 1/k², pi²/6: T²/6.

    Neither smear nor length is known but from the same frames: a sum near a whole number of frames may be one that is
    wrong. So the mean square is averaged over what `mixed` and `frames_open` leave likely of the blades, of the
    exposure, of the common length of the firings, and of the shutter's own scatter about it. Smears of the blades,
    exposures and lengths are taken as equally likely, scatters as equally likely in each octave.

    The error is a swing at a chance phase, whose fourth moment is 1.5 times its squared mean square (a normal one: 3).
    (A cosine at a chance phase: mean of cos⁴ over the square of that of cos², 3/8 over 1/4.) Averaged over mean squares
    that are hardly known it has long tails: the degrees of freedom are those of the Student's t with the same kurtosis,
    3 + 6 / (dof - 4).
    """
    k = np.arange(1, _TERMS + 1)
    blades = np.linspace(_LEAST_SPREAD_S / interval_s, _WIDEST, 24)[:, None]
    duties = np.array([duty]) if duty is not None else _DUTIES
    passed = np.sinc(k * duties[:, None]) * np.exp(-2 * (math.pi * k * blades[..., None]) ** 2)
    scatters = _SCATTERS * frames_open.mean()
    phase = np.cos(2 * math.pi * k * (frames_open.mean() + _AWAY)[:, None, None])
    phase = phase * np.exp(-2 * (math.pi * k * scatters[:, None]) ** 2)
    # by blades, exposure, length, scatter
    square = np.einsum("bdk,ltk->bdlt", (passed / (math.pi * k)) ** 2, 1 - phase)
    expected = square + scatters**2 + _AGREE**2
    found = frames_open.var() + _AWAY[:, None] ** 2
    log_p = -len(frames_open) / 2 * (np.log(expected) + found / expected)
    log_p += _likely(mixed, blades, duties)[..., None, None]
    p = np.exp(log_p - log_p.max())
    p /= p.sum()
    mean = float(np.sum(p * square))
    kurtosis = 1.5 * float(np.sum(p * square**2)) / max(mean, 1e-12) ** 2
    dof = 4 + 6 / (kurtosis - 3) if kurtosis > 3 else math.inf
    return BudgetLine("dead time", interval_s * math.sqrt(mean), dof)


def _likely(mixed: Floats, blades: Floats, duties: Floats) -> Floats:
    """Log likelihood of blades (rows) and exposures (columns) by what openings show of two edges each.

    At a random moment of the frames the expected sum is the integral of F(1 - F), F the smeared edge; how it scatters
    with the moment follows from F too. Blades are taken as normal, the exposure is a box.
    """
    if not len(mixed):
        return np.zeros((len(blades), len(duties)))
    moments = np.arange(-4, 4, 1 / 16)
    within = (np.arange(6) + 0.5) / 6 - 0.5  # of the exposure
    part = special.ndtr((moments[:, None] + duties[:, None, None] * within) / blades[..., None, None]).mean(axis=-1)
    edge = np.sum((part * (1 - part)).reshape(*part.shape[:2], 8, 16), axis=2)
    square = 2 * edge.var(axis=-1) / len(mixed) + _U_MIXED**2
    return np.asarray(-0.5 * (np.log(square) + (mixed.mean() - 2 * edge.mean(axis=-1)) ** 2 / square))
