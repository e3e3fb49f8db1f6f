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
