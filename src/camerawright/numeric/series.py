"""What the order of a few readings tells: whether the first one stands apart, and whether they drift."""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import special

Floats = NDArray[np.float64]

LEAST_FOR_FIRST = 5
LEAST_FOR_DRIFT = 5


@dataclass(frozen=True)
class First:
    """How far the first reading is above the mean of the others, and how far chance may take it (99 %)."""

    away: float
    reach: float

    @property
    def stands_apart(self) -> bool:
        """Whether it is too far away to be a reading like the others."""
        return abs(self.away) > self.reach


@dataclass(frozen=True)
class Drift:
    """The change from the first to the last reading, and the probability of so clear an order by chance (two-sided)."""

    total: float
    probability: float


def first_against_others(readings: Floats) -> First | None:
    """Compare the first of a series with what the others predict for it; None for fewer than 5 in all.

    Parameters
    ----------
    readings : shape (n,)
        In order, in a unit in which all scatter alike.

    Notes
    -----
    The mean of the m others has the variance σ²/m and one more reading has σ², so their difference has σ² (1 + 1/m).
    With s for σ it follows Student's t of m - 1 degrees of freedom, so ``mean ± t(99 %, m - 1) s √(1 + 1/m)`` holds
    one more reading 99 % of the time. With five readings in all the first is noticed if it stands 6.5 s apart, with
    eight if 4 s.

    References
    ----------
    Prediction interval of one more normal observation; textbook, from memory.
    """
    if len(readings) < LEAST_FOR_FIRST:
        return None
    others = readings[1:]
    t = float(special.stdtrit(len(others) - 1, 0.995))
    reach = t * float(others.std(ddof=1)) * math.sqrt(1 + 1 / len(others))
    return First(float(readings[0] - others.mean()), reach)


def drift(readings: Floats) -> Drift | None:
    """Tell whether a series rises or falls, and by how much; None for fewer than 5 readings.

    Notes
    -----
    Test of Mann and Kendall: count the pairs of which the later reading is lower. In a random order of n readings that
    all differ, the k-th reading forms 0 to k - 1 such pairs with those before it, all equally likely and independent of
    the others. So the distribution of the count is the convolution of n uniform ones, which is exact. A pair of equal
    readings counts half. The change is the median of the slopes of all pairs (Theil and Sen) times n - 1 steps.

    References
    ----------
    [mann-1945], [sen-1968].
    """
    n = len(readings)
    if n < LEAST_FOR_DRIFT:
        return None
    i, j = np.triu_indices(n, 1)
    steps = readings[j] - readings[i]
    falling = float(np.count_nonzero(steps < 0)) + 0.5 * float(np.count_nonzero(steps == 0))
    counts = np.ones(1)
    for k in range(2, n + 1):
        counts = np.convolve(counts, np.full(k, 1 / k))
    fewer = math.floor(min(falling, len(i) - falling))
    probability = min(1.0, 2 * float(counts[: fewer + 1].sum()))
    return Drift(float(np.median(steps / (j - i))) * (n - 1), probability)
