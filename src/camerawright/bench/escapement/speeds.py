"""Several slow speeds in one recording: which runs belong together, and what the runs of each say."""

from collections.abc import Callable, Sequence
from dataclasses import replace

from camerawright.bench.escapement.record import Measured, Run, Speed
from camerawright.bench.marked_speeds import AtSpeed, sorted_to
from camerawright.handbook.exposure import MarkedSpeed, stops
from camerawright.quantity import Quantity, mean_of

_SHARED = frozenset({"clock", "pallets sound unlike"})
"""Budget lines that are the same error in every run of a recording."""


def at_speeds(found: Measured, marks: Sequence[MarkedSpeed]) -> tuple[tuple[Run, ...], tuple[Speed, ...]]:
    """The runs, each with how far its time is from its mark, and the speeds, slowest first.

    Runs are sorted to the marks by how long each lasts without its stalls.

    Raises
    ------
    NotUnderstood
        There are not as many speeds in the recording as marks were given.
    """
    sets = sorted_to([_lasts_s(run) for run in found.runs], marks)
    mark_of = {i: at.mark for at in sets for i in at.i_firings}
    runs = tuple(_from_mark(run, mark_of[i]) for i, run in enumerate(found.runs))
    return runs, tuple(_speed(at, [runs[i] for i in at.i_firings]) for at in sets)


def _from_mark(run: Run, mark: MarkedSpeed | None) -> Run:
    """A run with how far its time from opening to closing is from the mark, where both are there."""
    time = run.open_close.time
    if time is None or mark is None:
        return run
    return replace(run, open_close=replace(run.open_close, stops_from_mark=stops(time.value, mark.target_s)))


def _lasts_s(run: Run) -> float:
    """From opening to closing where both are heard, else from a beat before the first beat to the last; no stalls."""
    stalled_s, period_s = sum(stall.length_s for stall in run.stalls), 1 / run.beat_rate.value
    if run.open_close.time is not None:
        return max(run.open_close.time.value - stalled_s - (run.hang_s or 0.0), period_s)
    return run.stop_s - run.at_s + period_s - stalled_s


def _speed(at: AtSpeed, runs: Sequence[Run]) -> Speed:
    """Means over the runs of one speed."""

    def mean(of: Callable[[Run], Quantity]) -> Quantity:
        return mean_of([of(run) for run in runs], _SHARED)

    return Speed(
        marked=at.mark.text if at.mark else None,
        likely=at.likely.text if at.likely else None,
        lasts_s=at.usual_s,
        i_firings=at.i_firings,
        beat_rate=mean(lambda run: run.beat_rate),
        unevenness=mean(lambda run: run.unevenness),
        alternation=mean(lambda run: run.alternation),
        drift=mean(lambda run: run.drift),
        n_stalls=sum(len(run.stalls) for run in runs),
        n_missed=sum(run.n_missed for run in runs),
    )
