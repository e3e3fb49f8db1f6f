"""What the measurement of a leaf shutter found."""

import math
from dataclasses import dataclass, field
from typing import Annotated, Literal

from camerawright.bench.codec import Named, in_unit
from camerawright.bench.comparison import Comparison
from camerawright.bench.record import Figure, Record, Skipped
from camerawright.numeric.coupling import Coupling
from camerawright.numeric.instrument import Instrument, combined
from camerawright.quantity import Quantity

LevelFrom = Literal["its own plateau", "slower firings", "its own peak"]
"""What the light of full opening was taken from; the last where nothing tells it."""

Time = Annotated[Quantity, in_unit("s", "s", k95="")]
TimeWithInterval = Annotated[Quantity, in_unit("s", "s")]
TimeWithBudget = Annotated[Quantity, in_unit("s", "s", budget="budget_{}")]


@dataclass(frozen=True)
class StoppedDown:
    """The effective time that a firing would have had with the lens stopped down by so many stops. [s]"""

    stops_down: float
    effective: TimeWithInterval


@dataclass(frozen=True)
class Firing:
    """One firing. Times in seconds, each with its budget; `at_s` is where the light passed half its level, opening.

    `total` is the 10 % to 10 % width, `half_peak` the width at half the level, `effective` the light integral over the
    level. `level_from` says where `level` is from, `u_level` is its relative uncertainty; on its own peak a flag says
    so.
    `opens_to` is how far it opens, in levels: 1 but where the level is that of slower firings. `flicker` is the part
    of the level by which the lamp was seen to flicker.
    `bounce` is how far the blades opened again after closing, `dip` how far they closed again after opening, in
    levels and 0 where none is seen; `bounce_seen_from` is what would surely have been seen, None where nothing can be
    said. `slope` is the change of the light along the plateau, in levels. `tail_s` is how long the light lingers at
    the end of the closing: the sensor's time constant is no longer.
    """

    at_s: float
    total: Time
    half_peak: Time
    effective: TimeWithBudget
    efficiency: float
    opening: Time
    closing: Time
    level: Annotated[float, Named("level_fs")]
    opens_to: float
    u_opens_to: float
    snr_db: float
    has_plateau: bool
    level_from: LevelFrom
    slope: float
    u_slope: float
    bounce: float
    dip: float
    bounce_seen_from: float | None
    tail_s: float
    stopped_down: tuple[StoppedDown, ...]
    flags: tuple[str, ...]
    u_level: float = 0.0
    flicker: float = 0.0

    @property
    def is_disturbed(self) -> bool:
        """Whether the dark beside it moves so much that no bounce can be told."""
        return self.bounce_seen_from is None

    @property
    def stop_s(self) -> float:
        """When it is over."""
        return self.at_s + self.total.value

    def expanded_s(self, time: Quantity) -> float:
        """Half the 95 % interval of one of its times; never of fewer than two u, as the budgets have the same lines."""
        return max(2.0, self.effective.expanded_u / self.effective.u if self.effective.u else 0.0) * time.u


@dataclass(frozen=True)
class Chain:
    """How far sensor and input are from what ISO 516 asks of a detector: flat within 3 dB from DC to 100/t0.

    `asked_hz` is 100 over the shortest total time, `reached_hz` what sampling and sensor pass at most, `from_hz` the
    lower corner, whose loss is made good by computing, not by the chain.
    """

    asked_hz: float
    reached_hz: float
    from_hz: float


@dataclass(frozen=True, kw_only=True)
class Input:
    """How the recording was made: the channel with the light, and how the input's coupling was undone.

    `alone` is what this recording tells of the input by itself, for the memory of the sound card; `remembered` is what
    was known before and used, None where nothing was known or this recording contradicts it.
    """

    rate_hz: float
    channel: int
    is_inverted: bool
    corners_hz: tuple[float, ...]
    undo_a_per_s: float
    undo_b_per_s2: float
    undo_e_per_s2: float
    u_undo_a_per_s: float
    u_undo_b_per_s2: float
    alone: Instrument
    remembered: Instrument | None
    sensor: str

    @property
    def undo(self) -> tuple[float, float, float]:
        """The coefficients that undo the coupling."""
        return self.undo_a_per_s, self.undo_b_per_s2, self.undo_e_per_s2


@dataclass(frozen=True)
class First:
    """The first firing after rest against the others, and how far chance takes one (99 %). [stops]"""

    stops: float
    by_chance_stops: float


@dataclass(frozen=True)
class Drift:
    """The change from the first to the last firing, and how often chance makes so clear an order. [stops]"""

    stops: float
    probability: float


@dataclass(frozen=True, kw_only=True)
class Speed:
    """The firings of one setting of the speed dial.

    `i_firings` count in the recording's order. `compared` is with the mark that was given, None without one; `likely`
    is the nearest mark, a guess, where none was given. `effective` is the mean (in stops) of the effective times with
    its budget. [s]
    """

    i_firings: tuple[int, ...]
    likely: str | None
    effective: TimeWithBudget
    repeatability_stops: float | None
    first: First | None
    drift: Drift | None
    stopped_down: tuple[StoppedDown, ...]
    compared: Comparison | None
    flags: tuple[str, ...] = field(default=(), metadata={"stored": False})  # they stand with the record's own

    @property
    def figures(self) -> tuple[Figure, ...]:
        """The effective time, and its error where a mark was given."""
        marked = self.compared.marked if self.compared else self.likely or ""
        time = Figure.of("effective", self.effective, n=len(self.i_firings), marked=marked)
        return (time, self.compared.figure()) if self.compared else (time,)


@dataclass(frozen=True, kw_only=True)
class ShutterRecord(Record):
    """All firings of a recording in order, what was skipped, and how the recording was made.

    `compared` is there where all firings are of one marked speed.
    """

    firings: tuple[Firing, ...] = ()
    skipped: tuple[Skipped, ...] = ()
    input: Input | None = None
    chain: Chain | None = None
    speeds: tuple[Speed, ...] = ()
    compared: Comparison | None = None

    @property
    def comparisons(self) -> tuple[Comparison, ...]:
        """Every comparison with a marked speed."""
        return tuple(speed.compared for speed in self.speeds if speed.compared)


@dataclass(frozen=True)
class Measured:
    """What `measure` found in a recording, before it is compared with marks.

    `coupling` is what undid the input's high-pass; `coupling_alone` what this recording alone tells of it, for the
    memory of the instrument.
    """

    firings: tuple[Firing, ...]
    skipped: tuple[Skipped, ...]
    coupling: Coupling
    coupling_alone: Coupling
    is_inverted: bool
    rate_hz: float
    i_channel: int
    sensor: str
    chain: Chain
    flags: tuple[str, ...]

    def input(self, remembered: Instrument | None) -> Input:
        """How the recording was made."""
        alone = self.coupling_alone
        return Input(
            rate_hz=self.rate_hz,
            channel=self.i_channel + 1,
            is_inverted=self.is_inverted,
            corners_hz=self.coupling.corners_hz,
            undo_a_per_s=self.coupling.a,
            undo_b_per_s2=self.coupling.b,
            undo_e_per_s2=self.coupling.e,
            u_undo_a_per_s=math.sqrt(self.coupling.covariance[0, 0]),
            u_undo_b_per_s2=math.sqrt(self.coupling.covariance[1, 1]),
            alone=combined(None, alone.a, alone.b, alone.covariance),
            remembered=remembered if self.coupling is not alone else None,
            sensor=self.sensor,
        )
