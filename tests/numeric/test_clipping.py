"""Which samples are clipped: waves cut off at known heights."""

import numpy as np
import pytest
from numpy.typing import NDArray

from camerawright.numeric.clipping import clipped, n_clipped

Floats = NDArray[np.float32]


def wave(low: float, high: float) -> Floats:
    """A slow sine cut off at two heights."""
    return np.clip(1.2 * np.sin(np.linspace(0, 20, 4_000)), low, high).astype(np.float32)


def test_a_wave_that_is_free_to_move_is_not_clipped() -> None:
    assert not clipped(wave(-2, 2), 16).any()
    assert not clipped(np.random.default_rng(0).standard_normal(500).astype(np.float32), None).any()


@pytest.mark.parametrize(("low", "high"), [(-1, 1 - 2**-15), (-2, 0.6), (-0.6, 2), (-0.5, 0.5)])
def test_every_sample_at_an_end_stop_is_clipped_and_no_other(low: float, high: float) -> None:
    samples = wave(low, high)
    at_stop = (samples == np.float32(low)) | (samples == np.float32(high))
    assert at_stop.any()
    assert np.array_equal(clipped(samples, 16), at_stop)


@pytest.mark.parametrize(("height", "bits", "equal", "is_clipped"), [
    (1 - 2**-15, 16, 3, True),  # two pairs of neighbours at full scale
    (1 - 2**-15, 16, 2, False),
    (1 - 2**-15, None, 3, True),  # no depth known: as 16 bits
    (1 - 2**-15, 24, 3, True),  # 16 bits in a file of 24
    (1 - 2**-7, 8, 3, True),  # the highest code of 8 bits
    (1 - 2**-7, 16, 3, False),
    (-1.0, 16, 3, True),
    (0.5, 16, 12, False),  # twelve samples are eleven pairs
    (0.5, 16, 13, True),
])  # fmt: skip
def test_two_pairs_of_neighbours_are_a_stop_at_full_scale_and_a_dozen_anywhere(
    height: float, bits: int | None, equal: int, is_clipped: bool
) -> None:
    samples = np.linspace(-0.1, 0.1, 100).astype(np.float32)
    samples[40 : 40 + equal] = height
    assert np.count_nonzero(clipped(samples, bits)) == (equal if is_clipped else 0)


def test_a_stretch_is_judged_by_the_extremes_of_its_whole_channel() -> None:
    samples = wave(-2, 0.6)
    low, high = float(samples.min()), float(samples.max())
    assert n_clipped(samples, low, high, 16) == np.count_nonzero(clipped(samples, 16)) > 100
    assert n_clipped(samples[:50], low, high, 16) == 0
    assert n_clipped(samples, low, 0.9, 16) == 0
