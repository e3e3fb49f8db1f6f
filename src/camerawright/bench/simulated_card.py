"""The sound card, and the light sensor before it, of every simulated recording. Noiseless light in, samples out.

Nothing here is shared with an estimator.
"""

import math

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

_CUT_OFF = 0.9  # of half the sampling rate. Common practice: a converter's filter is flat to 20 kHz at 44.1 kHz
_TAPS = 16  # of the anti-alias filter, for each fine sample that makes a recorded one


def detected(light: Floats, rise_lag_s: float, fall_lag_s: float, rate_hz: float) -> Floats:
    """What a sensor makes of one flash of light: a first-order lag, its own for what rises and for what falls.

    Parameters
    ----------
    light : shape (n,)
        It rises up to its peak and falls after it.

    Notes
    -----
    A lag T forgets the part exp(-1/(T rate)) of its state in one sample. The two equal coefficients of the input are
    those of the mean over the sample. A sensor is linear, so what rises and what falls are lagged apart and added.
    """
    from scipy import signal  # noqa: PLC0415  slow to import

    rising = np.maximum.accumulate(light)
    out = np.zeros(light.size)
    for part, lag_s in ((rising, rise_lag_s), (light - rising, fall_lag_s)):
        pole = math.exp(-1 / (max(lag_s, 1e-8) * rate_hz))
        out += signal.lfilter([(1 - pole) / 2, (1 - pole) / 2], [1, -pole], part)
    return out


def sampled(fine: Floats, over: int, cut_off: float = _CUT_OFF) -> Floats:
    """Every `over`-th of fine samples, behind the converter's anti-alias filter, whose delay is taken out.

    Parameters
    ----------
    fine : shape (n,)
    cut_off
        Where the filter is down to a half, as a part of half the sampling rate.

    Notes
    -----
    A windowed sinc (linear phase): its delay is half its length.
    """
    from scipy import signal  # noqa: PLC0415  slow to import

    taps = signal.firwin(_TAPS * over + 1, cut_off / over)
    return np.asarray(signal.fftconvolve(fine, taps, mode="same")[::over])


def coupled(signal_in: Floats, corners_hz: tuple[float, ...], rate_hz: float) -> Floats:
    """A signal behind one RC high-pass for each corner frequency.

    Notes
    -----
    H(s) = s / (s + 2 pi f), by the bilinear transform with its corner put right (w = tan(pi f / rate)):
    H(z) = (1 - 1/z) / ((1 + w) + (w - 1)/z).
    """
    from scipy import signal  # noqa: PLC0415  slow to import

    for corner_hz in corners_hz:
        w = math.tan(math.pi * corner_hz / rate_hz)
        signal_in = signal.lfilter([1 / (1 + w), -1 / (1 + w)], [1, (w - 1) / (1 + w)], signal_in)
    return signal_in


def quantised(samples: Floats, bits: int) -> Floats:
    """Samples in the converter's steps, clipped at full scale, which is 1: two's complement, one step less above."""
    step = 2.0 ** (1 - bits)
    return np.clip(np.round(samples / step) * step, -1, 1 - step)


def pink_noise(n: int, rate_hz: float, rng: np.random.Generator, from_hz: float = 1.0) -> Floats:
    """Noise of rms 1 whose power falls with 1/f from a frequency upwards, shape (n,)."""
    spectrum = np.fft.rfft(rng.standard_normal(n)) / np.sqrt(np.maximum(np.fft.rfftfreq(n, 1 / rate_hz), from_hz))
    pink = np.fft.irfft(spectrum, n)
    return np.asarray(pink / pink.std())


def hum(n: int, hum_hz: float, rate_hz: float, rng: np.random.Generator) -> Floats:
    """Mains hum of height 1 in any phase, shape (n,)."""
    return np.asarray(np.sin(2 * math.pi * hum_hz * np.arange(n) / rate_hz + rng.uniform(0, 2 * math.pi)))
