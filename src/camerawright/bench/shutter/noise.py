"""The noise of a recording from its dark, and what it does to anything linear in the samples."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Noise:
    """Power of the dark against frequency from zero to half the rate, and how many pieces it was averaged over.

    White noise of variance v has a density of v throughout.
    """

    density: Floats
    n_segments: int

    @property
    def sigma(self) -> float:
        """Standard deviation of a sample."""
        return float(np.sqrt(np.mean(self.density)))

    def u_of(self, weights: Floats) -> float:
        """Standard deviation of ``weights @ noise``."""
        n = 1 << (len(weights) - 1).bit_length()
        power = np.abs(np.fft.rfft(weights, n)) ** 2
        power[1:-1] *= 2
        at = np.linspace(0, len(self.density) - 1, len(power))
        return float(np.sqrt(power @ np.interp(at, np.arange(len(self.density)), self.density) / n))


def noise_of(pieces: list[Floats]) -> Noise:
    """Mean spectrum of dark pieces of one length, each with its straight line taken off, under a Hann window."""
    n = len(pieces[0])
    line = np.linspace(-1, 1, n)
    lines = np.stack([np.full(n, 1 / np.sqrt(n)), line / np.linalg.norm(line)])
    window = np.hanning(n + 1)[:-1]
    stack = np.stack(pieces)
    stack = (stack - (stack @ lines.T) @ lines) * window
    density = np.mean(np.abs(np.fft.rfft(stack, axis=1)) ** 2, axis=0) / np.sum(window**2)
    return Noise(np.asarray(density), len(pieces))
