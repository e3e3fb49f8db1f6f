"""The slow train against the second simulator: beats that are not heard at the ends. The full table is a benchmark."""

import pytest
from benchmarks.escapement_second import sweep

from tests.bench.second_train_simulator import Bench

N = 20


@pytest.mark.parametrize(
    "bench",
    [
        Bench(),
        Bench(torque_lost=0.33, first_db=12.0, n_first=3),
        Bench(beat_hz=130.0, n_beats=60),
        Bench(n_beats=10),
        Bench(run_up=0.2),
    ],
    ids=["plain", "slowing, first three soft", "130 a second", "10 beats", "runs up"],
)
def test_the_rate_is_that_of_all_beats_heard_or_not(bench: Bench) -> None:
    """The first beat drowns in the sound of the opening; where the beat drifts, the others have another rate."""
    cell = sweep(bench, range(N))
    assert cell.n_refused <= 2
    assert cell.n_wrong == 0
    assert sum(cell.held[0]) >= cell.n_runs - 3


def test_a_second_click_half_way_does_not_double_the_rate() -> None:
    """The anchor's tail lands half a beat later: the clicks sound alike in fours, not in twos."""
    cell = sweep(Bench(second_db=4.0, second_at=0.5), range(N))
    assert cell.n_wrong == 0
    assert cell.n_refused <= N // 4
    assert cell.n_flagged == cell.n_runs  # nobody can be sure


@pytest.mark.slow
def test_plain_runs_are_not_flagged() -> None:
    """An echo that falls half-way between two beats is far duller than they are."""
    cells = [sweep(Bench(beat_hz=beat_hz), range(30)) for beat_hz in (45.0, 80.0)]
    assert sum(cell.n_flagged for cell in cells) <= 2
    assert sum(sum(cell.held[0]) for cell in cells) >= 0.9 * sum(cell.n_runs for cell in cells)
