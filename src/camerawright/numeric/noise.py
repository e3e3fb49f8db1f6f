"""The noise of a recording from its dark, and what it does to anything linear in the undone light."""

import math
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from camerawright.numeric.coupling import Coupling, undone
from camerawright.numeric.firings import GUARD_S, Span
from camerawright.numeric.samples import Samples
from camerawright.trouble import NotMeasurable

Floats = NDArray[np.float64]

_PIECE_S = 0.1  # length of a piece of dark
_PIECES = 120  # that many pieces tell the noise well enough
_SLOW_S, _LEAST_MEANS = 1e-3, 4


@dataclass(frozen=True, eq=False)
class Noise:
    """Power of the recorded noise against frequency from zero to half the rate; `n_segments` pieces gave it.

    White noise of variance v has a density of v throughout. Undoing the coupling makes it louder towards zero,
    by a known factor: that is applied where the noise is used.
    """

    density: Floats
    n_segments: int
    rate_hz: float
    coupling: Coupling
    _known: dict[int, Floats] = field(default_factory=dict, init=False, repr=False)  # by the number of weights

    @property
    def sigma(self) -> float:
        """Standard deviation of a recorded sample."""
        return float(np.sqrt(np.mean(self.density)))

    def u_of(self, weights: Floats) -> float:
        """Standard deviation of ``weights @ light`` from noise alone; the weights must let no constant pass."""
        n = 1 << (len(weights) - 1).bit_length()
        spectrum = np.fft.rfft(weights, n)
        return math.sqrt(float((spectrum.real**2 + spectrum.imag**2) @ self._per_power(n)))

    def _per_power(self, n: int) -> Floats:
        """What each line of the spectrum of n weights adds to the variance."""
        if n not in self._known:
            at = np.linspace(0, len(self.density) - 1, n // 2 + 1)
            density = np.interp(at, np.arange(len(self.density)), self.density)
            density = density * _undoing_gain(np.linspace(0, self.rate_hz / 2, n // 2 + 1), self.coupling) / n
            density[0] = 0
            density[1:-1] *= 2
            self._known[n] = density
        return self._known[n]

    def unrest(self, dark: Floats) -> tuple[float, float]:
        """Slow movement of a stretch of undone dark, and how many times what the noise does that is (at least 1)."""
        block = max(1, round(_SLOW_S * self.rate_hz))
        means = dark[: len(dark) // block * block].reshape(-1, block).mean(axis=1)
        if len(means) < _LEAST_MEANS:
            return 0.0, 1.0
        weights = np.zeros(block * 16)
        weights[:block] = 1 / block
        moves = float(np.std(means))
        return moves, max(1.0, moves / max(self.u_of(weights), 1e-30) / (1 + 2 / math.sqrt(len(means))))


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


def noise_between(
    level: Samples, rate_hz: float, spans: tuple[Span, ...], coupling: Coupling, bits: int | None
) -> Noise:
    """Noise of the dark between the firings of a recording, no less than the converter's steps.

    Parameters
    ----------
    level : shape (n,)
        One channel as recorded. [full scale = 1]
    rate_hz, bits
        Sampling rate [Hz], and bits of the converter (None where not known).
    spans, coupling
        Its firings and what undoes its coupling.

    Raises
    ------
    NotMeasurable
        There is no dark between them.
    """
    edges_s = [
        0.0,
        *(t for span in spans for t in (span.up_s - GUARD_S, span.down_s + 2 * GUARD_S)),
        len(level) / rate_hz,
    ]
    darks = [
        (round(a * rate_hz), max(round(a * rate_hz), round(b * rate_hz)))
        for a, b in zip(edges_s[::2], edges_s[1::2], strict=True)
    ]
    longest = max(stop - start for start, stop in darks)
    n_bins = 2 ** int(np.clip(math.log2(max(longest, 64)), 6, math.log2(_PIECE_S * rate_hz)))
    starts = [at for start, stop in darks for at in range(start, stop - n_bins + 1, n_bins // 2)]
    if not starts:
        raise NotMeasurable(
            "there is no dark between the firings", "Leave a second of dark before and after each firing"
        )
    every = max(1, len(starts) // _PIECES)
    pieces = [
        undone(level[at : at + n_bins], 1 / rate_hz, coupling.a, coupling.b, coupling.e) for at in starts[::every]
    ]
    noise = noise_of(pieces, rate_hz, coupling)
    lsb = 2.0 ** (1 - bits) if bits else 0.0
    return replace(noise, density=np.maximum(noise.density, lsb**2 / 12))


def _undoing_gain(f_hz: Floats, coupling: Coupling) -> Floats:
    """Power gain of undoing the coupling, |1 + a/(jω) + b/(jω)²|²; at zero, where nothing passes, that of the next."""
    w = 2 * math.pi * np.maximum(f_hz, f_hz[1])
    return np.asarray((1 - coupling.b / w**2) ** 2 + (coupling.a / w) ** 2)
