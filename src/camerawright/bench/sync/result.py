"""A sync result: every firing's delays with their budgets."""

from dataclasses import dataclass

from camerawright.bench.contract import Skipped
from camerawright.bench.sync.contact import Closure
from camerawright.handbook.light_sensors import Sensor
from camerawright.handbook.sync import Instant
from camerawright.quantity import Quantity


@dataclass(frozen=True)
class Firing:
    """One firing. `at_s` is where the light passed half its level, opening.

    `half_peak` is how long the light stood above half. `closure` is None where the contact did not close; then there
    are no delays, and `is_lead_whole` says whether that is surely the contact's fault: a wire, or another firing,
    closed the circuit. `delays` counts from each instant of the light to the make (negative: the contact makes first);
    `to_closing` from the make to where the closing begins
    (95 %); `open_for` from full open to there. `open_at_make` is the part of the full light that was there at the
    make, None where the shutter was closed. `resistance_ohm` is None where the set-up does not give it.
    """

    at_s: float
    half_peak: Quantity
    closure: Closure | None
    is_lead_whole: bool
    delays: dict[Instant, Quantity]
    to_closing: Quantity | None
    open_for: Quantity
    dwell: Quantity | None
    open_at_make: float | None
    resistance_ohm: Quantity | None
    has_plateau: bool
    level_fs: float
    snr_db: float
    flags: tuple[str, ...]


@dataclass(frozen=True)
class SyncResult:
    """All firings of a recording in order."""

    firings: tuple[Firing, ...]
    skipped: tuple[Skipped, ...]
    rate_hz: float
    i_light: int
    light_corners_hz: tuple[float, ...]
    crosstalk_db: float | None
    is_bridged: bool
    sensor: Sensor
    flags: tuple[str, ...]
