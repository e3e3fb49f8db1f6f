"""How wide a sensor is, as the edges of the light tell it."""

import math
from dataclasses import replace

import numpy as np

from camerawright.bench.curtains.gate import DIAMETERS_MM, Gate
from camerawright.bench.curtains.look import Look, slit_speed
from camerawright.bench.curtains.motion import doubt, motion_through
from camerawright.handbook.light_sensors import Sensor
from camerawright.quantity import BudgetLine, Quantity
from camerawright.wording import numbers

_SURE_MM = DIAMETERS_MM[1] + 1  # a slit that is wider than any sensor
# the penumbra of the nearer curtain: f/2.8 to f/8, 0.5 to 1.5 mm before the film: 0.1 to 0.5 mm (common practice)
_BLUR_MM, _U_BLUR_MM = 0.3, 0.25
_U_SHAPE = 0.02  # width and smear as fitted; 16 recordings of the second simulator with 2.7 mm: 0.02 to 0.03
_SURELY = 0.1  # a part of the diameter that nobody measures better than


def from_edges(looks: list[Look], i: int, gate: Gate, sensor: Sensor) -> Quantity | None:
    """Measure the diameter of a channel's sensor from the edges of its slow firings. [mm]

    None where no firing is slow enough. With a slit s that is narrower than a sensor of diameter d, light rises for
    s/v and stays for (d - s)/v, just as with a sensor of s behind a slit of d. So only firings count whose light lasts
    longer than the widest sensor could make it.

    Notes
    -----
    A disc that a straight edge crosses at speed v rises as its chords do; their variance is d²/16. The light's blur
    over p (as chords too) and the sensor's lag (an exponential, with the variance of its square) add theirs, so that
    d² = w² ((1 - q)² + q²) - p² - (4 v lag)², for an edge that is w wide with q of it smear. That sum is sure where w
    and q are not. The sharper of the two edges counts: a slow sensor blunts the one that falls. How fast the slit ran
    is as doubtful as the places.
    """
    seen = [
        (one.passage, speed)
        for look in looks
        if (one := look.seen[i]) is not None
        and (speed := slit_speed(look, gate, i)) is not None
        and one.passage.exposure_s * speed > _SURE_MM
    ]
    if not seen:
        return None
    wide_mm = [min(one.edges_s) * math.hypot(1 - one.smear, one.smear) * speed for one, speed in seen]
    whole, speed = float(np.median(wide_mm)), float(np.median([speed for _, speed in seen]))
    lag2 = (4 * speed * sensor.lag_s) ** 2 / 2  # from none to the class's own
    value = math.sqrt(max(whole**2 - _BLUR_MM**2 - lag2, whole**2 / 4))
    scatter = float(np.std(wide_mm)) / math.sqrt(max(1, len(wide_mm) - 1))
    return Quantity(
        value,
        "mm",
        (
            BudgetLine("light's blur", _BLUR_MM * _U_BLUR_MM / value),
            BudgetLine("sensor lag", lag2 / value),
            BudgetLine("speed of the slit", value * _u_speed(looks, i, gate)),
            BudgetLine("shape of the edge", value * _U_SHAPE),
            BudgetLine("scatter of the edges", scatter, kind="A"),
        ),
    )


def _u_speed(looks: list[Look], i: int, gate: Gate) -> float:
    """Relative u of how fast the slit ran at a sensor: by the places, and by how a curtain runs between them."""
    look = next(each for each in looks if slit_speed(each, gate, i) is not None and each.seen[i] is not None)
    middle = slit_speed(look, gate, i) or 1.0
    parts = []
    for k in range(len(gate.at_mm)):
        moved = replace(gate, at_mm=tuple(x + (gate.u_at_mm if m == k else 0.0) for m, x in enumerate(gate.at_mm)))
        other = slit_speed(look, moved, i)
        parts.append((other - middle) / middle if other else 1.0)
    pairs = [(one.times_s.mean(), x) for one, x in zip(look.seen, gate.at_mm, strict=True) if one is not None]
    times, places = (np.array(column) for column in zip(*pairs, strict=True))
    motion = motion_through(times, places, gate.width_mm)
    step = np.array([-0.01, 0.01])
    slope = float(np.diff(doubt(motion, gate.at_mm[i] + step, places)[0])[0] / np.ptp(step))
    return math.hypot(*parts, slope * middle)


def is_at_odds(seen: Quantity | None, told_mm: float) -> bool:
    """Whether the edges show another diameter than a given one."""
    return seen is not None and abs(seen.value - told_mm) > seen.expanded_u + _SURELY * told_mm


def interval_mm(value: float, half: float) -> str:
    """A diameter with its 95 % interval, to a tenth of a millimetre."""
    return f"{numbers.fixed(value, 1)} ± {numbers.fixed(max(half, 0.1), 1)}"


def as_seen(gate: Gate, seen: tuple[Quantity | None, ...]) -> Gate:
    """The set-up with the diameters that the edges show, where none were told or those told are at odds with them."""

    def used_mm(told_mm: float, one: Quantity | None) -> float:
        if one is None or (gate.is_diameter_told and not is_at_odds(one, told_mm)):
            return told_mm
        return one.value

    return replace(gate, diameter_mm=tuple(map(used_mm, gate.diameter_mm, seen)))
