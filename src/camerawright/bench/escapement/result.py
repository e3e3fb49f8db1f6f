"""The beat of every run in a recording."""

from dataclasses import dataclass

from camerawright.bench.contract import Skipped
from camerawright.bench.escapement.open_close import Pair, Refused
from camerawright.bench.escapement.train import Stall
from camerawright.quantity import Quantity


@dataclass(frozen=True)
class Beat:
    """One beat's length against the line through all: deviation and u, relative to the usual beat."""

    at_s: float
    deviation: float
    u_deviation: float


@dataclass(frozen=True)
class Run:
    """One run of the train.

    `rate` is beats a second over all beats heard in a row; `drift` the change of a beat's length from first to last,
    `alternation` how much longer every other beat is than the one before, `unevenness` the standard deviation of what
    is left: all relative to the usual beat. `n_missed` beats were not heard. `part` of a stall is where along the run
    it is.
    """

    at_s: float
    stop_s: float
    n_beats: int
    n_missed: int
    rate: Quantity
    drift: Quantity
    alternation: Quantity
    unevenness: Quantity
    beats: tuple[Beat, ...]
    late: tuple[Beat, ...]
    stalls: tuple[Stall, ...]
    stall_parts: tuple[float, ...]
    hang_s: float | None  # from the last beat to the closing, beyond a beat's length; None where that is not known
    pair: Pair | Refused
    flags: tuple[str, ...]


@dataclass(frozen=True)
class EscapementResult:
    """All runs of a recording in order."""

    runs: tuple[Run, ...]
    skipped: tuple[Skipped, ...]
    rate_hz: float
    i_channel: int
    snr_db: float
    flags: tuple[str, ...]
