"""What is doubtful about depth readings, in sentences for the bench."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy import special

from camerawright.bench.register.budget import BY_CHANCE, U_READING_MM, Errors, denies
from camerawright.bench.register.plane import Plane, fitted
from camerawright.bench.register.record import Gauge, Limits
from camerawright.quantity import t_quantile
from camerawright.wording import numbers

MOST_SCATTER_MM: Final = 0.03
"""Readings that scatter more about a plane are not taken rightly: a calliper is good for 0.02 mm. Common practice"""
MOST_LEVERAGE: Final = 0.9
"""A place that the plane follows so closely hardly shows that something lies under the gauge there. Common practice"""
COARSE_MM: Final = 0.05
"""The step of a vernier."""
MOST_OFF_NOMINAL_MM: Final = 1.0
"""No shims make up for more; something was not taken off the readings. Common practice"""


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


def tips_mrad(plane: Plane, gauge: Gauge) -> float | None:
    """By how much the plane tips from one round of readings to another, where that is beyond chance; else None.

    The first readings of all places are the first round, and so on: the rows are taken to be in the order in which they
    were read. It needs four places that were read equally often, twice or more.

    Notes
    -----
    Analysis of variance of what the readings of each place differ by, so that no uneven rail is taken for it: planes of
    the rounds, with 2(r − 1) degrees of freedom, over what is left of (m − 3)(r − 1), which is taken no smaller than
    rounding makes it.
    """
    n_times = plane.of_place.sum(axis=0).astype(int)
    n_rounds, n_places = int(n_times[0]), plane.n_places
    if n_rounds < 2 or n_places < 4 or (n_times != n_rounds).any():
        return None
    rows = np.array([np.flatnonzero(of_one) for of_one in plane.of_place.T]).T  # shape (rounds, places)
    differ = plane.off[rows] - plane.off[rows].mean(axis=0)
    at = plane.design[rows[0], 1:] - plane.design[rows[0], 1:].mean(axis=0)
    slopes = differ @ np.linalg.pinv(at).T  # shape (rounds, 2)
    tipping = float(((slopes @ at.T) ** 2).sum())
    level = n_places * float((differ.mean(axis=1) ** 2).sum())
    left = float((differ**2).sum()) - tipping - level
    dof_tipping, dof_left = 2 * (n_rounds - 1), (n_places - 3) * (n_rounds - 1)
    least = dof_left * gauge.step_mm**2 / 12
    limit = float(special.fdtri(dof_tipping, dof_left, 1 - BY_CHANCE))
    if tipping / dof_tipping <= limit * max(left, least) / dof_left:
        return None
    apart = slopes[:, np.newaxis, :] - slopes[np.newaxis, :, :]
    return 1e3 * float(np.sqrt((apart**2).sum(axis=2)).max())


def flags(
    plane: Plane, gauge: Gauge, off: Errors, limits: Limits | None, far: tuple[Outlier, ...], *, is_told: bool
) -> Iterator[str]:
    """Sentences about the readings as a whole; `far` are those that do not belong to the plane."""
    for one in far:
        yield far_off(plane, one)
    if not far:
        yield from _bent_or_rocking(plane, gauge, off)
    if is_told and denies(plane):
        yield "The readings scatter more than the u_mm beside them says. Their scatter is taken instead."
    yield from _too_few(plane, is_told=is_told)
    yield from _unchecked(plane)
    yield from _coarse(plane, gauge, limits)
    spread_mm = float(np.sqrt((plane.off**2).sum() / max(1, plane.n_spare)))
    if spread_mm > MOST_SCATTER_MM:
        yield (
            f"The readings scatter by {numbers.fixed(spread_mm, 2)} mm about a plane, which is too much. Look for a"
            " slip of the pen, for dirt under the gauge, and whether it stands square."
        )
    yield from _elsewhere(plane, limits)


def _elsewhere(plane: Plane, limits: Limits | None) -> Iterator[str]:
    """A register that is not where the readings are, or nowhere near the nominal."""
    if is_outside(plane):
        yield (
            "x = y = 0 lies outside the places that you read, so the register there is extrapolated. Count x and y from"
            " the centre of the gate, and read places on all sides of it."
        )
    if limits is not None and abs(plane.parameters[0] - limits.nominal_mm) > MOST_OFF_NOMINAL_MM:
        yield (
            f"The register is {numbers.fixed(abs(float(plane.parameters[0]) - limits.nominal_mm), 2)} mm off the"
            " nominal, more than any shim makes up for. Check that the nominal is that of this mount, and that you took"
            " the bridge of the gauge off the readings."
        )


def far_off(plane: Plane, one: Outlier) -> str:
    """What is said of a reading that does not belong to the plane of the others."""
    x_mm, y_mm = plane.design[one.i_reading, 1:]
    side = "deeper" if one.off_mm > 0 else "less deep"
    return (
        f"Reading {one.i_reading + 1}, at x = {numbers.short(x_mm)} and y = {numbers.short(y_mm)} mm, is"
        f" {numbers.fixed(abs(one.off_mm), 3)} mm {side} than the plane of the others,"
        f" {numbers.short(one.times, 2)} times their scatter. Read that place again; take the reading out if it was a"
        " slip."
    )


def _bent_or_rocking(plane: Plane, gauge: Gauge, off: Errors) -> Iterator[str]:
    """A plane that tips between rounds, or places that are on no plane."""
    mrad = tips_mrad(plane, gauge)
    if mrad is not None:
        yield (
            f"The plane tips by {numbers.fixed(mrad, 2)} mrad from one round of readings to another: the body rocks."
            " Bed it on three points, and read again."
        )
    if off.uneven:
        yield (
            "The places do not lie on one plane: they are"
            f" {numbers.fixed(float(np.sqrt(off.uneven)), 3)} mm off it, far more than your repeats differ. Look for"
            " dirt or a burr, a bent rail, a gauge that does not stand square, and a body that is twisted or rocks."
        )


def _too_few(plane: Plane, *, is_told: bool) -> Iterator[str]:
    """Too few readings to tell how well they repeat."""
    if is_told or plane.n_spare > 1:
        return
    if plane.n_spare == 1:
        yield (
            "There is one reading more than a plane needs, so the interval rests on that one and is wide. Read each"
            " place three times."
        )
    else:
        yield (
            "Three readings fit any plane, so they cannot tell how well they repeat."
            f" {numbers.short(U_READING_MM)} mm is assumed (common practice). Read five places, three times each."
        )


def _unchecked(plane: Plane) -> Iterator[str]:
    """Places whose error no other place shows."""
    if plane.n_places == 3 and plane.n_spare > 0:
        yield (
            "Three places lie on some plane, whatever they read. Dirt under the gauge at one of them would not be seen."
            " Read five places or more."
        )
    alone = np.flatnonzero(plane.leverage_of_places > MOST_LEVERAGE)
    if plane.n_places > 3 and len(alone):
        x_mm, y_mm = plane.design[np.flatnonzero(plane.of_place[:, alone[0]])[0], 1:]
        yield (
            f"No other place checks what you read at x = {numbers.short(x_mm)} and y = {numbers.short(y_mm)} mm:"
            " the others lie nearly on one line. Read more places on that side."
        )


def _coarse(plane: Plane, gauge: Gauge, limits: Limits | None) -> Iterator[str]:
    """A gauge too coarse for the tolerance, or one whose step may be coarser than the readings show."""
    if limits is not None and gauge.step_mm >= limits.tolerance_mm:
        yield (
            f"Steps of {numbers.short(gauge.step_mm)} mm are too coarse for a tolerance of"
            f" {numbers.short(limits.tolerance_mm)} mm. Use a depth micrometer."
        )
    depth_mm = plane.off + plane.design @ plane.parameters
    is_coarse = bool(np.allclose(depth_mm, COARSE_MM * np.round(depth_mm / COARSE_MM), rtol=0, atol=1e-6))
    if is_coarse and not gauge.is_step_told and gauge.step_mm < COARSE_MM:
        yield (
            f"All readings are multiples of {numbers.short(COARSE_MM)} mm, and {numbers.short(gauge.step_mm)} mm is"
            " taken for the step of the gauge. If its step is coarser, tell it as the resolution."
        )


def is_outside(plane: Plane) -> bool:
    """Whether x = y = 0 is outside all triangles of places: then all of them are within half a turn of it."""
    x_mm, y_mm = plane.design[:, 1], plane.design[:, 2]
    is_away = np.hypot(x_mm, y_mm) > 1e-9
    if not is_away.all():
        return False
    around = np.sort(np.arctan2(y_mm, x_mm))
    gaps = np.diff(np.append(around, around[0] + 2 * np.pi))
    return bool(gaps.max() > np.pi + 1e-9)
