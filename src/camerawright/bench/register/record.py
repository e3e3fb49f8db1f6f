"""What the depth readings of a body say: register and slope of its film plane."""

from dataclasses import dataclass
from typing import Annotated, Final

import numpy as np
from numpy.typing import NDArray

from camerawright.bench.codec import in_unit
from camerawright.bench.record import Record
from camerawright.quantity import Quantity, Word
from camerawright.wording import numbers

Millimetres = Annotated[Quantity, in_unit("mm", "mm", budget="budget_{}")]
Milliradians = Annotated[Quantity, in_unit("mrad", "mrad", budget="budget_{}")]


MOST_SHIMS_MM: Final = 1.0
"""No shims make up for more; something was not taken off the readings. Common practice"""
_MUCH: Final = 0.5  # a line that makes so much of the variance is worth working on. Common practice


@dataclass(frozen=True, kw_only=True)
class Gauge:
    """The gauge and what it stands on. [mm]

    `step_mm` is the smallest difference it shows, told or seen in the readings. `rails_mm` is how far rails and plate
    may be from even at a place, ±. `pressure_mm` is by how much another pressure on the spindle may change all
    readings, ±. `position_mm` is how far beside its place the gauge may stand, ±, along x and along y.
    """

    step_mm: float
    is_step_told: bool
    rails_mm: float
    pressure_mm: float
    position_mm: float = 0.0


@dataclass(frozen=True, kw_only=True)
class Reading:
    """One depth reading, and how far it lies from the fitted plane; + is deeper. `u_mm` is what was told of it.

    `is_far`: it does not belong to the plane of the others; a flag of the record says so.
    """

    x_mm: float
    y_mm: float
    depth_mm: float
    off_mm: float
    u_mm: float | None = None
    is_far: bool = False


@dataclass(frozen=True, kw_only=True)
class Limits:
    """What the register should be, and by how much it may be off. `source` says where the tolerance is from."""

    nominal_mm: float
    tolerance_mm: float
    source: str

    @property
    def ends_mm(self) -> tuple[float, float]:
        """The least and the most that is allowed."""
        return self.nominal_mm - self.tolerance_mm, self.nominal_mm + self.tolerance_mm


@dataclass(frozen=True, kw_only=True)
class RegisterRecord(Record):
    """The plane through the readings.

    `register` is its depth at x = y = 0; `slope_x` and `slope_y` say by how much the depth grows along x and y.
    `covariance` is that of the three, in their units, shape (3, 3). `verdict` is there where a nominal was told.
    """

    readings: tuple[Reading, ...] = ()
    n_places: int = 0
    register: Millimetres | None = None
    slope_x: Milliradians | None = None
    slope_y: Milliradians | None = None
    covariance: NDArray[np.float64] | None = None
    gauge: Gauge | None = None
    limits: Limits | None = None
    verdict: Word | None = None
    probability_within: float | None = None

    @property
    def plane(self) -> tuple[Quantity, Quantity, Quantity] | None:
        """Register and slopes; None where the readings were refused."""
        if self.register is None or self.slope_x is None or self.slope_y is None:
            return None
        return self.register, self.slope_x, self.slope_y

    def depth_mm(self, x_mm: NDArray[np.float64], y_mm: NDArray[np.float64]) -> NDArray[np.float64]:
        """The depth of the plane at places, of the same shape; only where there is a plane."""
        assert self.plane is not None
        register, slope_x, slope_y = self.plane
        return register.value + 1e-3 * (slope_x.value * x_mm + slope_y.value * y_mm)

    @property
    def budgeted(self) -> tuple[tuple[str, Quantity], ...]:
        """Register and slopes."""
        return tuple(zip(("register", "slope x", "slope y"), self.plane or (), strict=False))

    @property
    def advice(self) -> tuple[str, ...]:
        """What to do next, in shims and at which side."""
        return (*_height(self), *_tilts(self), *_what_would_decide(self))


def _height(record: RegisterRecord) -> list[str]:
    """Shims under the lens mount make the register longer."""
    if record.register is None or record.limits is None or record.verdict != "outside":
        return []
    off_mm = record.register.value - record.limits.nominal_mm
    if abs(off_mm) > MOST_SHIMS_MM:
        return []  # a flag says so
    by = f"{numbers.fixed(abs(off_mm), 3)} mm"
    if off_mm > 0:
        return [f"The lens stands {by} too far from the film. Take shims of {by} out from under the lens mount."]
    return [f"The lens stands {by} too near to the film. Put shims of {by} under the lens mount."]


def _tilts(record: RegisterRecord) -> list[str]:
    """Each slope that is surely there, as a difference of height over the places that were read."""
    out = []
    for axis, slope in (("x", record.slope_x), ("y", record.slope_y)):
        if slope is None or abs(slope.value) <= slope.expanded_u:
            continue
        at_mm = [one.x_mm if axis == "x" else one.y_mm for one in record.readings]
        ends = [numbers.short(end) for end in (min(at_mm), max(at_mm))]
        rise_mm = 1e-3 * abs(slope.value) * (max(at_mm) - min(at_mm))
        high, low = ends[::-1] if slope.value > 0 else ends
        out.append(
            f"The lens mount stands {numbers.fixed(rise_mm, 3)} mm higher over {axis} = {high} mm than over"
            f" {axis} = {low} mm."
        )
    return out


def _what_would_decide(record: RegisterRecord) -> list[str]:
    """What to do about the largest line of the budget where the verdict is open."""
    if record.register is None or record.verdict != "undecided":
        return []
    largest = max(record.register.budget, key=lambda line: line.u)
    if largest.u**2 < _MUCH * record.register.u**2 or largest.name not in _MENDS:
        return ["The register lies too near a limit to decide. More readings help little."]
    return [f"The register lies too near a limit to decide. {_MENDS[largest.name]}"]


_MENDS: Final = {
    "repeatability": "Read each place three times more.",
    "resolution": "Use a gauge with a finer step.",
    "rails": "Read more places.",
    "pressure": "Use the ratchet of the spindle, check the gauge on a block, and tell the pressure that is left.",
    "position": "Mark the places, and tell how closely you found them.",
    "rounds": "Check the zero on the block, bed the body on three points, and go round three times more.",
    "places off the plane": "Find out first why the places do not lie on one plane.",
}
