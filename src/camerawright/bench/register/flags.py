"""What is doubtful about depth readings, in sentences for the bench."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

import numpy as np
from scipy import special

from camerawright.bench.register.between import BY_CHANCE, Between
from camerawright.bench.register.budget import U_READING_MM, Errors, expected
from camerawright.bench.register.outliers import Outlier
from camerawright.bench.register.plane import Plane
from camerawright.bench.register.record import MOST_SHIMS_MM, Gauge, Limits
from camerawright.bench.register.steps import doubt_of_told, named
from camerawright.wording import numbers

MOST_SCATTER_MM: Final = 0.03
"""Readings that scatter more about a plane are not taken rightly: a calliper is good for 0.02 mm. Common practice"""
MOST_LEVERAGE: Final = 0.9
"""A place that the plane follows so closely hardly shows that something lies under the gauge there. Common practice"""
_FEW: Final = 2  # more places are no help to the one who looks
_ALIKE: Final = 0.9  # of two places that explain nearly as much, either may be the cause
COARSE_MM: Final = 0.05
"""The step of a vernier."""
_EQUAL_MM: Final = 1e-6
NEAR_EDGE: Final = 0.05
"""x = y = 0 nearer to the edge of the places than this share of their width is doubted. Common practice"""


@dataclass(frozen=True, eq=False)
class Seen:
    """How far readings, places and rounds are off, and what the repeats tell."""

    off: Errors
    between: Between


def denies(between: Between) -> bool:
    """Whether repeats differ by more than the u that they came with, beyond chance."""
    return between.reading.dof > 0 and between.reading.squares > float(special.chdtri(between.reading.dof, BY_CHANCE))


def tips_mrad(between: Between) -> float:
    """By how much the plane tips, at most, from one round to another. [mrad]"""
    apart = between.planes[:, np.newaxis, 1:] - between.planes[np.newaxis, :, 1:]
    return 1e3 * float(np.sqrt((apart**2).sum(axis=2)).max())


def is_uneven(plane: Plane, off: Errors) -> bool:
    """Whether the places lie off the plane by more than chance makes of what is known of them. F test, lack of fit."""
    spare = plane.n_places - 3
    if not off.uneven or (plane.n_repeats < 1 and off.kind == "A"):
        return False
    limit = special.chdtri(spare, BY_CHANCE) / spare
    if np.isfinite(off.dof):
        limit = special.fdtri(spare, off.dof, 1 - BY_CHANCE)
    return bool(plane.scatter - plane.scatter_of_repeats > limit * expected(plane, off))


def suspects(plane: Plane) -> list[int]:
    """The places that explain most of what the places are off: one, or those that the plane cannot tell apart.

    Notes
    -----
    Without place j the scatter of the places' means falls by d²/(1 − h), d being how far it is off and h its leverage.
    """
    means = (plane.of_place.T @ plane.off) / plane.of_place.sum(axis=0)
    explains = means**2 / np.maximum(1e-6, 1 - plane.leverage_of_places)
    return [int(j) for j in np.flatnonzero(explains >= _ALIKE * explains.max())]


def flags(
    plane: Plane, gauge: Gauge, seen: Seen, limits: Limits | None, far: tuple[Outlier, ...], *, is_told: bool
) -> Iterator[str]:
    """Sentences about the readings as a whole; `far` are those that do not belong to the plane."""
    yield from _far(plane, far)
    if not far:
        yield from _bent_or_rocking(plane, seen)
    if is_told and denies(seen.between):
        yield "The readings scatter more than the u_mm beside them says. Their scatter is taken instead."
    yield from _too_few(plane, is_told=is_told)
    yield from _unchecked(plane, is_told=is_told)
    yield from _coarse(plane, gauge, limits)
    spread_mm = float(np.sqrt((plane.off**2).sum() / max(1, plane.n_spare)))
    if spread_mm > MOST_SCATTER_MM:
        yield (
            f"The readings scatter by {numbers.fixed(spread_mm, 2)} mm about a plane, which is too much. Look for a"
            " slip of the pen, for dirt under the gauge, and whether it stands square."
        )
    yield from _elsewhere(plane, limits)
    yield from _leans_out(plane, limits)


def _leans_out(plane: Plane, limits: Limits | None) -> Iterator[str]:
    """A plane that is within its limits at the centre and leaves them at a place that was read."""
    if limits is None:
        return
    depth_mm = plane.design @ plane.parameters
    beyond_mm = np.abs(depth_mm - limits.nominal_mm) - limits.tolerance_mm
    i = int(np.argmax(beyond_mm))
    if abs(plane.parameters[0] - limits.nominal_mm) > limits.tolerance_mm or beyond_mm[i] <= U_READING_MM:
        return
    place = where(plane, int(plane.of_place[i].argmax()))
    yield (
        f"The verdict is on the centre alone. The plane leans: at {place} it lies"
        f" {numbers.fixed(float(beyond_mm[i]), 3)} mm beyond what is allowed. Level it before you trust the register."
    )


def _elsewhere(plane: Plane, limits: Limits | None) -> Iterator[str]:
    """A register that is not where the readings are, or nowhere near the nominal."""
    if is_outside(plane):
        yield (
            "x = y = 0 lies outside the places that you read, or at their edge. The register is told for that point,"
            " which should be the centre of the gate. Count x and y from there, and read places on all sides of it."
        )
    if limits is not None and abs(plane.parameters[0] - limits.nominal_mm) > MOST_SHIMS_MM:
        yield (
            f"The register is {numbers.fixed(abs(float(plane.parameters[0]) - limits.nominal_mm), 2)} mm off the"
            " nominal, more than any shim makes up for. Check that the nominal is that of this mount, and that you took"
            " the bridge of the gauge off the readings."
        )


def _far(plane: Plane, far: tuple[Outlier, ...]) -> Iterator[str]:
    """The readings that do not belong to the plane of the others; all those of one place at once."""
    i_place = plane.of_place.argmax(axis=1)
    for j in dict.fromkeys(int(i_place[one.i_reading]) for one in far):
        there = [one for one in far if i_place[one.i_reading] == j]
        if len(there) == (i_place == j).sum() > 1:
            off_mm = float(np.mean([one.off_mm for one in there]))
            yield (
                f"All readings at {where(plane, j)} are {_apart(off_mm)} than the plane of the others. Look for dirt or"
                " a burr there, on the rail, under the plate and under the gauge."
            )
        else:
            yield from (far_off(plane, one) for one in there)


def far_off(plane: Plane, one: Outlier) -> str:
    """What is said of a reading that does not belong to the plane of the others."""
    x_mm, y_mm = plane.design[one.i_reading, 1:]
    return (
        f"Reading {one.i_reading + 1}, at x = {numbers.short(x_mm)} and y = {numbers.short(y_mm)} mm, is"
        f" {_apart(one.off_mm)} than the plane of the others,"
        f" {numbers.short(one.times, 2)} times their scatter. Read that place again; take the reading out if it was a"
        " slip."
    )


def _apart(off_mm: float) -> str:
    """How far, and to which side."""
    return f"{numbers.fixed(abs(off_mm), 3)} mm {'deeper' if off_mm > 0 else 'less deep'}"


def where(plane: Plane, i_place: int) -> str:
    """The first reading of a place, in words."""
    x_mm, y_mm = plane.design[plane.of_place[:, i_place].argmax(), 1:]
    return f"x = {numbers.short(x_mm)} and y = {numbers.short(y_mm)} mm"


def _bent_or_rocking(plane: Plane, seen: Seen) -> Iterator[str]:
    """Rounds that stand or slope otherwise, or places that are on no plane."""
    if seen.between.is_moved:
        apart_mm = float(np.ptp(seen.between.risen_mm))
        yield (
            f"The rounds stand up to {numbers.fixed(apart_mm, 3)} mm higher or lower than one another: the zero of the"
            " gauge moves, or the body settles. Check the gauge on the block now. Take what it is off from the readings"
            " that it spoiled, or set it and read again."
        )
    if seen.between.is_tipped:
        yield (
            f"The plane tips by {numbers.fixed(tips_mrad(seen.between), 2)} mrad from one round of readings to another:"
            " the body rocks. Bed it on three points, and read again."
        )
    if is_uneven(plane, seen.off):
        off_mm = numbers.fixed(float(np.sqrt(seen.off.uneven)), 3)
        first = [where(plane, j) for j in suspects(plane)]
        at = f", first at {' or at '.join(first)}" if len(first) <= _FEW else ""
        yield (
            f"The places do not lie on one plane: they are {off_mm} mm off it, far more than your repeats differ. Look"
            f" for dirt or a burr{at}. It may also be a bent rail, a gauge that does not stand square, or a body that"
            " is twisted or rocks."
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


def _unchecked(plane: Plane, *, is_told: bool) -> Iterator[str]:
    """Places whose error no other place shows."""
    if plane.n_places == 3 and (is_told or plane.n_spare > 0):
        yield (
            "Three places lie on some plane, whatever they read. Dirt under the gauge at one of them would not be seen."
            " Read five places or more."
        )
    alone = np.flatnonzero(plane.leverage_of_places > MOST_LEVERAGE)
    if plane.n_places > 3 and len(alone):
        yield (
            f"No other place checks what you read at {where(plane, int(alone[0]))}:"
            " the others lie nearly on one line. Read more places on that side."
        )


def _coarse(plane: Plane, gauge: Gauge, limits: Limits | None) -> Iterator[str]:
    """A gauge too coarse for the tolerance, a step that the readings deny, or one that they may hide."""
    step = named(gauge.step_mm)
    if limits is not None and gauge.step_mm >= limits.tolerance_mm:
        coarse = f"too coarse for a tolerance of {numbers.short(limits.tolerance_mm)} mm"
        if gauge.is_step_told:
            yield f"Steps of {step} are {coarse}. Use a depth micrometer."
        else:
            yield (
                f"The readings seem to go in steps of {step}, which is {coarse}. If the gauge has finer steps, tell"
                " them as the resolution. If not, use a depth micrometer."
            )
    depth_mm = plane.off + plane.design @ plane.parameters
    if gauge.is_step_told:
        yield from filter(None, [doubt_of_told(depth_mm, gauge.step_mm)])
    elif np.ptp(depth_mm) < _EQUAL_MM and abs(depth_mm[0] - COARSE_MM * round(depth_mm[0] / COARSE_MM)) < _EQUAL_MM:
        yield (
            f"All readings are {numbers.short(float(depth_mm[0]), 7)} mm, and {step} is taken for the step of the"
            " gauge. If its step is coarser, tell it as the resolution."
        )


def is_outside(plane: Plane) -> bool:
    """Whether x = y = 0 lies outside the places, or so near their edge that somebody may have counted from a corner.

    Notes
    -----
    The support of the places in a direction is how far they reach that way, counted from x = y = 0. The point is inside
    where they reach beyond it in every direction, and so far from the edge as the least reach.
    """
    at = plane.design[:, 1:]
    turns = np.linspace(0, 2 * np.pi, 720, endpoint=False)
    reach = (at @ np.array([np.cos(turns), np.sin(turns)])).max(axis=0)
    return bool(reach.min() < NEAR_EDGE * np.hypot(*np.ptp(at, axis=0)))
