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
