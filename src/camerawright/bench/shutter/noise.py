"""The noise of a recording from its dark, and what it does to anything linear in the samples."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Noise:
    """Power spectral density of the dark, per segment-bin, and how many segments it was averaged over."""

    density: Floats  # two-sided, [1/bin] of a unit-rate transform: sigma² is its mean
    n_segments: int

    @property
    def sigma(self) -> float:
        """Standard deviation of a sample."""
        return float(np.sqrt(np.mean(self.density)))

    def u_of(self, weights: Floats) -> float:
        """Standard deviation of ``weights @ noise``."""
        n = len(weights)
        power = np.abs(np.fft.fft(weights)) ** 2
        bins = np.abs(np.fft.fftfreq(n)) * len(self.density)
        at = np.minimum(bins, len(self.density) - bins)
        density = np.interp(at, np.arange(len(self.density) // 2 + 1), self.density[: len(self.density) // 2 + 1])
        return float(np.sqrt(np.mean(power * density)))


def noise_of(pieces: list[Floats], n_bins: int) -> Noise:
    """Welch's estimate over dark pieces, each with its straight line taken off; half-overlapping Hann windows."""
    window = np.hanning(n_bins + 1)[:-1]
    density = np.zeros(n_bins)
    n = 0
    line = np.linspace(-1, 1, n_bins)
    for piece in pieces:
        for start in range(0, len(piece) - n_bins + 1, n_bins // 2):
            part = piece[start : start + n_bins]
            part = part - part.mean()
            part = part - line * (line @ part) / (line @ line)
            density += np.abs(np.fft.fft(part * window)) ** 2
            n += 1
    if n == 0:
        sigma2 = float(np.mean([float(np.var(piece)) for piece in pieces if len(piece) > 1] or [0.0]))
        return Noise(np.full(n_bins, sigma2), 1)
    return Noise(density / (n * np.sum(window**2)), n)
