"""The noise of a recording, found in its dark, and how uncertain it makes anything linear in the undone light."""

import math
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from camerawright.numeric.coupling import Coupling, undone
from camerawright.numeric.firings import GUARD_S, Span
from camerawright.numeric.samples import Samples
from camerawright.trouble import NotMeasurable

Floats = NDArray[np.float64]

_PIECE_S = 0.1  # length of a piece of dark: its spectrum's lines stand some 10 Hz apart, so hum has its own
_PIECES = 120  # so many tell the power of a line to 1/sqrt(120) = 9 %, its root to 5 %
_SLOW_S, _LEAST_MEANS = 1e-3, 4


@dataclass(frozen=True, eq=False)
class Noise:
    """Power of the recorded noise against frequency, from zero to half the rate; `n_segments` pieces gave it.

    White noise of variance v has the density v at every frequency. Undoing the coupling makes low frequencies louder
    by a known factor; that factor is applied where the noise is used.
    """

    density: Floats
    n_segments: int
    rate_hz: float
    coupling: Coupling
    _known: dict[int, Floats] = field(default_factory=dict, init=False, repr=False)  # by the number of weights

    @property
    def sigma(self) -> float:
        """Standard deviation of a recorded sample."""
        # the variance is the mean of the density over all frequencies (Parseval)
        return float(np.sqrt(np.mean(self.density)))

    def u_of(self, weights: Floats) -> float:
        """Standard deviation that noise gives ``weights @ light``; the weights must add up to zero.

        Notes
        -----
        A weighted sum is a filter read at one moment. So its variance is the noise's power passed through the filter:
        (1/n) Σ |W_k|² S_k over the n lines of the weights' spectrum W, where S is the density of the undone noise
        (Wiener and Khinchin, textbook, from memory). The weights are padded with zeros to a power of two, which makes
        the lines finer and changes nothing else.
        """
        n = 1 << (len(weights) - 1).bit_length()
        spectrum = np.fft.rfft(weights, n)
        return math.sqrt(float((spectrum.real**2 + spectrum.imag**2) @ self._per_power(n)))

    def _per_power(self, n: int) -> Floats:
        """Compute what each line of the spectrum of n weights adds to the variance for each unit of its power."""
        if n not in self._known:
            at = np.linspace(0, len(self.density) - 1, n // 2 + 1)
            density = np.interp(at, np.arange(len(self.density)), self.density)
            density = density * _undoing_gain(np.linspace(0, self.rate_hz / 2, n // 2 + 1), self.coupling) / n
            density[0] = 0  # the weights add up to zero; what b∬ makes of their curvature is left out: 1 % over 0.1 s
            density[1:-1] *= 2  # each stands for the negative frequency too; zero and half the rate have no twin
            self._known[n] = density
        return self._known[n]

    def unrest(self, dark: Floats) -> tuple[float, float]:
        """Compare how a stretch of undone dark moves with what the noise alone would do.

        Returns
        -------
        Standard deviation of the means over 1 ms, and by what factor (1 or more) it is above what noise gives them.
        0 and 1 for fewer than 4 ms.

        Notes
        -----
        A standard deviation of n normal values is itself uncertain by the part 1/sqrt(2 n); 2/sqrt(n) is nearly three
        times that, so noise alone is hardly ever told to move.
        """
        block = max(1, round(_SLOW_S * self.rate_hz))
        means = dark[: len(dark) // block * block].reshape(-1, block).mean(axis=1)
        if len(means) < _LEAST_MEANS:
            return 0.0, 1.0
        weights = np.zeros(block * 16)  # zeros beside the block: finer lines of the spectrum
        weights[:block] = 1 / block
        moves = float(np.std(means))
        return moves, max(1.0, moves / max(self.u_of(weights), 1e-30) / (1 + 2 / math.sqrt(len(means))))


def noise_of(pieces: list[Floats], rate_hz: float, coupling: Coupling) -> Noise:
    """Find the noise of a recording from undone pieces of its dark, all of one length.

    Notes
    -----
    The mean of the pieces' spectra under a Hann window ([welch-1967]). Each piece loses its straight line first,
    because undoing leaves one on it. Divided by the window's sum of squares, white noise of variance v gives v. Divided
    by the gain of undoing, it is the noise as recorded.
    """
    n = len(pieces[0])
    line = np.linspace(-1, 1, n)
    lines = np.stack([np.full(n, 1 / np.sqrt(n)), line / np.linalg.norm(line)])
    window = np.hanning(n + 1)[:-1]
    stack = np.stack(pieces)
    stack = (stack - (stack @ lines.T) @ lines) * window
    density = np.mean(np.abs(np.fft.rfft(stack, axis=1)) ** 2, axis=0) / np.sum(window**2)
    density = density / _undoing_gain(np.linspace(0, rate_hz / 2, len(density)), coupling)
    density[:3] = density[3]  # the straight lines and the window's width took from these
    return Noise(np.asarray(density), len(pieces), rate_hz, coupling)


def noise_between(
    level: Samples, rate_hz: float, spans: tuple[Span, ...], coupling: Coupling, bits: int | None
) -> Noise:
    """Find the noise of the dark between the firings of a recording; it is no less than that of the converter's steps.

    Parameters
    ----------
    level : shape (n,)
        One channel as recorded. [full scale = 1]
    rate_hz, bits
        Sampling rate [Hz], and bits of the converter (None if not known).
    spans, coupling
        The firings, and what undoes the coupling.

    Raises
    ------
    NotMeasurable
        There is no dark between the firings.
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
    # rounding to steps of q is off by anything up to q/2, all equally likely: variance q²/12. [jcgm-100] F.2.2.1
    lsb = 2.0 ** (1 - bits) if bits else 0.0
    return replace(noise, density=np.maximum(noise.density, lsb**2 / 12))


def _undoing_gain(f_hz: Floats, coupling: Coupling) -> Floats:
    """Power gain of undoing the coupling; at zero frequency, where it has none, that of the next."""
    # ∫ divides by jω, so the gain is |1 + a/(jω) + b/(jω)²|² = |(1 - b/ω²) - j a/ω|²
    w = 2 * math.pi * np.maximum(f_hz, f_hz[1])
    return np.asarray((1 - coupling.b / w**2) ** 2 + (coupling.a / w) ** 2)
