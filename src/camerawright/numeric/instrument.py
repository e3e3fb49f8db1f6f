"""What is remembered of a sound card's input: the poles of its coupling, better known with every recording."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

_MOST_APART = 13.8  # chi squared of two degrees of freedom, passed by chance once in 1000. Common practice
_DRIFT = 0.005  # u, relative: what a coupling capacitor changes by warmth between two days. Common practice
_OTHER = 0.25  # relative: by so much the corners of another input differ. Common practice


@dataclass(frozen=True, eq=False)
class Instrument:
    """An input: `a_per_s` and `b_per_s2` of its coupling (sum and product of the angular corners).

    `covariance` is theirs, shape (2, 2); `n_recordings` is how many recordings told it.
    """

    a_per_s: float
    b_per_s2: float
    covariance: Floats
    n_recordings: int


def combined(instrument: Instrument | None, a: float, b: float, covariance: Floats) -> Instrument:
    """What is known after one more recording.

    Parameters
    ----------
    instrument
        What was known before; None at first.
    a, b, covariance
        What a recording told by itself, without what was known: else it would count twice. Shape (2, 2) or more; a
        and b come first.

    Notes
    -----
    Weighted by the inverse covariances, as independent estimates are (textbook, from memory).
    """
    told = _invertible(covariance)
    if instrument is None:
        return Instrument(a, b, told, 1)
    old, new = np.linalg.inv(instrument.covariance), np.linalg.inv(told)
    joint = np.linalg.inv(old + new)
    mean = joint @ (old @ [instrument.a_per_s, instrument.b_per_s2] + new @ [a, b])
    return Instrument(float(mean[0]), float(mean[1]), joint, instrument.n_recordings + 1)


def agrees(instrument: Instrument, a: float, b: float, covariance: Floats) -> bool:
    """Whether a recording tells the same as what is known, so that both may be put together.

    Corners that drifted by half a per cent do: that moves no time by 0.0001 stop (docs/recording.md).
    """
    away = np.array([a - instrument.a_per_s, b - instrument.b_per_s2])
    drift = np.diag([(_DRIFT * instrument.a_per_s) ** 2, (2 * _DRIFT * instrument.b_per_s2) ** 2])
    apart = away @ np.linalg.solve(instrument.covariance + _invertible(covariance) + drift, away)
    return bool(apart <= _MOST_APART)


def is_another(instrument: Instrument, a: float, b: float, covariance: Floats) -> bool:
    """Whether a recording came from another input, or from another setting of it.

    By its few firings and its noise a recording may not agree with what is known though it came from the same; that is
    no reason to say so. Other inputs differ by more than a quarter.
    """
    return not agrees(instrument, a, b, covariance) and abs(a - instrument.a_per_s) > _OTHER * instrument.a_per_s


def _invertible(covariance: Floats) -> Floats:
    """That of a and b; a b that was not seen at all is as wide as a²."""
    both = np.array(covariance[:2, :2], dtype=np.float64)
    if both[1, 1] == 0:
        both[1, 1] = (2 * np.pi * 10) ** 4  # a second corner up to about that of the first was not ruled out
    return both
