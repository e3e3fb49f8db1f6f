"""The plane through depth readings, by generalised least squares."""

from dataclasses import dataclass

import numpy as np

from camerawright.bench.register.places import Floats, gathered


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
    def scatter_by_reading(self) -> float:
        """The scatter to be expected of independent errors of variance 1/weight: n − 3 where the fit weighs by these.

        The plane leaves R of them, R = 1 − A·P: on average the trace of RᵀWR·W⁻¹.
        """
        left = np.eye(self.n_readings) - self.design @ self.by_reading
        return float(self.weights @ (left**2 @ (1 / self.weights)))

    @property
    def differ(self) -> Floats:
        """How far each reading is from the mean of its place, beside what the slope explains, shape (n,). [mm]"""
        share = self.of_place * self.weights[:, np.newaxis]
        means = (share.T @ self.off) / share.sum(axis=0)
        return np.asarray(
            np.round(self.off - self.of_place @ means, 9)
        )  # equal readings differ by nothing in floats too

    @property
    def scatter_of_repeats(self) -> float:
        """The part of the scatter that the readings of each place have about their own mean."""
        return float(self.weights @ self.differ**2)

    @property
    def scatter_by_place(self) -> float:
        """The scatter to be expected of errors of variance 1 that the readings of a place share.

        The plane leaves R·M of them, M being `of_place` and R = 1 − A·P: on average the trace of (RM)ᵀW(RM).
        """
        left = self.of_place - self.design @ self.by_place
        return float(self.weights @ (left**2).sum(axis=1))


def fitted(x_mm: Floats, y_mm: Floats, depth_mm: Floats, weights: Floats, shared: float = 0.0) -> Plane:
    """The plane by generalised least squares.

    Parameters
    ----------
    x_mm, y_mm, depth_mm, weights : shape (n,)
        At three places or more that are not on one line. A reading has the variance 1/weight by itself.
    shared
        The variance of the error that all readings of a place share, in the unit of 1/weight. The larger it is, the
        less counts how often a place was read.

    Notes
    -----
    With the design A = [1, x, y] and V = W⁻¹ + shared·M·Mᵀ, M being `of_place`, the normal equations give
    p = (AᵀV⁻¹A)⁻¹AᵀV⁻¹·d = P·d. With V = L·Lᵀ, P is computed as the pseudo-inverse of L⁻¹A, times L⁻¹, which never
    forms AᵀV⁻¹A.
    """
    design = np.column_stack([np.ones_like(x_mm), x_mm, y_mm])
    i_place = gathered(x_mm, y_mm)
    of_place = np.eye(int(i_place.max()) + 1)[i_place]
    whiten = np.linalg.inv(np.linalg.cholesky(np.diag(1 / weights) + shared * of_place @ of_place.T))
    by_reading = np.linalg.pinv(whiten @ design) @ whiten
    parameters = by_reading @ depth_mm
    return Plane(
        parameters=parameters,
        design=design,
        weights=weights,
        by_reading=by_reading,
        of_place=of_place,
        off=depth_mm - design @ parameters,
    )
