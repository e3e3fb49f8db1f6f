"""What makes the register and the slopes uncertain: named lines, each with its covariance."""

import math
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from scipy import special

from camerawright.bench.register.plane import Floats, Plane
from camerawright.bench.register.record import Gauge
from camerawright.quantity import BudgetLine, Kind, Quantity

U_READING_MM: Final = 0.01
"""Repeatability of one reading where no reading tells it. Common practice."""
BY_CHANCE: Final = 0.01
"""What chance does less often than this is said."""


ENOUGH_REPEATS: Final = 3
"""With fewer, and with fewer than the places beyond three, repeats alone tell too little. Common practice"""


@dataclass(frozen=True, eq=False)
class Line:
    """One line of the budget: the covariance of r, a and b that it makes, shape (3, 3). [mm, 1, 1]"""

    name: str
    covariance: Floats
    dof: float = math.inf
    kind: Kind = "B"

    def of(self, i_parameter: int, scale: float) -> BudgetLine:
        """The line of one parameter, in the unit that is `scale` of its own."""
        u = math.sqrt(max(0.0, float(self.covariance[i_parameter, i_parameter])))
        return BudgetLine(self.name, scale * u, self.dof, self.kind)


@dataclass(frozen=True, kw_only=True)
class Errors:
    """How far single readings and whole places are off, as variances. [mm²]

    Attributes
    ----------
    reading, dof, kind
        One reading, apart from all others; where readings came with their own u, a factor on u².
    rounding, rails, uneven
        One place, the same in all its repeats.
    alike
        The part of the rounding that places of equal depth share.
    """

    reading: float
    dof: float = math.inf
    kind: Kind = "A"
    rounding: float = 0.0
    alike: float = 0.0
    rails: float = 0.0
    uneven: float = 0.0
    dof_uneven: float = math.inf

    def expanded_mm(self, n_each: float) -> float:
        """Half the 95 % interval of one place that was read so many times."""
        lines = (
            BudgetLine("readings", math.sqrt(self.reading / n_each), self.dof),
            BudgetLine("place", math.sqrt(self.rounding + self.rails)),
            BudgetLine("uneven", math.sqrt(self.uneven), self.dof_uneven),
        )
        return Quantity(0.0, "mm", lines).expanded_u


def errors(plane: Plane, gauge: Gauge, *, is_told: bool) -> Errors:
    """How far readings and places are off, by their own scatter and by what is known of the gauge.

    Notes
    -----
    Repeats tell what differs from reading to reading. Rounding to a step q has the variance q²/12 ([jcgm-100] 4.3.7
    and F.2.2.1). So far as repeats scatter, they show it already and more of them lessen it; the rest, q²/12 less their
    variance, is the same in all repeats of a place. So is how even the rail is there.

    With few repeats the scatter about the plane is asked too, which shows all of this at once. Where its 95 % interval
    is the wider, it stands for all: nothing is counted twice, nothing missed. Rounding may hide a scatter of up to
    q²/48: of four corners the plane leaves (d₁ − d₂ + d₃ − d₄)/2, which moves in steps of q/2 and so is uniform over
    that width.
    """
    step, rails = gauge.step_mm**2 / 12, gauge.rails_mm**2 / 3
    if is_told:
        return _told(plane, step, rails)
    if plane.n_spare == 0:
        return Errors(reading=U_READING_MM**2, kind="B", rounding=step, alike=step, rails=rails)
    repeats = plane.scatter_of_repeats / max(1, plane.n_repeats)
    same = max(0.0, step - repeats)
    known = Errors(reading=repeats, dof=plane.n_repeats or math.inf, rounding=same, alike=same, rails=rails)
    known = with_unevenness(plane, known)
    if plane.n_repeats >= max(ENOUGH_REPEATS, plane.n_places - 3):
        return known
    scatter = (plane.scatter + step / 4) / plane.n_spare
    seen = Errors(reading=scatter, dof=plane.n_spare, alike=max(0.0, step - scatter))
    n_each = plane.n_readings / plane.n_places
    return max(known, seen, key=lambda each: each.expanded_mm(n_each))


def _told(plane: Plane, step: float, rails: float) -> Errors:
    """Where each reading came with its u, that is believed unless the scatter about the plane denies it."""
    same = max(0.0, step - float(np.mean(1 / plane.weights)))
    told = Errors(reading=1.0, kind="B", rounding=same, alike=same, rails=rails)
    if not denies(plane):
        return told
    return replace(told, reading=plane.scatter / plane.n_spare, dof=plane.n_spare, kind="A")


def denies(plane: Plane) -> bool:
    """Whether readings scatter more about the plane than the u that they came with, beyond chance."""
    return plane.n_spare > 0 and plane.scatter > float(special.chdtri(plane.n_spare, BY_CHANCE))


def with_unevenness(plane: Plane, known: Errors) -> Errors:
    """The same with what the places are off the plane beyond everything that is known, where that is beyond chance.

    Notes
    -----
    Analysis of variance, lack of fit: the scatter of the places' means is (m − 3) times the variance of a reading, and
    `scatter_by_place` times that of a place. F of it over this, with m − 3 and n − m degrees of freedom.
    """
    spare = plane.n_places - 3
    if spare < 1 or plane.n_repeats < 1:
        return known
    seen = plane.scatter - plane.scatter_of_repeats
    expected = spare * known.reading + plane.scatter_by_place * (known.rounding + known.rails)
    if seen <= expected * float(special.fdtri(spare, plane.n_repeats, 1 - BY_CHANCE)):
        return known
    return replace(known, uneven=(seen - expected) / plane.scatter_by_place, dof_uneven=spare)


def lines(plane: Plane, gauge: Gauge, off: Errors) -> tuple[Line, ...]:
    """The budget of a plane. The pressure on the spindle changes all readings alike: the register, and no slope."""
    apart = plane.by_place @ plane.by_place.T
    alike = plane.by_place @ rounded_alike(plane, gauge.step_mm) @ plane.by_place.T
    more = np.diag(np.maximum(0.0, np.diag(alike - apart)))
    pressure = np.diag([gauge.pressure_mm**2 / 3, 0.0, 0.0])
    out = [
        Line("repeatability", off.reading * plane.covariance, off.dof, off.kind),
        Line("resolution", off.rounding * apart + off.alike * more),
        Line("rails", off.rails * apart),
        Line("pressure", pressure),
    ]
    if off.uneven:
        out.append(Line("places off the plane", off.uneven * apart, off.dof_uneven, "A"))
    return tuple(out)


def rounded_alike(plane: Plane, step_mm: float) -> Floats:
    """How far places are rounded alike: the correlation of their rounding errors, shape (m, m).

    Notes
    -----
    The error of rounding is a sawtooth of the depth. Of two depths that are f steps apart, f taken in [0, 1), one error
    is e and the other e − f q, or e + (1 − f) q past the jump. Over all e their mean product is q²/12 − q² f(1 − f)/2,
    which is 1 − 6 f(1 − f) of the variance: 1 for equal depths.
    """
    depth = plane.design @ plane.parameters
    at_place = (plane.of_place.T @ depth) / plane.of_place.sum(axis=0)
    apart = (at_place[:, np.newaxis] - at_place[np.newaxis, :]) / step_mm
    f = apart - np.floor(apart)
    return np.asarray(1 - 6 * f * (1 - f))
