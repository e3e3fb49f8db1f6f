"""Several slow speeds in one recording: which runs belong together, and what the runs of each say."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from camerawright.bench.escapement.open_close import Pair
from camerawright.bench.escapement.result import EscapementResult, Run
from camerawright.bench.marked_speeds import AtSpeed, sorted_to
from camerawright.handbook.exposure import MarkedSpeed
from camerawright.quantity import Quantity, mean_of


@dataclass(frozen=True)
class Speed:
    """The runs of one setting of the speed dial, with the means over them."""

    at: AtSpeed
    rate: Quantity
    unevenness: Quantity
    alternation: Quantity
    drift: Quantity
    n_stalls: int
    n_missed: int


def speeds(result: EscapementResult, marks: Sequence[MarkedSpeed]) -> tuple[Speed, ...]:
    """The speeds of a recording, slowest first, their runs told apart by how long each lasts without its stalls.

    Raises
    ------
    NotUnderstood
        There are not as many speeds in the recording as marks were given.
    """
    return tuple(
        _speed(at, [result.runs[i] for i in at.i_firings])
        for at in sorted_to([_lasts_s(run) for run in result.runs], marks)
    )


def _lasts_s(run: Run) -> float:
    """From opening to closing where both are heard, else from a beat before the first beat to the last; no stalls."""
    stalled_s = sum(stall.length_s for stall in run.stalls)
    if isinstance(run.pair, Pair):
        return max(run.pair.time.value - stalled_s - (run.hang_s or 0.0), 1 / run.rate.value)
    return run.stop_s - run.at_s + 1 / run.rate.value - stalled_s


def _speed(at: AtSpeed, runs: Sequence[Run]) -> Speed:
    """Means over the runs of one speed."""

    def mean(of: Callable[[Run], Quantity]) -> Quantity:
        return mean_of([of(run) for run in runs], _SHARED)

    return Speed(
        at,
        mean(lambda run: run.rate),
        mean(lambda run: run.unevenness),
        mean(lambda run: run.alternation),
        mean(lambda run: run.drift),
        sum(len(run.stalls) for run in runs),
        sum(run.n_missed for run in runs),
    )


_SHARED = frozenset({"clock", "pallets sound unlike"})
"""Budget lines that are the same error in every run of a recording."""
