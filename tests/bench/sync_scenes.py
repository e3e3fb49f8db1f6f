"""Recordings for the tests of the flash contact: simulated ones, and exact shapes."""

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from camerawright.bench.sync import simulate
from camerawright.bench.sync.simulate import Card, Contact, Scene, Truth
from camerawright.recordings.sound import Waveform

Floats = NDArray[np.float64]
RATE_HZ = 48_000.0


def waveform(samples: Floats, rate_hz: float = RATE_HZ, bits: int | None = 16) -> Waveform:
    """Samples as if they had been read from a file."""
    return Waveform(samples.astype(np.float32), rate_hz, bits)


def scene(contact: Contact | None = None, hold_s: float = 17e-3, n: int = 3, card: Card | None = None,
          **more: float) -> Scene:  # fmt: skip
    """A few firings of a 1/60 or another speed, quiet."""
    card = card or Card(noise_light=1e-3, noise_contact=1e-3)
    made = Scene((hold_s,) * n, contact=contact or Contact(), card=card, lead_s=0.4, gap_s=0.5)
    return replace(made, **more)  # type: ignore[arg-type]


def recorded(made: Scene, seed: int = 1) -> tuple[Waveform, tuple[Truth, ...]]:
    """Its recording and its truth."""
    samples, truths = simulate.recording(made, seed)
    return waveform(samples, made.card.rate_hz, made.card.bits), truths


def exact(rise_s: float, open_s: float, fall_s: float, make_s: float, closed_s: float, noise: float = 1e-4) -> Waveform:
    """Two trapezoids of light and two ideal closures, DC coupled, as floats; `make_s` from where the light begins.

    A sample of the contact is the part of its length for which it was closed.
    """
    n, starts = round(1.6 * RATE_HZ), (0.4, 1.0)
    t = np.arange(n) / RATE_HZ
    light, contact = np.zeros(n), np.zeros(n)
    for start_s in starts:
        light += np.clip(np.minimum((t - start_s) / rise_s, (start_s + open_s + rise_s + fall_s - t) / fall_s), 0, 1)
        made = np.clip((t - start_s - make_s) * RATE_HZ + 0.5, 0, 1)
        contact += made - np.clip((t - start_s - make_s - closed_s) * RATE_HZ + 0.5, 0, 1)
    rng = np.random.default_rng(3)
    both = np.column_stack([0.4 * light, 0.5 * contact]) + noise * rng.standard_normal((n, 2))
    return waveform(both, bits=None)
