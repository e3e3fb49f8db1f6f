"""The envelope against a plain loop over every column."""

import numpy as np
import pytest

from camerawright.numeric.envelope import BLOCK, envelope, extremes

SAMPLES = np.random.default_rng(4).standard_normal(300_001)
KNOWN = extremes(SAMPLES[at : at + 64 * BLOCK].astype(np.float32) for at in range(0, len(SAMPLES), 64 * BLOCK))
STRETCHES = [
    (0, 300_001, 1000),
    (12_345, 299_000, 300),
    (77, 1077, 500),
    (50_001, 90_007, 800),
    (5, 90, 400),
    (299_990, 300_001, 50),
]


@pytest.mark.parametrize(("start", "stop", "width"), STRETCHES)
def test_every_column_holds_the_extremes_of_its_own_samples(start: int, stop: int, width: int) -> None:
    seen = envelope(SAMPLES, KNOWN, start, stop, width)
    fine = SAMPLES.astype(np.float32)
    for i, (low, high) in enumerate(zip(seen.low, seen.high, strict=True)):
        column = fine[seen.start + i * seen.step : seen.start + (i + 1) * seen.step]
        assert (low, high) == (column.min(), column.max())


def test_the_remembered_extremes_are_those_of_every_block() -> None:
    fine = SAMPLES.astype(np.float32)
    assert KNOWN.n_samples == len(fine)
    blocks = [fine[at : at + BLOCK] for at in range(0, len(fine), BLOCK)]
    assert KNOWN.low.tolist() == [float(block.min()) for block in blocks]
    assert KNOWN.high.tolist() == [float(block.max()) for block in blocks]


@pytest.mark.parametrize(("start", "stop", "width"), STRETCHES)
def test_the_columns_cover_what_was_asked_for_and_hardly_more(start: int, stop: int, width: int) -> None:
    seen = envelope(SAMPLES, KNOWN, start, stop, width)
    assert seen.start <= start < seen.start + max(BLOCK, 1)
    assert seen.start + len(seen.low) * seen.step >= stop
    assert len(seen.low) <= width + 1


def test_a_single_sample_stands_out_however_far_away_it_is_seen() -> None:
    spike = np.zeros(1_000_000)
    spike[654_321] = 1
    seen = envelope(spike, extremes([spike.astype(np.float32)]), 0, len(spike), 100)
    (i,) = np.flatnonzero(seen.high)
    assert seen.start + i * seen.step <= 654_321 < seen.start + (i + 1) * seen.step


def test_beyond_the_end_there_is_nothing() -> None:
    assert len(envelope(SAMPLES, KNOWN, 400_000, 500_000, 10).low) == 0
    assert len(envelope(SAMPLES, extremes([]), 0, 10, 10).low) == 0


def test_a_stretch_of_as_many_samples_as_columns_is_drawn_sample_by_sample() -> None:
    seen = envelope(SAMPLES, KNOWN, 100, 140, 40)
    assert (seen.start, seen.step) == (100, 1)
    assert seen.low.tolist() == seen.high.tolist() == SAMPLES[100:140].astype(np.float32).tolist()
    assert envelope(SAMPLES, KNOWN, 100, 110, 40).step == 1
    assert len(envelope(SAMPLES, KNOWN, 100, 110, 0).low) == 1


@pytest.mark.parametrize("step", [4 * BLOCK - 1, 4 * BLOCK])
def test_fine_columns_begin_where_they_were_asked_and_coarse_ones_on_a_block(step: int) -> None:
    """Below four blocks a column is read from the samples, from there on from what is remembered of them."""
    seen = envelope(SAMPLES, KNOWN, 77, 77 + 50 * step, 50)
    assert seen.step == step
    assert seen.start == (77 if step < 4 * BLOCK else 64)
    nothing = envelope(np.full(len(SAMPLES), np.nan), KNOWN, 77, 77 + 50 * step, 50)
    assert bool(np.isnan(nothing.low).any()) == (step < 4 * BLOCK)


def test_a_stretch_that_ends_within_a_column_is_drawn_to_the_columns_end() -> None:
    seen = envelope(SAMPLES, KNOWN, 0, 1_001, 100)
    assert seen.step == 11
    assert len(seen.low) == 91
    assert seen.start + 91 * 11 == 1_001
    assert len(envelope(SAMPLES, KNOWN, 0, 1_000, 300).low) == 250
    last = envelope(SAMPLES, KNOWN, 300_001 - 10, 400_000, 4)
    assert (last.start, last.step, len(last.low)) == (299_991, 3, 4)


def test_before_the_beginning_there_is_nothing() -> None:
    seen = envelope(SAMPLES, KNOWN, -500, 100, 100)
    assert (seen.start, len(seen.low)) == (0, 100)
    assert len(envelope(SAMPLES, KNOWN, 50, 20, 10).low) == 0
