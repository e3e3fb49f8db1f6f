"""Recordings for the tests of the shutter: simulated ones, and exact shapes of light."""

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from camerawright.bench.shutter.simulate import (
    Blades,
    Disturbance,
    Scene,
    SoundCard,
    Truth,
    hold_for,
    recording,
    with_noise_db,
)
from camerawright.recordings.sound import Waveform

Floats = NDArray[np.float64]
RATE_HZ = 48_000.0


def waveform(samples: Floats, rate_hz: float = RATE_HZ, bits: int | None = 16, is_lossy: bool = False) -> Waveform:
    """Samples as if they had been read from a file."""
    return Waveform(samples.astype(np.float32), rate_hz, bits, is_lossy=is_lossy)


def scene(time_s: float, n: int = 4, snr_db: float = 50, blades: Blades | None = None, card: SoundCard | None = None,
          gap_s: float = 0.9) -> Scene:  # fmt: skip
    """A few firings at one speed."""
    blades = blades or Blades()
    made = Scene((hold_for(time_s, blades),) * n, blades=blades, card=card or SoundCard(), gap_s=gap_s)
    return with_noise_db(made, snr_db)


def spoilt(made: Scene, disturbance: Disturbance) -> Scene:
    """The same scene with a disturbance, its white noise kept."""
    return replace(made, disturbance=replace(disturbance, noise=made.disturbance.noise))


def recorded(made: Scene, seed: int = 1) -> tuple[Waveform, tuple[Truth, ...]]:
    """Its recording and its truth."""
    samples, truths = recording(made, seed)
    return waveform(samples, made.card.rate_hz, made.card.bits), truths


def exact(shape: Floats, noise: float = 1e-5, n: int = 3) -> Waveform:
    """A shape of light repeated with dark between, DC coupled, at 48 kHz, as floats."""
    dark = np.zeros(round(0.3 * RATE_HZ))
    light = np.concatenate([dark, *([shape, dark] * n)])
    return waveform(light + noise * np.random.default_rng(0).standard_normal(light.size), bits=None)
