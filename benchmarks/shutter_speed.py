"""Leaf shutter by light: ten minutes of 192 kHz stereo with 200 firings, against decoding alone in the same run."""

import resource
import subprocess
import sys
import tempfile
import time
from dataclasses import replace
from pathlib import Path

import numpy as np
import soundfile

from camerawright.bench.shutter import simulate
from camerawright.bench.shutter.measure import measure
from camerawright.recordings.sound import open_sound

RATE_HZ = 192_000
N_MINUTES = 10


def write_long(path: Path) -> None:
    """Ten minutes, one simulated minute again and again, so that making it needs no memory."""
    card = simulate.SoundCard(rate_hz=float(RATE_HZ), bits=24)
    scene = simulate.with_noise_db(simulate.example((1 / 60,), 1, firings=20), 50)
    light, _ = simulate.recording(replace(scene, card=card, gap_s=2.95), 1)
    light = light[: 60 * RATE_HZ]
    dark = 1e-3 * np.random.default_rng(0).standard_normal(len(light))
    with soundfile.SoundFile(path, "w", RATE_HZ, 2, "PCM_24") as file:
        for _ in range(N_MINUTES):
            file.write(np.column_stack([light, dark]))


def decode(path: Path) -> float:
    """Seconds that decoding alone takes, in blocks."""
    start = time.perf_counter()
    block = np.empty((1 << 19, 2), dtype=np.float32)
    with soundfile.SoundFile(path) as file:
        while len(file.read(out=block)):
            pass
    return time.perf_counter() - start


def main() -> None:
    """Write, then decode and measure, each in a process of its own: the peak of memory is that of measuring."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "long.wav"
        for step in ("write", "measure"):
            subprocess.run([sys.executable, "-m", "benchmarks.shutter_speed", step, str(path)], check=True)


def measured(path: Path) -> None:
    """The best of three, for both."""
    decode_s, measure_s, cpu_s, n = 1e9, 1e9, 1e9, 0
    for _ in range(3):
        decode_s = min(decode_s, decode(path))
        start, cpu_start = time.perf_counter(), time.process_time()
        n = len(measure(open_sound(path)).firings)
        measure_s = min(measure_s, time.perf_counter() - start)
        cpu_s = min(cpu_s, time.process_time() - cpu_start)
    peak_mb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    seconds = 60 * N_MINUTES
    print(
        f"{N_MINUTES} min of 192 kHz, 24 bit, stereo, {n} firings with uncertainties: {measure_s:.1f} s"
        f" ({seconds / measure_s:.0f} x real time; {cpu_s:.1f} s of processor), decoding alone {decode_s:.1f} s"
        f" ({seconds / decode_s:.0f} x): {measure_s / decode_s:.1f} times decoding; peak {peak_mb:.0f} MB"
    )


if __name__ == "__main__":
    {"write": write_long, "measure": measured}[sys.argv[1]](Path(sys.argv[2]))
