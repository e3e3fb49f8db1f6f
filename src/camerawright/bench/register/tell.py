"""The register in words: lines for the terminal, the table of the readings, what each picture shows."""

import math
from collections.abc import Iterator

import numpy as np

from camerawright.bench.contract import Table, refused_lines
from camerawright.bench.register.places import gathered
from camerawright.bench.register.record import Gauge, Limits, Reading, RegisterRecord
from camerawright.bench.register.steps import named
from camerawright.quantity import BudgetLine, Quantity
from camerawright.wording import numbers
from camerawright.wording.verdicts import SIGNS

_DIGITS = 4  # of a depth in millimetres, at the most


def lines(record: RegisterRecord) -> list[str]:
    """The summary for the terminal."""
    if record.plane is None or record.gauge is None:
        return refused_lines(record)
    register, *slopes = record.plane
    out = [
        f"{numbers.counted(len(record.readings), 'reading')} at {numbers.counted(record.n_places, 'place')};"
        f" {_step(record.gauge)}; ± is the 95 % interval",
        "",
        f"{'':>3} {'x [mm]':>8} {'y [mm]':>8} {'depth [mm]':>11} {'off the plane [µm]':>19}",
    ]
    for n, one in enumerate(record.readings, 1):
        x, y, depth, off = _cells(one)
        out.append(f"{n:>3} {x:>8} {y:>8} {depth:>11} {off:>19}")
    out.extend(["", f"Register at x = y = 0: {millimetres(register)}", *_verdict(record, register)])
    for axis, slope in zip("xy", slopes, strict=True):
        out.append(f"Slope along {axis}: {_mrad(slope)}: {_rise(record, axis, slope)}")
    out.extend(["", "What makes the register uncertain (k = 1):"])
    out.extend(f"  {line.name:<22} {_line(line)}" for line in register.budget)
    out.extend(["", *record.advice] if record.advice else [])
    out.extend(f"! {flag}" for flag in record.flags)
    return out


def table(record: RegisterRecord) -> Table:
    """Every reading in a row."""
    return Table(
        heads=("x [mm]", "y [mm]", "depth [mm]", "off the plane [µm]"),
        rows=tuple(_cells(one) for one in record.readings),
    )


def words(record: RegisterRecord) -> dict[str, str]:
    """What each picture shows, by the pictures' names."""
    if record.plane is None:
        return {}
    register, *slopes = record.plane
    off = "; ".join(
        f"at x {numbers.short(x_mm)}, y {numbers.short(y_mm)}: {micrometres(off_mm)} µm"
        for x_mm, y_mm, off_mm in off_at_places(record)
    )
    tilt = " and ".join(f"{_mrad(slope)} along {axis}" for axis, slope in zip("xy", slopes, strict=True))
    depths = [one.depth_mm for one in record.readings]
    against = f" {_off_nominal(record.limits, register)}, {record.verdict}." if record.limits else ""
    return {
        "places": f"The plane slopes by {tilt}. How far each place is off it, + is deeper: {off}.",
        "depths": (
            f"{numbers.counted(len(depths), 'reading')} from {numbers.fixed(min(depths), 3)} to"
            f" {numbers.fixed(max(depths), 3)} mm; register {millimetres(register)}.{against}"
        ),
    }


def places_of(record: RegisterRecord) -> np.ndarray:
    """The place of each reading, counted from 0, shape (n,)."""
    x_mm, y_mm = np.array([(one.x_mm, one.y_mm) for one in record.readings]).T
    return gathered(x_mm, y_mm)


def off_at_places(record: RegisterRecord) -> Iterator[tuple[float, float, float]]:
    """Where each place was first read, and how far its readings are off the plane on average. [mm]"""
    i_place = places_of(record)
    off_mm = np.array([one.off_mm for one in record.readings])
    for j in range(i_place.max() + 1):
        first = record.readings[int(np.argmax(i_place == j))]
        yield first.x_mm, first.y_mm, float(off_mm[i_place == j].mean())


def millimetres(depth: Quantity) -> str:
    """A depth with its 95 % interval: ``44.9613 ± 0.0034 mm``."""
    return f"{numbers.with_interval(depth.value, depth.expanded_u, most=_DIGITS)} mm"


def signed_mm(off_mm: float) -> str:
    """How far off, with its sign, in thousandths of a millimetre; 0 has none."""
    return numbers.signed(off_mm, 3) if round(off_mm, 3) else "0.000"


def micrometres(off_mm: float) -> str:
    """How far off, with its sign, in whole micrometres; 0 has none."""
    off_um = round(1e3 * off_mm)
    return numbers.signed(off_um, 0) if off_um else "0"


def _mrad(slope: Quantity) -> str:
    """A slope with its sign and its 95 % interval."""
    return f"{numbers.with_interval(slope.value, slope.expanded_u, has_sign=True)} mrad"


def _step(gauge: Gauge) -> str:
    """The step of the gauge, and how it is known."""
    step = f"steps of {named(gauge.step_mm)}"
    return f"the gauge has {step}" if gauge.is_step_told else f"the readings seem to go in {step}"


def _cells(one: Reading) -> tuple[str, str, str, str]:
    """One reading in the table."""
    return (
        numbers.short(one.x_mm),
        numbers.short(one.y_mm),
        numbers.fixed(one.depth_mm, 3) if round(one.depth_mm, 3) == one.depth_mm else numbers.short(one.depth_mm, 7),
        f"{micrometres(one.off_mm)}{' !' if one.is_far else ''}",
    )


def _line(line: BudgetLine) -> str:
    """One line of the budget."""
    if line.u < _TINY_MM:
        return _NONE.get(line.name, "none")
    n = f", from {numbers.counted(round(line.dof), 'spare reading')}" if math.isfinite(line.dof) else ""
    return f"{numbers.fixed(line.u, _DIGITS)} mm{n}"


_TINY_MM = 5e-5  # less is no digit of a depth
_NONE = {"repeatability": "the repeats are equal", "resolution": "shows in the repeatability"}


def _verdict(record: RegisterRecord, register: Quantity) -> list[str]:
    """The register against its nominal."""
    limits = record.limits
    if limits is None or record.verdict is None or record.probability_within is None:
        return ["No verdict: tell the nominal register."]
    return [
        f"{SIGNS[record.verdict]} {record.verdict.upper()}: {_off_nominal(limits, register)}"
        f" ({limits.source}); probability within {numbers.fixed(record.probability_within, 3)},"
        " 0.95 decides"
    ]


def allowed(limits: Limits | None) -> str:
    """From where to where the register may be: ``28.780 to 28.820 mm``."""
    return "" if limits is None else f"{' to '.join(numbers.fixed(end, 3) for end in limits.ends_mm)} mm"


def _off_nominal(limits: Limits, register: Quantity) -> str:
    """How far the register is off the nominal, and how far it may be."""
    off_mm = register.value - limits.nominal_mm
    return (
        f"{signed_mm(off_mm)} mm from {numbers.short(limits.nominal_mm, 8)} mm,"
        f" ± {numbers.short(limits.tolerance_mm)} mm is allowed"
    )


def _rise(record: RegisterRecord, axis: str, slope: Quantity) -> str:
    """What a slope makes over the places that were read."""
    at_mm = [one.x_mm if axis == "x" else one.y_mm for one in record.readings]
    width_mm = max(at_mm) - min(at_mm)
    rise = numbers.with_interval(1e-3 * slope.value * width_mm, 1e-3 * slope.expanded_u * width_mm, has_sign=True)
    return f"{rise} mm over {numbers.short(width_mm, 3)} mm"
