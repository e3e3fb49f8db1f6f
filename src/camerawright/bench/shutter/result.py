"""What the measurement of a leaf shutter says."""

from dataclasses import dataclass
from typing import Literal

from camerawright.bench.contract import Skipped
from camerawright.handbook.light_sensors import Sensor
from camerawright.numeric.coupling import Coupling
from camerawright.quantity import Quantity

LevelFrom = Literal["its own plateau", "slower firings", "its own peak"]
"""What the light of full opening was taken from; the last where nothing tells it."""


@dataclass(frozen=True)
class StoppedDown:
    """The effective time that a firing would have had with the lens stopped down by so many stops. [s]"""

    stops: float
    effective: Quantity


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
    total: Quantity
    half_peak: Quantity
    effective: Quantity
    efficiency: float
    opening: Quantity
    closing: Quantity
    level: float
    u_level: float
    opens_to: float
    u_opens_to: float
    snr_db: float
    flicker: float
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


@dataclass(frozen=True)
class Chain:
    """How far sensor and input are from what ISO 516 asks of a detector: flat within 3 dB from DC to 100/t0.

    `asked_hz` is 100 over the shortest total time, `reached_hz` what sampling and sensor pass at most, `from_hz` the
    lower corner, whose loss is made good by computing, not by the chain.
    """

    asked_hz: float
    reached_hz: float
    from_hz: float


@dataclass(frozen=True)
class ShutterResult:
    """All firings of a recording in order, what was skipped, and how the recording was made.

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
    sensor: Sensor
    chain: Chain
    flags: tuple[str, ...]
