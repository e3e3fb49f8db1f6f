"""Ten minutes of 192 kHz, 24 bit, stereo with 200 firings, by every test of sound, against decoding alone."""

import resource
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import soundfile
from numpy.typing import NDArray

from camerawright.bench.curtains import simulate as curtains
from camerawright.bench.curtains.gate import Gate
from camerawright.bench.curtains.measure import measure as measure_curtains
from camerawright.bench.escapement import simulate as escapement
from camerawright.bench.escapement.measure import measure as measure_escapement
from camerawright.bench.shutter import simulate as shutter
from camerawright.bench.shutter.measure import measure as measure_shutter
from camerawright.bench.sync import simulate as sync
from camerawright.bench.sync.measure import measure as measure_sync
from camerawright.recordings.sound import open_sound

RATE_HZ = 192_000.0
N_MINUTES = 10
N_FIRINGS = 20  # a minute
GAP_S = 2.95

Floats = NDArray[np.float64]


def _shutter() -> Floats:
    """At 1/60, light on the first channel."""
    scene = shutter.with_noise_db(shutter.example((1 / 60,), 1, firings=N_FIRINGS), 50)
    light, _ = shutter.recording(replace(scene, card=shutter.SoundCard(rate_hz=RATE_HZ, bits=24), gap_s=GAP_S), 1)
    return light


def _sync() -> Floats:
    """At 1/60, light and an X contact."""
    card = sync.Card(rate_hz=RATE_HZ, bits=24)
    samples, _ = sync.recording(sync.Scene((1 / 60,) * N_FIRINGS, card=card, gap_s=GAP_S), 1)
    return samples


def _curtains() -> Floats:
    """At about 1/500, two sensors."""
    scene = curtains.Scene(
        (2e-3,) * N_FIRINGS,
        at_mm=(2.0, 34.0),
        detectors=(curtains.Detector(), curtains.Detector()),
        rate_hz=RATE_HZ,
        bits=24,
        gap_s=GAP_S,
    )
    samples, _ = curtains.recording(scene, 1)
    return samples


def _escapement() -> Floats:
    """At 1 s, sound on the first channel."""
    scene = escapement.example(1)
    room = replace(scene.room, rate_hz=RATE_HZ, bits=24)
    sound, _ = escapement.recording(
        replace(scene, room=room, n_firings=N_FIRINGS, gap_s=GAP_S - scene.open_s - 0.15), 1
    )
    return sound


TESTS: dict[str, tuple[Callable[[], Floats], Callable[[Any], Any]]] = {
    "shutter": (_shutter, lambda recording: measure_shutter(recording).firings),
    "sync": (_sync, lambda recording: measure_sync(recording).firings),
    "curtains": (_curtains, lambda recording: measure_curtains(recording, Gate(36.0, (2.0, 34.0), (1.0, 1.0))).firings),
    "escapement": (_escapement, lambda recording: measure_escapement(recording).runs),
}


def write(name: str, path: Path) -> None:
    """One simulated minute again and again, so that making it needs little memory; noise on a channel without use."""
    minute = TESTS[name][0]()[: round(60 * RATE_HZ)]
    if minute.ndim == 1:
        minute = np.column_stack([minute, 1e-3 * np.random.default_rng(0).standard_normal(len(minute))])
    with soundfile.SoundFile(path, "w", round(RATE_HZ), 2, "PCM_24") as file:
        for _ in range(N_MINUTES):
            file.write(minute)


def decode(path: Path) -> float:
    """Seconds that decoding alone takes, in blocks."""
    start = time.perf_counter()
    block = np.empty((1 << 19, 2), dtype=np.float32)
    with soundfile.SoundFile(path) as file:
        while len(file.read(out=block)):
            pass
    return time.perf_counter() - start


def measured(name: str, path: Path) -> None:
    """The best of three, for both."""
    decode_s, measure_s, cpu_s, n = 1e9, 1e9, 1e9, 0
    for _ in range(3):
        decode_s = min(decode_s, decode(path))
        start, cpu_start = time.perf_counter(), time.process_time()
        n = len(TESTS[name][1](open_sound(path)))
        measure_s = min(measure_s, time.perf_counter() - start)
        cpu_s = min(cpu_s, time.process_time() - cpu_start)
    peak_mb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    seconds = 60 * N_MINUTES
    print(
        f"| {name} | {n} | {measure_s:.1f} s, {seconds / measure_s:.0f} x real time | {cpu_s:.1f} s |"
        f" {decode_s:.1f} s | {measure_s / decode_s:.1f} | {peak_mb:.0f} MB |",
        flush=True,
    )


def main() -> None:
    """Write, then decode and measure, each in a process of its own: the peak of memory is that of measuring."""
    print("| test | measured | with uncertainties | of processor | decoding alone | ratio | peak |")
    print("|---|---|---|---|---|---|---|")
    for name in TESTS:
        with tempfile.TemporaryDirectory() as folder:
            path = str(Path(folder) / "long.wav")
            for step in ("write", "measure"):
                subprocess.run([sys.executable, "-m", "benchmarks.long_recordings", step, name, path], check=True)


if __name__ == "__main__":
    {"write": write, "measure": measured}[sys.argv[1]](sys.argv[2], Path(sys.argv[3]))
