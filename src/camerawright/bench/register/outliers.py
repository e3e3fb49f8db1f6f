"""Readings that do not belong to the plane of the others."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from camerawright.bench.register.between import BY_CHANCE
from camerawright.bench.register.plane import Plane, fitted
from camerawright.bench.register.record import Gauge
from camerawright.quantity import t_quantile


@dataclass(frozen=True, kw_only=True)
class Outlier:
    """A reading far from the plane of the others: by how much, and how many times their scatter."""

    i_reading: int
    off_mm: float
    times: float


def outliers(plane: Plane, gauge: Gauge) -> tuple[Outlier, ...]:
    """The readings that do not belong to the plane of the others, the worst first; at most a third.

    Notes
    -----
    A reading is off the plane of the others by its residual over 1 − h, h being its leverage; that has the variance
    s²/(1 − h), s from the others alone. It is Student's t of n − 4 degrees of freedom, tested at 1 % over all n
    (Bonferroni). s is taken no smaller than rounding and rails make it.
    """
    left = np.arange(plane.n_readings)
    found: list[Outlier] = []
    while len(found) < plane.n_readings // 3:
        worst = _worst(plane, gauge)
        if worst is None:
            break
        found.append(Outlier(i_reading=int(left[worst.i_reading]), off_mm=worst.off_mm, times=worst.times))
        keep = np.arange(plane.n_readings) != worst.i_reading
        left = left[keep]
        plane = _of_some(plane, keep)
    return tuple(found)


def _worst(plane: Plane, gauge: Gauge) -> Outlier | None:
    """The reading that is farthest off the plane of all others, where that is beyond chance."""
    dof = plane.n_spare - 1
    if dof < 1:
        return None
    free = 1 - plane.leverage
    is_told_by_others = free > 1e-6
    off = np.where(is_told_by_others, plane.off, 0.0) / np.where(is_told_by_others, free, 1.0)
    others = np.maximum(0.0, plane.scatter - plane.weights * plane.off * off) / dof
    least = plane.weights * (gauge.step_mm**2 / 12 + gauge.rails_mm**2 / 3)
    times = np.abs(off) * np.sqrt(plane.weights * np.maximum(free, 1e-6) / np.maximum(others, least))
    i_worst = int(np.argmax(times))
    if times[i_worst] <= t_quantile(1 - BY_CHANCE / (2 * plane.n_readings), dof):
        return None
    return Outlier(i_reading=i_worst, off_mm=float(off[i_worst]), times=float(times[i_worst]))


def _of_some(plane: Plane, keep: NDArray[np.bool_]) -> Plane:
    x_mm, y_mm = plane.design[keep, 1], plane.design[keep, 2]
    depth_mm = plane.off[keep] + plane.design[keep] @ plane.parameters
    return fitted(x_mm, y_mm, depth_mm, plane.weights[keep])
