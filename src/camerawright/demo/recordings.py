"""Light recordings of an invented shutter, made with the bench test's simulator."""

from pathlib import Path
from typing import Any

import numpy as np
import soundfile
from numpy.typing import NDArray

from camerawright.bench.shutter import simulate
from camerawright.handbook.exposure import marked_speed

AS_FOUND = {"1": 0.95, "1/5": 0.72, "1/25": 0.41, "1/50": 0.36, "1/100": 0.38, "1/250": 0.83}
AS_LEFT = {"1": 0.06, "1/5": 0.04, "1/25": -0.05, "1/50": 0.08, "1/100": 0.21, "1/250": 0.47}
"""How far each speed of the invented shutter is off [stops]: tired oil before, a weak spring after."""


def record(path: Path, marked: str, *, error_stops: float, seed: int) -> None:
    """Write five firings of one marked speed as a 16-bit WAV, through a sound card that couples them AC."""
    scene = simulate.example((marked_speed(marked).target_s,), seed, error_stops=error_stops, firings=5)
    samples, _ = simulate.recording(simulate.with_noise_db(scene, 48), seed)
    write_sound(path, samples, scene.card.rate_hz)


def write_sound(path: Path, samples: NDArray[Any], rate_hz: float) -> None:
    """Write samples, shape (n,) or (n, channels), as a 16-bit WAV."""
    soundfile.write(path, samples.astype(np.float32), int(rate_hz), subtype="PCM_16")
