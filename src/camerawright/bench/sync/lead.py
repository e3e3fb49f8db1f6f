"""The lag of the contact's lead, and its undoing.

A lead and an input have a capacitance C. What feeds it through a resistance R, the input sees late: v' = (x - v) / RC,
so that x = v + RC v'. Where R stands between contact and input, make and break both lag. Where the contact itself
charges C and a resistor discharges it, only one of them does. So each has its own lag here.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from camerawright.numeric.samples import Samples

Floats = NDArray[np.float64]

_FROM, _FOR = 2, 40  # samples after an edge: before, the anti-alias filter rings; later, nothing is left of the tail
_ALIKE = 0.3  # of the lag: what is further off followed no edge
_LEAST, _SURE = 0.3, 5.0  # samples of lag, and how many u it must be, to be taken for one


@dataclass(frozen=True)
class Lag:
    """How far what the input sees lags where it rises and where it falls, in samples."""

    rising: float = 0.0
    falling: float = 0.0

    @property
    def longest(self) -> float:
        """The longer of the two."""
        return max(self.rising, self.falling)

    @property
    def is_one_sided(self) -> bool:
        """Whether what lags one way hardly lags the other."""
        return min(self.rising, self.falling) < 0.5 * self.longest

    @property
    def noise_gain(self) -> float:
        """How much louder the undoing makes white noise: (v[n+1] - v[n-1]) / 2 has half of its variance."""
        return float(np.sqrt(1 + self.longest**2 / 2))

    def turned(self, sign: float) -> "Lag":
        """The same for the signal upside down, where the sign is negative."""
        return self if sign > 0 else Lag(self.falling, self.rising)

    def undone(self, volts: Floats) -> Floats:
        """What the contact did, shape (n,): the slope, times the lag, added."""
        if not self.longest:
            return volts
        slope = np.gradient(volts)
        return np.asarray(volts + np.where(slope > 0, self.rising, self.falling) * slope)


NONE: Final = Lag()
_SERIES: Final = tuple(Lag(n, n) for n in (2.5, 5.0, 10.0))
_ONE_SIDED: Final = tuple(lag for n in (2.5, 5.0, 10.0) for lag in (Lag(n, 0.0), Lag(0.0, n)))
TRIED: Final = (NONE, *_SERIES, *_ONE_SIDED)
"""Lags to look for steps with, in samples; the fit to the tails then finds the lead's own."""


@dataclass(frozen=True)
class Undone:
    """A channel with the lag of its lead undone, read in stretches as they are needed; within its own limits.

    A contact does not leave them, and a sharp edge of a lead that lags the other way only would become a spike.
    """

    channel: Samples
    lag: Lag
    low: float
    high: float

    def __len__(self) -> int:
        return len(self.channel)

    def __getitem__(self, stretch: slice, /) -> Floats:
        start, stop, _ = stretch.indices(len(self))
        first, last = max(0, start - 1), min(len(self), stop + 1)
        volts = self.channel[first:last]
        if len(volts) < 2:
            return volts
        undone = self.lag.undone(volts)[start - first : start - first + max(0, stop - start)]
        return np.clip(undone, self.low, self.high)


@dataclass(frozen=True)
class Tail:
    """What follows an edge until it has settled or the next edge comes: how far from its level, and its slope."""

    rises: bool
    away: Floats
    slope: Floats


def tails(volts: Floats, level: float, edges: Sequence[tuple[int, bool]]) -> list[Tail]:
    """Cut out what follows each edge of a contact's voltage.

    Parameters
    ----------
    volts : shape (n,)
        The voltage, 0 for open.
    level
        That of the closed contact.
    edges
        The last sample before each edge, and whether it rises.
    """
    slope = np.gradient(volts)
    ends = [at for at, _ in edges[1:]] + [len(volts)]
    out = []
    for (at, rises), end in zip(edges, ends, strict=True):
        part = slice(at + 1 + _FROM, min(end - _FROM, at + _FOR))
        out.append(Tail(rises, (level if rises else 0.0) - volts[part], slope[part]))
    return out


def lag_from(found: Sequence[Tail]) -> Lag:
    """The lag that explains how far the tails are from their level: away = lag x slope, by least squares."""
    return Lag(*(_fitted([tail for tail in found if tail.rises is rises]) for rises in (True, False)))


def _fitted(found: Sequence[Tail]) -> float:
    """The lag of the edges of one direction, 0 where none is seen; a tail unlike the others followed no edge."""
    powers = np.array([float(tail.slope @ tail.slope) for tail in found])
    found = [tail for tail, power in zip(found, powers, strict=True) if power > 0]
    powers = powers[powers > 0]
    if not len(powers):
        return 0.0
    each = np.array([float(tail.away @ tail.slope) for tail in found]) / powers
    usual = _weighted_median(each, powers)
    alike = [tail for tail, lag in zip(found, each, strict=True) if abs(lag - usual) <= _ALIKE * abs(usual)]
    away, slope = (np.concatenate([getattr(tail, name) for tail in alike]) for name in ("away", "slope"))
    power = float(slope @ slope)
    lag = float(away @ slope) / power
    u = float(np.sqrt(np.mean((away - lag * slope) ** 2) / power))
    return lag if len(away) > _FROM and lag > max(_LEAST, _SURE * u) else 0.0


def _weighted_median(values: Floats, weights: Floats) -> float:
    """The value below and above which lies half of the weight."""
    order = np.argsort(values)
    return float(values[order][np.searchsorted(np.cumsum(weights[order]), weights.sum() / 2)])
