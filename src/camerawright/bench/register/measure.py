"""Register and slope of a film plane from depth readings: the least-squares plane, with what makes it uncertain."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

import numpy as np

from camerawright.bench.register import budget, flags
from camerawright.bench.register.between import between_rounds
from camerawright.bench.register.outliers import Outlier, outliers
from camerawright.bench.register.places import Floats, gathered
from camerawright.bench.register.plane import Plane, fitted
from camerawright.bench.register.record import Gauge, Limits, Reading
from camerawright.quantity import Quantity, Verdict, verdict
from camerawright.trouble import NotMeasurable
from camerawright.wording import numbers

METHOD: Final = "register by depth readings, version 2"

DEPTHS_MM: Final = (2.0, 300.0)
"""Registers from the smallest cameras to plate cameras, with a bridge under the gauge. Common practice"""
MOST_AT_MM: Final = 200.0
"""Farther from the centre no place of a gate is: half the diagonal of 20 × 25 cm is 160 mm."""
MOST_U_MM: Final = 1.0
MOST_SLOPE: Final = 0.02
"""0.7 mm over 36 mm: no body is so bent, and no gauge stands so askew. Common practice"""
LEAST_WIDTH: Final = 0.125
"""Places on one line: their spread across it over that along it. The longest gate, 24 × 65 mm, has 0.37."""
LEAST_REACH_MM: Final = 3.5
"""Places no farther apart along either axis were not counted in millimetres: the smallest gate has 8 × 11 mm."""


@dataclass(frozen=True, kw_only=True)
class Measured:
    """The plane, with budgets; `covariance` of register [mm] and slopes [mrad], shape (3, 3)."""

    readings: tuple[Reading, ...]
    n_places: int
    register: Quantity
    slope_x: Quantity
    slope_y: Quantity
    covariance: Floats
    flags: tuple[str, ...]
    verdict: Verdict | None


def measure(columns: Mapping[str, Floats], gauge: Gauge, limits: Limits | None = None) -> Measured:
    """Fit the plane, and judge its depth at x = y = 0.

    Parameters
    ----------
    columns
        `x_mm`, `y_mm`, `depth_mm`, and `u_mm` where each reading came with its standard uncertainty; shape (n,) each.

    Raises
    ------
    NotMeasurable
        Fewer than three places, all on one line, values that cannot be, a slope that cannot be.

    References
    ----------
    [jcgm-100] 4.2.3 and H.3, least squares; 4.3.7, rectangular lines; G.4, effective degrees of freedom.
    """
    x_mm, y_mm, depth_mm = (columns[name] for name in ("x_mm", "y_mm", "depth_mm"))
    u_mm = columns.get("u_mm")
    _refuse_absurd(columns)
    _refuse_places(x_mm, y_mm)
    is_told = u_mm is not None
    plain = fitted(x_mm, y_mm, depth_mm, np.ones_like(x_mm) if u_mm is None else u_mm**-2)
    _refuse_slope(plain)
    plane = budget.weighed(plain, gauge, is_told=is_told)
    between = between_rounds(plane, gauge.step_mm**2 / 12)
    off = budget.errors(plane, gauge, between, is_told=is_told)
    lines = budget.lines(plane, gauge, off)
    register, slope_x, slope_y = (
        Quantity(scale * float(value), unit, tuple(line.of(i, scale) for line in lines))
        for i, (value, scale, unit) in enumerate(zip(plane.parameters, _SCALES, ("mm", "mrad", "mrad"), strict=True))
    )
    far = outliers(plain, gauge)
    return Measured(
        readings=_readings(plane, depth_mm, u_mm, far),
        n_places=plane.n_places,
        register=register,
        slope_x=slope_x,
        slope_y=slope_y,
        covariance=np.outer(_SCALES, _SCALES) * sum(line.covariance for line in lines),
        flags=tuple(flags.flags(plane, gauge, flags.Seen(off, between), limits, far, is_told=is_told)),
        verdict=verdict(register.value, register.u, register.dof, *limits.ends_mm) if limits else None,
    )


_SCALES: Final = (1.0, 1e3, 1e3)  # of r, a and b to mm and mrad


def _readings(plane: Plane, depth_mm: Floats, u_mm: Floats | None, far: tuple[Outlier, ...]) -> tuple[Reading, ...]:
    """The readings beside the plane."""
    are_far = {one.i_reading for one in far}
    return tuple(
        Reading(
            x_mm=float(plane.design[i, 1]),
            y_mm=float(plane.design[i, 2]),
            depth_mm=float(depth),
            off_mm=float(plane.off[i]),
            u_mm=None if u_mm is None else float(u_mm[i]),
            is_far=i in are_far,
        )
        for i, depth in enumerate(depth_mm)
    )


def _refuse_absurd(columns: Mapping[str, Floats]) -> None:
    """Values that no gauge and no camera has."""
    limits = {
        "x_mm": (-MOST_AT_MM, MOST_AT_MM, "Count it from the centre of the gate, in millimetres"),
        "y_mm": (-MOST_AT_MM, MOST_AT_MM, "Count it from the centre of the gate, in millimetres"),
        "depth_mm": (*DEPTHS_MM, "Write it in millimetres"),
        "u_mm": (1e-5, MOST_U_MM, "Write the standard uncertainty of that reading in millimetres, or leave u_mm out"),
    }
    for name, column in columns.items():
        least, most, mend = limits[name]
        bad = np.flatnonzero((column < least) | (column > most))
        if len(bad):
            what = f"{name} of reading {bad[0] + 1} is {column[bad[0]]:g}, outside {least:g} to {most:g}"
            raise NotMeasurable(what, mend)


def _refuse_places(x_mm: Floats, y_mm: Floats) -> None:
    """Too few places, or all on a line: no plane follows from them."""
    _, firsts = np.unique(gathered(x_mm, y_mm), return_index=True)
    at = np.column_stack([x_mm, y_mm])[firsts]
    if len(at) < 3:
        what = f"there are readings at {numbers.counted(len(at), 'place')}, and a plane needs three"
        raise NotMeasurable(what, "Read at the four corners of the gate and in the middle, three times each")
    reach_mm = np.ptp(at, axis=0)
    if min(reach_mm) > 0 and max(reach_mm) < LEAST_REACH_MM:
        what = f"all places lie within {numbers.short(float(max(reach_mm)), 2)} mm of each other"
        raise NotMeasurable(what, "Count x and y in millimetres, and spread the places over the gate")
    along, across = np.linalg.svd(at - at.mean(axis=0), compute_uv=False) / np.sqrt(len(at))
    if across < LEAST_WIDTH * along:
        raise NotMeasurable("the places lie on one line, or nearly", "Read places on both sides of that line as well")


def _refuse_slope(plane: Plane) -> None:
    """A slope that no body has."""
    steepest = float(np.hypot(*plane.parameters[1:]))
    if steepest > MOST_SLOPE:
        raise NotMeasurable(
            f"the plane slopes by {1e3 * steepest:.0f} mrad, which is {36 * steepest:.1f} mm over 36 mm",
            "Look for a slip of the pen, mixed-up columns, or readings that are not in millimetres",
        )
