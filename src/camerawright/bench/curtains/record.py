"""What the measurement of a focal-plane shutter found."""

from dataclasses import dataclass, field, fields
from typing import Annotated, Self

import numpy as np
from numpy.typing import NDArray

from camerawright.bench.codec import Keys, Named, in_unit
from camerawright.bench.comparison import Compared, Comparison
from camerawright.bench.curtains.gate import Gate
from camerawright.bench.curtains.motion import Motion
from camerawright.bench.curtains.sensors import Sensors
from camerawright.bench.record import Record, Skipped
from camerawright.numeric.coupling import Coupling
from camerawright.quantity import Quantity, Word

Floats = NDArray[np.float64]

Time = Annotated[Quantity, in_unit("s", "s", k95="")]
TimeWithInterval = Annotated[Quantity, in_unit("s", "s", budget="budget_{}")]
TimeWithBudget = Annotated[Quantity, in_unit("s", "s", k95="", budget="budget_{}")]
TimeWith95 = Annotated[Quantity, Keys("s", value="{}_s", u="u_{}_s", expanded="U95_{}_s")]
Stops = Annotated[Quantity, in_unit("stop", "stops", k95="")]
Pace = Annotated[Quantity, in_unit("mm/s", "mm_s", k95="")]


@dataclass(frozen=True)
class Again:
    """Light after the closing: its height in levels, its sum as time at full light, and when after the closing."""

    height: float
    light_s: float
    u_light_s: float
    after_s: float


@dataclass(frozen=True, kw_only=True)
class AtSensor:
    """One firing at one sensor. `exposure` is from the one curtain to the other, over the sensor's middle.

    `slit` is how far apart the edges stood about the sensor, None where one of them was beyond the gate. `blur_mm` is
    how much wider than the sensor an edge seems: the penumbra. `own_level` is False where the full level came from
    other firings of the recording. Light after the closing is in `again`, which has no values where none is seen;
    `least_again` would have been seen. `flicker`, `dip` and `least_again` are in levels, 0 where not seen. `disturbed`
    and what follows it serve the flags, and no record keeps them.
    """

    channel: int
    at_mm: float
    exposure: TimeWithInterval
    slit: Annotated[Quantity | None, in_unit("mm", "mm", k95="")]
    first_s: float
    second_s: float
    level: Annotated[float, Named("level_fs")]
    own_level: bool
    snr_db: float
    blur_mm: float
    again_part: float | None
    again_light: Annotated[Quantity | None, in_unit("s", "s", k95="")]
    again_after_s: float | None
    least_again: Annotated[float, Named("least_again_part")]
    dip: Annotated[float, Named("dip_part")]
    disturbed: float = field(default=1.0, metadata={"stored": False})
    lingers: float = field(default=0.0, metadata={"stored": False})
    flicker: float = field(default=0.0, metadata={"stored": False})
    flicker_hz: float = field(default=0.0, metadata={"stored": False})
    beside: Floats = field(default_factory=lambda: np.zeros(0), metadata={"stored": False}, compare=False)

    @property
    def i_channel(self) -> int:
        """Its channel, counted from 0."""
        return self.channel - 1

    @property
    def again(self) -> Again | None:
        """Light after the closing."""
        if self.again_part is None or self.again_light is None or self.again_after_s is None:
            return None
        return Again(self.again_part, self.again_light.value, self.again_light.u, self.again_after_s)


@dataclass(frozen=True, kw_only=True)
class Curtain:
    """One curtain's way: time between the outer sensors, across the gate, and its speed at both edges of the gate.

    `u_passing_s` is the standard uncertainty of when it passes each of the firing's places `along`.
    """

    between: Time
    across: TimeWithBudget
    speed_near: Pace
    speed_far: Pace
    motion: Motion
    u_passing_s: tuple[float, ...]


@dataclass(frozen=True, kw_only=True)
class Along:
    """The exposure along the gate, from the edge that the curtains come in at; `points` has the budgets."""

    at_mm: tuple[float, ...]
    exposure_s: tuple[float, ...]
    u_exposure_s: tuple[float, ...]
    points: tuple[Quantity, ...] = field(default=(), metadata={"stored": False}, compare=False)

    @classmethod
    def of(cls, at_mm: Floats, points: tuple[Quantity, ...]) -> Self:
        """Of one exposure for each place. [s]"""
        return cls(
            at_mm=tuple(float(x) for x in at_mm),
            exposure_s=tuple(one.value for one in points),
            u_exposure_s=tuple(one.u for one in points),
            points=points,
        )


@dataclass(frozen=True, kw_only=True)
class Firing:
    """One firing with light at two sensors or more.

    `effective` is the mean of the exposures at the sensors, in stops. `uneven` is the ratio of the extreme exposures in
    stops, at the sensors, `uneven_gate` that over the gate with what is extrapolated. `later` is by how much longer the
    second curtain took between the outer sensors. `fully_open_s` is how long the whole gate was open, negative for a
    slit. `capped` is where the slit closes, None where it does not; `dark_mm` are the sensors that saw nothing.
    """

    at_s: float
    effective: TimeWithInterval
    flags: tuple[str, ...]
    sensors: tuple[AtSensor, ...]
    first: Curtain
    second: Curtain
    later: TimeWithBudget
    uneven: Stops
    uneven_gate: Annotated[Quantity | None, in_unit("stop", "stops", k95="")]
    fully_open_s: float
    capped: Annotated[Quantity | None, in_unit("mm", "mm", k95="")]
    dark_mm: tuple[float, ...]
    along: Along

    @property
    def begin_s(self) -> float:
        """When the first curtain passes the first sensor."""
        return min(one.first_s for one in self.sensors)

    @property
    def end_s(self) -> float:
        """When the second curtain passes the last sensor."""
        return max(one.second_s for one in self.sensors)

    @property
    def curtains(self) -> tuple[tuple[str, Curtain], ...]:
        """Both, with their names."""
        return ("first", self.first), ("second", self.second)


@dataclass(frozen=True, kw_only=True)
class Exposure:
    """The mean exposure at one place of the gate."""

    at_mm: float
    exposure: Time


@dataclass(frozen=True, kw_only=True)
class Speed:
    """Firings at one setting of the dial; `firings` are their numbers, from 1.

    `points` are the mean exposures at the sensors from the near edge on; `first` and `second` the curtains' times
    between the outer sensors, `later` by how much longer the second takes.
    """

    firings: tuple[int, ...]
    points: tuple[Exposure, ...]
    effective: Time
    uneven: Stops
    uneven_gate: Annotated[Quantity | None, in_unit("stop", "stops", k95="")]
    first: Time
    second: Time
    later: TimeWith95

    @property
    def i_firings(self) -> tuple[int, ...]:
        """Its firings, counted from 0."""
        return tuple(n - 1 for n in self.firings)

    @property
    def curtains(self) -> tuple[tuple[str, Quantity], ...]:
        """Both curtains' times, with their names."""
        return ("first", self.first), ("second", self.second)


@dataclass(frozen=True, kw_only=True)
class Point(Compared):
    """The mean error at one sensor, and its verdict."""

    at_mm: float


@dataclass(frozen=True, kw_only=True)
class Evenness:
    """How uneven the gate is, and the most that it may be; None without limits."""

    uneven: Stops
    limit_stops: float | None
    source: str
    verdict: Word | None
    probability_within: float | None


@dataclass(frozen=True, kw_only=True)
class GateComparison(Comparison):
    """The firings of one setting against its mark: the mean over the gate, each sensor's point, and how even it is.

    `verdict` is that of the whole gate: within where every point and the evenness are. `mean_verdict` is that of the
    mean alone. `i_firings` count in the record's order.
    """

    i_firings: tuple[int, ...]
    mean_verdict: Word | None
    points: tuple[Point, ...]
    evenness: Evenness

    @classmethod
    def of(cls, mean: Comparison, **more: object) -> Self:
        """The comparison of the mean with what the gate adds to it; `more` may replace the verdict and the flags."""
        given: dict[str, object] = {one.name: getattr(mean, one.name) for one in fields(mean)}
        return cls(**{**given, "mean_verdict": mean.verdict, **more})  # type: ignore[arg-type]


@dataclass(frozen=True)
class ChannelInput:
    """How one channel's coupling was undone."""

    is_inverted: bool
    corners_hz: tuple[float, ...]
    undo_a_per_s: float
    undo_b_per_s2: float
    undo_e_per_s2: float

    @property
    def undo(self) -> tuple[float, float, float]:
        """The coefficients that undo the coupling."""
        return self.undo_a_per_s, self.undo_b_per_s2, self.undo_e_per_s2


@dataclass(frozen=True, kw_only=True)
class Input:
    """How the recording was made, and the set-up as it was used: places by channel.

    Places count from the edge of the gate that the curtains come in at; `is_turned` where that is the far one.
    `diameter_by_edges_mm` is how wide the edges of the light show each sensor; None where no firing was slow enough.
    """

    rate_hz: float
    sensor: str
    gate_mm: float
    at_mm: tuple[float, ...]
    diameter_mm: tuple[float, ...]
    u_at_mm: float
    is_turned: bool
    channels: tuple[ChannelInput, ...]
    diameter_by_edges_mm: tuple[float | None, ...] = ()
    u_diameter_by_edges_mm: tuple[float | None, ...] = ()


@dataclass(frozen=True, kw_only=True)
class CurtainsRecord(Record):
    """All firings of a recording (those compared with the mark first), what was skipped, and how it was recorded."""

    firings: tuple[Firing, ...] = ()
    skipped: tuple[Skipped, ...] = ()
    speeds: tuple[Speed, ...] = ()
    advice: tuple[str, ...] = ()
    input: Input | None = None
    compared: GateComparison | None = None

    @property
    def compared_speed(self) -> Speed | None:
        """The setting that was compared with its mark."""
        return speed_compared(self.speeds, self.compared)


@dataclass(frozen=True)
class Measured:
    """What `measure` found in a recording, before it is compared with a mark."""

    firings: tuple[Firing, ...]
    skipped: tuple[Skipped, ...]
    gate: Gate
    by_edges_mm: tuple[Quantity | None, ...]
    is_turned: bool
    rate_hz: float
    signs: tuple[float, ...]
    couplings: tuple[Coupling, ...]
    sensors: Sensors
    flags: tuple[str, ...]

    @property
    def input(self) -> Input:
        """How the recording was made."""
        return Input(
            rate_hz=self.rate_hz,
            sensor=self.sensors.each.name,
            gate_mm=self.gate.width_mm,
            at_mm=self.gate.at_mm,
            diameter_mm=self.gate.diameter_mm,
            u_at_mm=self.gate.u_at_mm,
            is_turned=self.is_turned,
            channels=tuple(
                ChannelInput(sign < 0, coupling.corners_hz, coupling.a, coupling.b, coupling.e)
                for sign, coupling in zip(self.signs, self.couplings, strict=True)
            ),
            diameter_by_edges_mm=tuple(one.value if one else None for one in self.by_edges_mm),
            u_diameter_by_edges_mm=tuple(one.u if one else None for one in self.by_edges_mm),
        )


def speed_compared(speeds: tuple[Speed, ...], compared: GateComparison | None) -> Speed | None:
    """Which setting a comparison is of; None without one."""
    return next((one for one in speeds if compared and one.i_firings == compared.i_firings), None)
