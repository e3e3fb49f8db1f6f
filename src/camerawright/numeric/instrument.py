"""What is remembered of a sound card's input: the poles of its AC coupling, better known with every recording."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

# Chi squared of two degrees of freedom is above x with probability exp(-x/2): above 13.8 once in 1000
_MOST_APART = 13.8
_DRIFT = 0.005  # u, relative: how much warmth changes a coupling capacitor from one day to another. Common practice
_OTHER = 0.25  # relative: the corners of another input differ by at least this much. Common practice


@dataclass(frozen=True, eq=False)
class Instrument:
    """An input of a sound card.

    `a_per_s` and `b_per_s2` are the sum and the product of the angular corners of its coupling; `covariance` is theirs,
    shape (2, 2); `n_recordings` counts the recordings that they come from.
    """

    a_per_s: float
    b_per_s2: float
    covariance: Floats
    n_recordings: int


def combined(instrument: Instrument | None, a: float, b: float, covariance: Floats) -> Instrument:
    """Add what one more recording told.

    Parameters
    ----------
    instrument
        What was known before; None for the first recording.
    a, b, covariance
        What the recording told by itself. It must not have used what was known, which would then count twice. Of a
        larger covariance the first two rows and columns are used.

    Notes
    -----
    The most likely θ makes (θ - θ1)ᵀ C1⁻¹ (θ - θ1) + (θ - θ2)ᵀ C2⁻¹ (θ - θ2) least. Its gradient is zero at
    θ = C (C1⁻¹ θ1 + C2⁻¹ θ2) with C = (C1⁻¹ + C2⁻¹)⁻¹, which is also the covariance of θ.
    """
    told = _invertible(covariance)
    if instrument is None:
        return Instrument(a, b, told, 1)
    old, new = np.linalg.inv(instrument.covariance), np.linalg.inv(told)
    joint = np.linalg.inv(old + new)
    mean = joint @ (old @ [instrument.a_per_s, instrument.b_per_s2] + new @ [a, b])
    return Instrument(float(mean[0]), float(mean[1]), joint, instrument.n_recordings + 1)


def agrees(instrument: Instrument, a: float, b: float, covariance: Floats) -> bool:
    """Whether a recording agrees with what is known, so that both may be joined.

    Corners that have drifted by half a per cent agree: that moves no time by 0.0001 stop (docs/recording.md).

    Notes
    -----
    The difference of two independent estimates has the sum of their covariances; dᵀ (C1 + C2)⁻¹ d is then chi squared
    of two degrees of freedom. A drift of both corners by the part δ changes their sum a by δ and their product b by 2δ.
    """
    away = np.array([a - instrument.a_per_s, b - instrument.b_per_s2])
    drift = np.diag([(_DRIFT * instrument.a_per_s) ** 2, (2 * _DRIFT * instrument.b_per_s2) ** 2])
    apart = away @ np.linalg.solve(instrument.covariance + _invertible(covariance) + drift, away)
    return bool(apart <= _MOST_APART)


def is_another(instrument: Instrument, a: float, b: float, covariance: Floats) -> bool:
    """Whether a recording came from another input, or from another setting of the same one.

    A recording of few firings and much noise may disagree although it came from the same input; that alone is not worth
    a word. Other inputs differ by more than a quarter.
    """
    return not agrees(instrument, a, b, covariance) and abs(a - instrument.a_per_s) > _OTHER * instrument.a_per_s


def _invertible(covariance: Floats) -> Floats:
    """Covariance of a and b; if no second pole was seen, b may be anything up to what two corners of 10 Hz give."""
    both = np.array(covariance[:2, :2], dtype=np.float64)
    if both[1, 1] == 0:
        # the fit left b at 0 ± 0; but a second corner about as high as a usual first one was not ruled out
        both[1, 1] = (2 * np.pi * 10) ** 4
    return both
