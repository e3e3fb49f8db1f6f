"""Steps of a contact, where they were put, however the recording is cut into pieces."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from camerawright.bench.sync import contact
from camerawright.bench.sync.contact import sharp_steps

N = 40_000


@settings(max_examples=60, deadline=None)
@given(
    at=st.lists(st.integers(20, N // 10 - 20), min_size=1, max_size=12, unique=True),
    piece=st.integers(600, 50_000),
    seed=st.integers(0, 99),
)
def test_steps_are_found_where_they_are_put_however_the_recording_is_cut(at: list[int], piece: int, seed: int) -> None:
    """A square wave with noise of a hundredth of it, and a slow wave as high beside it, which has no step."""
    edges = np.sort(np.array(at)) * 10
    square = np.zeros(N)
    for edge in edges:
        square[edge:] = 1 - square[edge:]
    rng = np.random.default_rng(seed)
    slow = 0.5 + 0.5 * np.sin(2 * np.pi * np.arange(N) / 800)
    with pytest.MonkeyPatch.context() as patched:
        patched.setattr(contact, "_PIECE", piece)
        patched.setattr(contact, "_ENOUGH", 1000)
        sharp, none = sharp_steps([square + 0.01 * rng.standard_normal(N), slow + 0.001 * rng.standard_normal(N)])
    assert len(sharp.at) == len(edges)
    assert np.abs(sharp.at - edges).max() <= 1
    assert np.array_equal(np.sign(sharp.height), np.resize([1.0, -1.0], len(edges)))
    assert len(none.at) == 0
