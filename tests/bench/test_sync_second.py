"""The flash contact against the second simulator: a lead that lags, chatter as it parts. The full table is a
benchmark."""

import pytest
from benchmarks.sync_second import sweep

from tests.bench.second_contact_simulator import Bench

N = 14


@pytest.mark.parametrize("rc_us", [50, 100, 200])
def test_a_lead_that_lags_is_undone(rc_us: int) -> None:
    """Both edges pass through one RC: the make was late by 0.7 RC, and from 100 us on read as no closing at all."""
    cell = sweep(Bench(rc_s=1e-6 * rc_us), range(N))
    assert (cell.n_firings, cell.n_open, cell.n_miscounted) == (N, 0, 0)
    for i in (1, 5, 6):  # half light, dwell, longest bounce
        assert sum(cell.held[i]) >= N - 2, (i, cell.errors[i], cell.u[i])


def test_a_pull_up_slows_the_break_only() -> None:
    cell = sweep(Bench(rc_s=100e-6, circuit="pull-up"), range(N))
    assert cell.n_open == 0
    assert cell.n_refused <= 1
    assert sum(cell.held[5]) >= cell.n_firings - 2


@pytest.mark.parametrize("longest_s", [0.00015, 0.0003])
def test_chatter_as_the_contact_parts_is_no_second_flash(longest_s: float) -> None:
    cell = sweep(Bench(n_chatter=6, chatter_s=longest_s), range(N))
    assert cell.n_firings == N
    assert cell.n_flagged == 0
    assert sum(cell.held[5]) >= N - 3  # of 60 firings with the short chatter 52 held: docs/accuracy/sync.md


def test_a_second_make_well_after_the_break_is_said() -> None:
    cell = sweep(Bench(open_s=1 / 15, dwell_s=0.02, again_s=0.02), range(4))
    assert cell.n_flagged == 4


@pytest.mark.slow
def test_plain_firings_hold_and_are_not_flagged() -> None:
    n = 100
    cell = sweep(Bench(), range(n))
    assert cell.n_firings == n
    assert cell.n_flagged == 0
    assert all(sum(held) / n >= 0.86 for held in cell.held[:6])  # 95 % of 100 less four standard deviations
