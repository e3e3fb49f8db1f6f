"""What the measurement of a clip found: the firings of a shutter, or the line time of the camera that filmed."""

from dataclasses import dataclass, field
from typing import Annotated

from camerawright.bench.codec import Keys, Named, in_unit
from camerawright.bench.comparison import Comparison
from camerawright.bench.record import Record, Skipped
from camerawright.quantity import Quantity

TimeWithBudget = Annotated[Quantity, in_unit("s", "s", budget="budget_{}")]


@dataclass(frozen=True)
class Frame:
    """One frame: when, the light over the fully open level, the part of the gate that is uncovered and its u."""

    i_frame: Annotated[int, Named("frame")]
    at_s: float
    light: float
    area: float
    u_area: float


@dataclass(frozen=True)
class Firing:
    """One firing. `at_s` is when it was half open; `effective` is the light integral over the fully open level. [s]

    `frames_open` counts the frames with more than half of the level.
    """

    at_s: float
    effective: TimeWithBudget
    frames_open: int
    level_from: str
    frames: tuple[Frame, ...]
    flags: tuple[str, ...]


@dataclass(frozen=True)
class LineTime:
    """How long the sensor takes from one row to the next, and from the first to the last; how deep the stripes are."""

    line: Annotated[Quantity, Keys("s", value="line_time_s", u="u_line_time_s", k95="k95", budget="budget")]
    readout_s: float
    contrast: float
    n_frames: int
    flags: tuple[str, ...] = field(default=(), metadata={"stored": False})  # they stand with the record's own


@dataclass(frozen=True, kw_only=True)
class Input:
    """How the clip was taken.

    `slowed` is how many times slower than life it plays, `n_references` counts the openings that were held to show the
    level, `edge_spread_frames` is how far edges are smeared, as a standard deviation in frame intervals.
    """

    fps: float
    slowed: float
    region_px: tuple[int, int, int, int]
    level: float
    n_references: int
    edge_spread_frames: float


@dataclass(frozen=True, kw_only=True)
class FootageRecord(Record):
    """All firings of a clip in order, what was skipped, and how the clip was taken; or the line time."""

    firings: tuple[Firing, ...] = ()
    skipped: tuple[Skipped, ...] = ()
    input: Input | None = None
    line_time: LineTime | None = None
    compared: Comparison | None = None

    @property
    def is_calibration(self) -> bool:
        """Whether it calibrates the camera that films."""
        return self.line_time is not None


@dataclass(frozen=True, kw_only=True)
class Measured:
    """What `measure` found in a clip, before it is compared with a mark.

    `is_rate_told` where somebody or the file named the rate of capture.
    """

    method: str
    firings: tuple[Firing, ...]
    skipped: tuple[Skipped, ...]
    input: Input
    is_rate_told: bool
    flags: tuple[str, ...]
