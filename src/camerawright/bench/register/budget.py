"""What makes the register and the slopes uncertain: named lines, each with its covariance."""

import math
from dataclasses import dataclass, field, replace
from typing import Final

import numpy as np

from camerawright.bench.register.between import Between, between_rounds, surely
from camerawright.bench.register.places import Floats
from camerawright.bench.register.plane import Plane, fitted
from camerawright.bench.register.record import Gauge
from camerawright.quantity import BudgetLine, Kind, Quantity

U_READING_MM: Final = 0.01
"""Repeatability of one reading where no reading tells it. Common practice."""
ENOUGH_REPEATS: Final = 3
"""With fewer, and with fewer than the places beyond three, repeats alone tell too little. Common practice"""
MOST_SHARED: Final = 1e4  # how far the error of a place may outweigh that of a reading; beyond, it changes no figure


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


@dataclass(frozen=True, kw_only=True, eq=False)
class Errors:
    """How far single readings, whole places and whole rounds are off, as variances. [mm²]

    Attributes
    ----------
    reading, dof, kind
        One reading, apart from all others; where readings came with their own u, a factor on u².
    rounding, rails, position
        One place, the same in all its repeats, as it is known beforehand.
    alike
        The part of the rounding that places of equal depth share.
    uneven, dof_uneven
        What the places show beyond that.
    rounds : shape (3, 3)
        What the rounds show beyond their readings, as the covariance of the parameters; `dof_rounds` of it.
    """

    reading: float
    dof: float = math.inf
    kind: Kind = "A"
    rounding: float = 0.0
    alike: float = 0.0
    rails: float = 0.0
    position: float = 0.0
    uneven: float = 0.0
    dof_uneven: float = math.inf
    rounds: Floats = field(default_factory=lambda: np.zeros((3, 3)))
    dof_rounds: float = math.inf

    @property
    def place(self) -> float:
        """All that the readings of one place share."""
        return self.rounding + self.rails + self.position + self.uneven

    def expanded_mm(self, n_each: float) -> float:
        """Half the 95 % interval of one place that was read so many times."""
        lines = (
            BudgetLine("readings", math.sqrt(self.reading / n_each), self.dof),
            BudgetLine("place", math.sqrt(self.place - self.uneven)),
            BudgetLine("uneven", math.sqrt(self.uneven), self.dof_uneven),
        )
        return Quantity(0.0, "mm", lines).expanded_u


def weighed(plane: Plane, gauge: Gauge, *, is_told: bool) -> Plane:
    """The same readings fitted anew, with what they share at each place: a place read often is no truer for it."""
    off = errors(plane, gauge, between_rounds(plane, gauge.step_mm**2 / 12), is_told=is_told)
    shared = min(MOST_SHARED / float(plane.weights.max()), off.place / off.reading if off.reading else math.inf)
    x_mm, y_mm = plane.design[:, 1:].T
    return fitted(x_mm, y_mm, plane.off + plane.design @ plane.parameters, plane.weights, shared)


def errors(plane: Plane, gauge: Gauge, between: Between, *, is_told: bool) -> Errors:
    """How far readings, places and rounds are off: as told, or as they show it where that is more.

    Notes
    -----
    Repeats tell what differs from reading to reading. Rounding to a step q has the variance q²/12 ([jcgm-100] 4.3.7
    and F.2.2.1). So far as repeats scatter, they show it already and more of them lessen it; the rest, q²/12 less their
    variance, is the same in all repeats of a place. So is how even the rail is there, and how far the gauge stands
    beside the place, times the slope.

    Where the places or the rounds scatter more than all that explains, the excess is counted with the few degrees of
    freedom that it has, the more the surer it is: what a significance test overlooks is there all the same.

    With few repeats the scatter about the plane is asked too, which shows all of this at once. Where its 95 % interval
    is the wider, it stands for all: nothing is counted twice, nothing missed. Rounding may hide a scatter of up to
    q²/48: of four corners the plane leaves (d₁ − d₂ + d₃ − d₄)/2, which moves in steps of q/2 and so is uniform over
    that width.
    """
    step = gauge.step_mm**2 / 12
    beside = gauge.position_mm**2 / 3 * float(plane.parameters[1:] @ plane.parameters[1:])
    known = Errors(reading=0.0, rails=gauge.rails_mm**2 / 3, position=beside)
    if is_told:
        return _seen_too(plane, _told(plane, known, step, between), between)
    if plane.n_spare == 0:
        return replace(known, reading=U_READING_MM**2, kind="B", rounding=step, alike=step)
    same = max(0.0, step - between.repeats.variance)
    known = replace(
        known, reading=between.reading.variance, dof=between.reading.dof or math.inf, rounding=same, alike=same
    )
    known = _seen_too(plane, known, between)
    if plane.n_repeats >= max(ENOUGH_REPEATS, plane.n_places - 3):
        return known
    scatter = (plane.scatter + step / 4) / plane.n_spare
    seen = Errors(reading=scatter, dof=plane.n_spare, alike=max(0.0, step - scatter))
    return max(known, seen, key=lambda each: each.expanded_mm(plane.n_readings / plane.n_places))


def _told(plane: Plane, known: Errors, step: float, between: Between) -> Errors:
    """Where each reading came with its u, that counts unless repeats differ by more."""
    same = max(0.0, step - float(np.mean(1 / plane.weights)))
    told = replace(known, reading=1.0, kind="B", rounding=same, alike=same)
    if between.reading.variance <= 1:
        return told
    return replace(told, reading=between.reading.variance, dof=between.reading.dof, kind="A")


def _seen_too(plane: Plane, known: Errors, between: Between) -> Errors:
    """The same with what places and rounds scatter beyond it.

    Notes
    -----
    Lack of fit: what the scatter about the plane has beyond that of the repeats, with m − 3 degrees of freedom. On
    average it is `scatter_by_reading` − (n − m) times the variance of a reading and `scatter_by_place` times that of a
    place.
    """
    rounds = replace(known, rounds=between.excess(known.reading, known.dof), dof_rounds=between.dof or math.inf)
    spare = plane.n_places - 3
    seen, explained = plane.scatter - plane.scatter_of_repeats, expected(plane, known)
    if spare < 1 or seen <= explained:
        return rounds
    sure = surely(seen, explained, spare, known.dof)
    return replace(rounds, uneven=sure * (seen - explained) / plane.scatter_by_place, dof_uneven=spare)


def expected(plane: Plane, known: Errors) -> float:
    """The scatter of the places about the plane that is explained by what is known beforehand."""
    readings = (plane.scatter_by_reading - plane.n_repeats) * known.reading
    return readings + plane.scatter_by_place * (known.place - known.uneven)


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
        Line("position", off.position * apart),
    ]
    if off.rounds.any():
        out.append(Line("rounds", off.rounds, off.dof_rounds, "A"))
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
