"""Where a recording has firings: rectangles of light through RC stages, at known times."""

import numpy as np
import pytest
from numpy.typing import NDArray

from camerawright.numeric.firings import block_width, find, find_in_blocks
from camerawright.trouble import NotMeasurable
from tests.numeric.high_pass import PLATEAU, openings, recorded, spans

Floats = NDArray[np.float64]

RATE_HZ = 8_000.0


def noisy(level: Floats, part: float = 1e-2, seed: int = 0) -> Floats:
    return np.asarray(level + part * PLATEAU * np.random.default_rng(seed).standard_normal(len(level)))


def lit(*stretches_s: tuple[float, float, float], length_s: float = 2.0) -> Floats:
    """Light of a height from one time to another."""
    at_s = np.arange(round(length_s * RATE_HZ)) / RATE_HZ
    return np.asarray(sum(height * PLATEAU * ((at_s >= up) & (at_s < down)) for up, down, height in stretches_s))


@pytest.mark.parametrize("sign", [1, -1])
@pytest.mark.parametrize("corners_hz", [(12.0, 1.3), (20.0, 20.0)])
@pytest.mark.parametrize("open_s", [0.004, 0.02, 0.3])
def test_every_firing_is_found_within_half_a_millisecond(
    sign: int, corners_hz: tuple[float, float], open_s: float
) -> None:
    level = sign * noisy(recorded(openings(3, rate_hz=RATE_HZ, open_s=open_s), corners_hz, RATE_HZ))
    found = find(level, RATE_HZ)
    assert found.sign == sign
    assert found.n_lonely == 0
    for span, true in zip(found.spans, spans(3, open_s=open_s), strict=True):
        assert span.up_s == pytest.approx(true.up_s, abs=5e-4)
        assert span.down_s == pytest.approx(true.down_s, abs=5e-4)
        assert span.duration_s == pytest.approx(open_s, abs=5e-4)


def test_blocks_of_a_quarter_millisecond_tell_what_the_samples_tell() -> None:
    level = noisy(recorded(openings(2, rate_hz=RATE_HZ), (12.0, 1.3), RATE_HZ))
    assert block_width(RATE_HZ) == 2
    assert block_width(48_000) == 12
    assert block_width(1_000) == 1
    blocks = level[: len(level) // 2 * 2].reshape(-1, 2).mean(axis=1)
    assert find_in_blocks(blocks, 0.25e-3) == find(level, RATE_HZ) == find(np.append(level, 9.0), RATE_HZ)


def test_contrast_is_the_edge_over_the_middle_step() -> None:
    """A step between means of n samples has the noise s √(2/n); the middle of |normal| is 0.6745 of it."""
    found = find(noisy(lit((0.5, 0.6, 1.0), (1.2, 1.3, 1.0))), RATE_HZ)
    assert found.contrast == pytest.approx(1 / (0.6745 * 1e-2 * np.sqrt(2 / 8)), rel=0.1)


def test_an_edge_without_a_partner_is_lonely() -> None:
    found = find(noisy(lit((0.0, 0.2, 1.0), (0.8, 0.9, 1.0))), RATE_HZ)  # the recording began in the light
    assert len(found.spans) == 1
    assert found.spans[0].up_s == pytest.approx(0.8, abs=5e-4)
    assert found.n_lonely == 1
    assert found.sign == 1


def test_of_two_polarities_that_pair_alike_the_one_that_is_open_for_less_of_the_time_is_right() -> None:
    """Cut off in the second firing: up, down, up pairs one way round as often as the other."""
    found = find(noisy(lit((0.5, 0.55, 1.0), (1.2, 2.0, 1.0))), RATE_HZ)
    assert found.sign == 1
    assert [span.duration_s for span in found.spans] == pytest.approx([0.05], abs=5e-4)


@pytest.mark.parametrize(("height", "n"), [(0.3, 2), (0.2, 1)])
def test_a_firing_at_a_smaller_aperture_counts_from_a_quarter_of_the_largest(height: float, n: int) -> None:
    assert len(find(noisy(lit((0.5, 0.6, 1.0), (1.2, 1.3, height)), 3e-3), RATE_HZ).spans) == n


@pytest.mark.parametrize(("after_s", "n"), [(0.05, 1), (0.3, 2)])
def test_a_weak_flash_of_light_counts_far_from_a_firing_and_not_near_it(after_s: float, n: int) -> None:
    level = noisy(lit((0.5, 0.6, 1.0), (0.6 + after_s, 0.61 + after_s, 0.28)), 3e-3)
    assert len(find(level, RATE_HZ).spans) == n


def test_an_edge_in_two_steps_is_one_edge() -> None:
    """A blade that hangs for 2 ms on its way; the larger step is where the edge is."""
    found = find(noisy(lit((0.5, 0.502, 0.4), (0.502, 0.6, 1.0))), RATE_HZ)
    assert len(found.spans) == 1
    assert found.n_lonely == 0
    assert found.spans[0].up_s == pytest.approx(0.502, abs=5e-4)


@pytest.mark.parametrize(
    ("level", "why"),
    [
        (np.zeros(79), "too short"),
        (np.zeros(8_000), "silent"),
        (noisy(np.zeros(8_000)), "no edge of light stands out"),
        (noisy(lit((1.0, 2.0, 1.0))), "no second one"),
    ],
)
def test_what_holds_no_firing_is_refused(level: Floats, why: str) -> None:
    with pytest.raises(NotMeasurable, match=why):
        find(level, RATE_HZ)


def test_an_edge_at_the_very_start_is_no_firing() -> None:
    with pytest.raises(NotMeasurable, match="very start or end"):
        find_in_blocks(np.concatenate([np.ones(4), np.zeros(60)]), 0.25e-3)


def test_ten_milliseconds_are_long_enough() -> None:
    blocks = np.zeros(40)
    blocks[16:28] = 1
    assert find_in_blocks(blocks, 0.25e-3).spans[0].duration_s == pytest.approx(3e-3)
