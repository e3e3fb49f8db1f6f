"""What the order of a few readings tells: a first one that stands apart, and drift."""

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
    """The first reading against the others: how far above their mean, and how far chance takes one (99 %)."""

    away: float
    reach: float

    @property
    def stands_apart(self) -> bool:
        """Whether it is no reading like the others."""
        return abs(self.away) > self.reach


@dataclass(frozen=True)
class Drift:
    """The change from the first to the last reading, and how often chance makes so clear an order (two-sided)."""

    total: float
    probability: float


def first_against_others(readings: Floats) -> First | None:
    """The first of a series against the prediction interval of the others; None for fewer than 5 in all.

    Parameters
    ----------
    readings : shape (n,)
        In order, in any unit in which they scatter alike.

    Notes
    -----
    ``mean ± t(99 %, m - 1) s √(1 + 1/m)`` of the m others holds one more normal reading 99 % of the time. With five
    readings in all a first one must stand 6.5 s apart to be noticed, with eight 4 s.

    References
    ----------
    Prediction interval for one future normal observation; textbook, from memory.
    """
    if len(readings) < LEAST_FOR_FIRST:
        return None
    others = readings[1:]
    t = float(special.stdtrit(len(others) - 1, 0.995))
    reach = t * float(others.std(ddof=1)) * math.sqrt(1 + 1 / len(others))
    return First(float(readings[0] - others.mean()), reach)


def drift(readings: Floats) -> Drift | None:
    """Whether a series rises or falls, by Mann and Kendall, and by how much, by Theil and Sen; None for fewer than 5.

    Notes
    -----
    The probability is exact for readings that all differ: the number of pairs in falling order has the distribution
    of the inversions of a random order, which has a simple recursion.

    References
    ----------
    Mann (1945), Econometrica 13, 245; Sen (1968), J. Am. Stat. Assoc. 63, 1379; both from memory.
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
