"""How the planes of the rounds differ: a zero that moved, a body that rocks, and what is left as the hand's scatter."""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy import special

from camerawright.bench.register.places import Floats, rounds
from camerawright.bench.register.plane import Plane

BY_CHANCE: Final = 0.01
"""What chance does less often than this is said."""


def surely(seen: float, known: float, dof: float, dof_known: float) -> float:
    """How surely one variance is larger than another, from 0 at the median of what chance makes of them to 1.

    Notes
    -----
    2 F − 1, F being the probability that chance alone makes their ratio smaller. An excess that counted whole however
    slight would widen every honest interval, and one that counted only beyond a limit would be forgotten below it.
    """
    if seen <= known:
        return 0.0
    if known <= 0:
        return 1.0
    times = seen / known
    below = special.chdtr(dof, dof * times) if np.isinf(dof_known) else special.fdtr(dof, dof_known, times)
    return max(0.0, 2 * float(below) - 1)


@dataclass(frozen=True)
class Scatter:
    """A weighted sum of squares and its degrees of freedom."""

    squares: float = 0.0
    dof: int = 0

    def __add__(self, other: "Scatter") -> "Scatter":
        return Scatter(self.squares + other.squares, self.dof + other.dof)

    @property
    def variance(self) -> float:
        """The mean square, 0 where nothing tells it."""
        return self.squares / self.dof if self.dof else 0.0

    def exceeds(self, other: "Scatter", least: float) -> bool:
        """Whether it is larger beyond chance, the other being no smaller than `least`. F test."""
        if not self.dof or not other.dof:
            return False
        limit = float(special.fdtri(self.dof, other.dof, 1 - BY_CHANCE))
        return self.variance > limit * max(other.variance, least)


@dataclass(frozen=True, eq=False, kw_only=True)
class Between:
    """What the repeats tell.

    Attributes
    ----------
    repeats
        All that the readings of each place differ by.
    reading
        That part of it which belongs to single readings: all of it, unless whole rounds differ beyond chance.
    is_moved, is_tipped
        Whether rounds stand higher than others, or slope otherwise, beyond chance.
    planes : shape (r, 3)
        How far the plane of each round is from the mean of them. [mm, 1, 1] No rows where there are no rounds.
    risen_mm : shape (r,)
        How far each round is from the mean of them, on average over the places.
    alone : shape (3, 3)
        The covariance of the plane of one round that readings of variance 1/weight make.
    """

    repeats: Scatter
    reading: Scatter
    is_moved: bool = False
    is_tipped: bool = False
    planes: Floats
    alone: Floats
    risen_mm: Floats

    @property
    def dof(self) -> int:
        """How many rounds there are beyond the first."""
        return max(0, len(self.planes) - 1)

    def excess(self, reading: float, dof: float) -> Floats:
        """The covariance of the mean plane that the rounds add to readings of such a variance, shape (3, 3).

        Notes
        -----
        The planes of r rounds have the covariance S about their mean. Readings alone would make it `reading` times
        `alone`. What S has more of it, for each of the three parameters, no repeat within the round lessens; the mean
        of r rounds has 1/r of it. It counts as far as `surely` says.
        """
        if not self.dof:
            return np.zeros((3, 3))
        seen = self.planes.T @ self.planes / self.dof
        own = np.diag(seen)
        known = reading * np.diag(self.alone)
        sure = [surely(one, other, self.dof, dof) for one, other in zip(own, known, strict=True)]
        more = np.maximum(0.0, own - known) * sure
        share = np.sqrt(np.divide(more, own, out=np.zeros(3), where=own > 0))
        return np.asarray(seen * np.outer(share, share) / len(self.planes))


def between_rounds(plane: Plane, least: float) -> Between:
    """Take apart by what the repeats differ; a reading scatters by no less than `least`. [mm²]

    Notes
    -----
    Analysis of variance of what the readings of each place differ by, so that no uneven rail is taken for a round: the
    mean of each round has r − 1 degrees of freedom, its slopes have 2(r − 1), and (m − 3)(r − 1) are left. The larger
    of the first two is tested against all the rest, then the other.
    """
    repeats = Scatter(plane.scatter_of_repeats, plane.n_repeats)
    rows = rounds(plane.of_place.argmax(axis=1))
    if rows is None:
        none = np.zeros((0, 3))
        return Between(repeats=repeats, reading=repeats, planes=none, alone=np.zeros((3, 3)), risen_mm=none[:, 0])
    by_place = [_by_reading(plane, row) for row in rows]
    differ = plane.differ
    planes = np.array([by @ differ[row] for by, row in zip(by_place, rows, strict=True)])
    planes -= planes.mean(axis=0)
    alone = np.mean([(by / plane.weights[row]) @ by.T for by, row in zip(by_place, rows, strict=True)], axis=0)
    risen = planes @ plane.design[rows].mean(axis=1).mean(axis=0)
    every = sum(
        float(plane.weights[row] @ (plane.design[row] @ one) ** 2) for row, one in zip(rows, planes, strict=True)
    )
    n_more = len(rows) - 1
    level = Scatter(float(plane.weights[rows].sum(axis=1) @ risen**2), n_more)
    tilt = Scatter(max(0.0, every - level.squares), 2 * n_more)
    left = Scatter(max(0.0, repeats.squares - every), (plane.n_places - 3) * n_more)
    reading, beyond = _tested(left, level, tilt, least * float(plane.weights.mean()))
    return Between(
        repeats=repeats,
        reading=reading,
        is_moved=level in beyond,
        is_tipped=tilt in beyond,
        planes=planes,
        alone=alone,
        risen_mm=risen,
    )


def _by_reading(plane: Plane, row: NDArray[np.intp]) -> Floats:
    """By how much the plane of one round changes with each of its readings, shape (3, m). Weighted least squares."""
    root = np.sqrt(plane.weights[row])
    return np.asarray(np.linalg.pinv(plane.design[row] * root[:, np.newaxis]) * root)


def _tested(left: Scatter, level: Scatter, tilt: Scatter, least: float) -> tuple[Scatter, list[Scatter]]:
    """What belongs to single readings, and what is beyond chance."""
    larger, smaller = sorted((level, tilt), key=lambda each: -each.variance)
    if not larger.exceeds(left + smaller, least):
        return left + smaller + larger, []
    if not smaller.exceeds(left, least):
        return left + smaller, [larger]
    return left, [larger, smaller]
