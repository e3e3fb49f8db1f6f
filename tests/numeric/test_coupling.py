"""What undoes the coupling, and how well it is known, from a few firings."""

import math

import numpy as np
import pytest

from camerawright.bench.shutter import simulate
from camerawright.bench.shutter.simulate import Unseen
from camerawright.numeric.coupling import identify
from camerawright.numeric.firings import find

_N = 30


def _normalised(n_firings: int) -> tuple[float, float]:
    """Mean squares of the errors of a and b over their stated u, each 1 where those are right."""
    squares = []
    for seed in range(_N):
        rng = np.random.default_rng([seed, n_firings])
        made = simulate.drawn(1 / 60, 40, Unseen(0, 0, 0), rng, n_firings)
        level, _ = simulate.recording(made, seed)
        found = find(level, made.card.rate_hz)
        coupling = identify(level * found.sign, made.card.rate_hz, found.spans)
        one, other = (2 * math.pi * corner_hz for corner_hz in made.card.corners_hz)
        away = np.array([coupling.a - (one + other), coupling.b - one * other])
        squares.append(away**2 / np.diag(coupling.covariance)[:2])
    mean = np.mean(squares, axis=0)
    return float(mean[0]), float(mean[1])


@pytest.mark.parametrize("n_firings", [1, 2, 3, 8])
def test_what_few_firings_tell_of_the_corners_is_as_sure_as_it_says(n_firings: int) -> None:
    """Simulated blades and corners, white noise: the sum of 30 squared normalised errors is chi squared, which passes
    66 once in 6000 by chance (textbook, from memory)."""
    for mean_square in _normalised(n_firings):
        assert 0.3 < mean_square < 66 / _N, mean_square
