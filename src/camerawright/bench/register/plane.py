"""The plane through depth readings, by least squares."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
_SAME_MM = 1e-6  # readings no farther apart are of one place


@dataclass(frozen=True, eq=False, kw_only=True)
class Plane:
    """A plane depth = r + a·x + b·y through n readings at m places.

    Attributes
    ----------
    parameters : shape (3,)
        r, a, b. [mm, 1, 1]
    design : shape (n, 3)
        1, x, y of each reading.
    weights : shape (n,)
        1/u² of each reading, or 1 for each. [1/mm², or 1]
    by_reading : shape (3, n)
        By how much each parameter changes with each reading.
    of_place : shape (n, m)
        1 where a reading is of a place, else 0.
    off : shape (n,)
        How far each reading lies from the plane; + is deeper. [mm]
    """

    parameters: Floats
    design: Floats
    weights: Floats
    by_reading: Floats
    of_place: Floats
    off: Floats

    @property
    def n_readings(self) -> int:
        """How many readings there are."""
        return len(self.off)

    @property
    def n_places(self) -> int:
        """How many places were read."""
        return int(self.of_place.shape[1])

    @property
    def n_spare(self) -> int:
        """How many readings there are beyond the three that a plane needs."""
        return self.n_readings - 3

    @property
    def n_repeats(self) -> int:
        """How many readings there are beyond one at each place."""
        return self.n_readings - self.n_places

    @property
    def by_place(self) -> Floats:
        """By how much each parameter changes with an error that all readings of a place share, shape (3, m)."""
        return self.by_reading @ self.of_place

    @property
    def covariance(self) -> Floats:
        """The covariance of the parameters from independent errors of variance 1/weight, shape (3, 3)."""
        return (self.by_reading / self.weights) @ self.by_reading.T

    @property
    def leverage(self) -> Floats:
        """By how much the plane follows each reading at its own place, 0 to 1, shape (n,)."""
        return np.asarray((self.design * self.by_reading.T).sum(axis=1))

    @property
    def leverage_of_places(self) -> Floats:
        """By how much the plane follows an error of each whole place there, 0 to 1, shape (m,)."""
        follows = self.design @ self.by_place
        return np.asarray((self.of_place * follows).max(axis=0))

    @property
    def scatter(self) -> float:
        """The weighted sum of squares about the plane."""
        return float(self.weights @ self.off**2)

    @property
    def scatter_of_repeats(self) -> float:
        """The part of the scatter that the readings of each place have about their own mean."""
        share = self.of_place * self.weights[:, np.newaxis]
        means = (share.T @ self.off) / share.sum(axis=0)
        return float(self.weights @ (self.off - self.of_place @ means) ** 2)

    @property
    def scatter_by_place(self) -> float:
        """The scatter to be expected of errors of variance 1 that the readings of a place share.

        The plane leaves R·M of them, M being `of_place` and R = 1 − A·P: on average the trace of (RM)ᵀW(RM).
        """
        left = self.of_place - self.design @ self.by_place
        return float(self.weights @ (left**2).sum(axis=1))


def fitted(x_mm: Floats, y_mm: Floats, depth_mm: Floats, weights: Floats) -> Plane:
    """The plane that makes the weighted sum of squares least.

    Parameters
    ----------
    x_mm, y_mm, depth_mm, weights : shape (n,)
        At three places or more that are not on one line.

    Notes
    -----
    With the design A = [1, x, y] and weights W, the normal equations give p = (AᵀWA)⁻¹AᵀW·d = P·d. P is computed as
    the pseudo-inverse of √W·A, times √W, which never forms AᵀWA.
    """
    design = np.column_stack([np.ones_like(x_mm), x_mm, y_mm])
    root = np.sqrt(weights)
    by_reading = np.linalg.pinv(design * root[:, np.newaxis]) * root
    parameters = by_reading @ depth_mm
    return Plane(
        parameters=parameters,
        design=design,
        weights=weights,
        by_reading=by_reading,
        of_place=_of_place(x_mm, y_mm),
        off=depth_mm - design @ parameters,
    )


def _of_place(x_mm: Floats, y_mm: Floats) -> Floats:
    """Which reading is of which place."""
    _, i_place = np.unique(np.round(x_mm / _SAME_MM) + 1j * np.round(y_mm / _SAME_MM), return_inverse=True)
    return np.eye(int(i_place.max()) + 1)[i_place]
