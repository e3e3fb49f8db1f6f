"""An LED on a headphone output, a light sensor and an AC-coupled input, simulated; shares nothing with the analysis."""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import signal

from camerawright.recordings.sound import Waveform

Floats = NDArray[np.float64]

FORWARD = 0.6  # of the drive: below its forward voltage an LED is dark. Common practice: 1.8 V red, 3 V drive


@dataclass(frozen=True)
class Bench:
    """A set-up; times in seconds, corners in hertz."""

    rate_hz: float = 48_000.0
    output_corner_hz: float = 0.0
    sensor_rise_s: float = 10e-6
    sensor_fall_s: float = 10e-6
    input_corners_hz: tuple[float, ...] = (8.0, 0.8)
    level_fs: float = 0.3
    noise: float = 1e-3  # of the level
    sign: float = 1.0
    clock: float = 0.0
    gain_after_long: float = 1.0
    bits: int = 24
    over: int = 8


def recorded(bench: Bench, pulses: list[tuple[float, float]], duration_s: float, seed: int = 1) -> Waveform:
    """What the input records of pulses (start, width); exact edges at `over` times the rate."""
    rng = np.random.default_rng(seed)
    fine_hz = bench.rate_hz * bench.over
    n = round((duration_s + 0.123) * bench.rate_hz)
    t = np.arange(n * bench.over) / fine_hz / (1 + bench.clock) - 0.123
    voltage = np.zeros(t.size)
    for at_s, width_s in pulses:
        voltage[(t >= at_s) & (t < at_s + width_s)] = 1.0
        voltage[(t >= at_s + width_s) & (t < at_s + 2 * width_s)] = -1.0
    if bench.output_corner_hz:
        voltage = signal.lfilter(*signal.butter(1, bench.output_corner_hz, "high", fs=fine_hz), voltage)
    light = np.clip(voltage - FORWARD, 0, None) / (1 - FORWARD)
    for at_s, width_s in pulses[-1:]:
        light[(t >= at_s) & (t < at_s + width_s)] *= bench.gain_after_long
    up = np.clip(np.diff(light, prepend=0.0), 0, None).cumsum()
    down = np.clip(np.diff(light, prepend=0.0), None, 0).cumsum()
    seen = _lag(up, bench.sensor_rise_s, fine_hz) + _lag(down, bench.sensor_fall_s, fine_hz)
    taps = signal.firwin(16 * bench.over + 1, 0.9 / bench.over)
    card = signal.fftconvolve(seen, taps, mode="same")[:: bench.over]
    for corner_hz in bench.input_corners_hz:
        card = signal.lfilter(*signal.butter(1, corner_hz, "high", fs=bench.rate_hz), card)
    card = bench.sign * bench.level_fs * (card + bench.noise * rng.standard_normal(card.size))
    step = 2.0 ** (1 - bench.bits)
    return Waveform(
        np.clip(np.round(card / step) * step, -1, 1 - step).astype(np.float32), bench.rate_hz, bench.bits, "simulated"
    )


def _lag(level: Floats, tau_s: float, rate_hz: float) -> Floats:
    """First-order lag, trapezium rule."""
    pole = math.exp(-1 / (tau_s * rate_hz))
    return np.asarray(signal.lfilter([(1 - pole) / 2, (1 - pole) / 2], [1, -pole], level))
