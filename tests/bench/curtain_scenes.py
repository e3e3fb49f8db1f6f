"""Recordings for the tests of the curtains: simulated ones, and curtains at a steady speed in closed form."""

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from camerawright.bench.curtains.gate import Gate
from camerawright.bench.curtains.simulate import Curtain, Detector, Scene, Truth, delay_for, recording, with_delays
from camerawright.recordings.sound import Waveform

Floats = NDArray[np.float64]
RATE_HZ = 48_000.0
SECOND = Curtain(above_film_mm=1.5)


def scene(
    *times_s: float, second: Curtain = SECOND, diameter_mm: float = 1.0, snr_db: float = 50, n_sensors: int = 3
) -> Scene:
    """A shutter fired at these times (exposures in the middle of the gate)."""
    at_mm = (2.0, 18.0, 34.0) if n_sensors == 3 else (2.0, 34.0)
    made = Scene(
        (), second=second, at_mm=at_mm, detectors=(Detector(diameter_mm),) * n_sensors, noise=10 ** (-snr_db / 20)
    )
    return with_delays(made, tuple(delay_for(time_s, made, 18.0) for time_s in times_s))


def with_detectors(made: Scene, **changes: float) -> Scene:
    """The same scene with other detectors."""
    return replace(made, detectors=tuple(replace(one, **changes) for one in made.detectors))  # type: ignore[arg-type]


def recorded(made: Scene, seed: int = 1) -> tuple[Waveform, tuple[Truth, ...]]:
    """Its recording and its truth."""
    samples, truths = recording(made, seed)
    return waveform(samples, made.bits), truths


def waveform(samples: Floats, bits: int | None = 16) -> Waveform:
    """Samples as if they had been read from a file."""
    return Waveform(samples.astype(np.float32), RATE_HZ, bits)


def gate_for(made: Scene) -> Gate:
    """The set-up of a scene as its owner would tell it."""
    return Gate(made.gate_mm, made.at_mm, tuple(one.diameter_mm for one in made.detectors))


def steady(slit_mm: Floats, speed_mm_ms: float, at_mm: tuple[float, ...], diameter_mm: float = 1.0) -> Waveform:
    """Curtains at one speed, DC coupled, as floats: the first at `speed_mm_ms`, the second behind it.

    `slit_mm` holds one slit for each sensor: how far the second is behind the first when it is over that sensor. The
    light of a disc cut by a straight edge is the area of a circle's segment.
    """
    t_ms = np.arange(-400.0, 400.0, 1e3 / RATE_HZ) + 0.007

    def part(mm: Floats) -> Floats:
        z = np.clip(2 * mm / diameter_mm, -1, 1)
        return np.asarray((np.arccos(-z) + z * np.sqrt(1 - z**2)) / np.pi)

    channels = []
    for x, slit in zip(at_mm, slit_mm, strict=True):
        first, second = speed_mm_ms * t_ms - x, speed_mm_ms * t_ms - x - slit
        channels.append(part(first) - part(second))
    light = np.column_stack(channels)
    light = np.concatenate([light, light])
    return waveform(light + 1e-5 * np.random.default_rng(0).standard_normal(light.shape), bits=None)
