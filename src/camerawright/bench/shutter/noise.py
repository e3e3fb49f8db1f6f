"""The noise of a recording from its dark, and what it does to anything linear in the undone light."""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from camerawright.bench.shutter.coupling import Coupling

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Noise:
    """Power of the recorded noise against frequency from zero to half the rate; `n_segments` pieces gave it.

    White noise of variance v has a density of v throughout. Undoing the coupling makes it louder towards zero,
    by a known factor: that is applied where the noise is used.
    """

    density: Floats
    n_segments: int
    rate_hz: float
    coupling: Coupling

    @property
    def sigma(self) -> float:
        """Standard deviation of a recorded sample."""
        return float(np.sqrt(np.mean(self.density)))

    def u_of(self, weights: Floats) -> float:
        """Standard deviation of ``weights @ light`` from noise alone; the weights must let no constant pass."""
        n = 1 << (len(weights) - 1).bit_length()
        power = np.abs(np.fft.rfft(weights, n)) ** 2
        power[0] = 0
        power[1:-1] *= 2
        f_hz = np.linspace(0, self.rate_hz / 2, len(power))
        at = np.linspace(0, len(self.density) - 1, len(power))
        density = np.interp(at, np.arange(len(self.density)), self.density)
        return float(np.sqrt(power @ (density * _undoing_gain(f_hz, self.coupling)) / n))


def noise_of(pieces: list[Floats], rate_hz: float, coupling: Coupling) -> Noise:
    """Mean spectrum of undone dark pieces of one length, straight lines off, under a Hann window, coupled again."""
    n = len(pieces[0])
    line = np.linspace(-1, 1, n)
    lines = np.stack([np.full(n, 1 / np.sqrt(n)), line / np.linalg.norm(line)])
    window = np.hanning(n + 1)[:-1]
    stack = np.stack(pieces)
    stack = (stack - (stack @ lines.T) @ lines) * window
    density = np.mean(np.abs(np.fft.rfft(stack, axis=1)) ** 2, axis=0) / np.sum(window**2)
    density = density / _undoing_gain(np.linspace(0, rate_hz / 2, len(density)), coupling)
    density[:3] = density[3]  # the straight lines took these
    return Noise(np.asarray(density), len(pieces), rate_hz, coupling)


def _undoing_gain(f_hz: Floats, coupling: Coupling) -> Floats:
    """Power gain of undoing the coupling, |1 + a/(jω) + b/(jω)²|²; at zero, where nothing passes, that of the next."""
    w = 2 * math.pi * np.maximum(f_hz, f_hz[1])
    return np.asarray((1 - coupling.b / w**2) ** 2 + (coupling.a / w) ** 2)
