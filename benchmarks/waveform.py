"""How long the waveform page waits: the first look at 10 million samples, then columns; a place in a FLAC file."""

import tempfile
from pathlib import Path
from time import perf_counter

import numpy as np
import soundfile

from camerawright.numeric.envelope import envelope, extremes
from camerawright.recordings.sound import open_sound

N_SAMPLES = 10_000_000
RATE_HZ = 48_000
WIDTH = 2400
BOUND_MS = 5.0
N_TIMES = 20


def main() -> None:
    """Print one figure a line."""
    rng = np.random.default_rng(1)
    samples = (0.1 * rng.standard_normal(N_SAMPLES)).astype(np.float32)
    begun = perf_counter()
    known = extremes([samples])
    print(f"first look at {N_SAMPLES} samples     {1e3 * (perf_counter() - begun):8.2f} ms, once")
    for name, start, stop in (
        ("whole", 0, N_SAMPLES),
        ("a tenth", 4_000_000, 5_000_000),
        ("a second", 5_000_000, 5_048_000),
        ("a millisecond", 5_000_000, 5_000_048),
    ):
        took_ms = 1e3 * min(
            _took_s(lambda a=start, b=stop: envelope(samples, known, a, b, WIDTH)) for _ in range(N_TIMES)
        )
        over = "" if took_ms < BOUND_MS else f"  over the bound of {BOUND_MS} ms"
        print(f"{WIDTH} columns of {name:<16}    {took_ms:8.2f} ms{over}")
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "long.flac"
        soundfile.write(path, samples, RATE_HZ, subtype="PCM_24")
        begun = perf_counter()
        soundfile.read(path, dtype="float32")
        print(f"decode the whole FLAC               {1e3 * (perf_counter() - begun):8.2f} ms")
        with soundfile.SoundFile(path) as file:
            places = rng.integers(0, N_SAMPLES - 100_000, N_TIMES)
            took_s = [_took_s(lambda at=at: (file.seek(int(at)), file.read(100_000, dtype="float32"))) for at in places]
        print(f"seek in it and read 100 000         {1e3 * sorted(took_s)[len(took_s) // 2]:8.2f} ms, median")
        begun = perf_counter()
        open_sound(path)
        print(f"open it as the page does            {1e3 * (perf_counter() - begun):8.2f} ms, once")


def _took_s(action: object) -> float:
    """How long an action took. [s]"""
    assert callable(action)
    begun = perf_counter()
    action()
    return perf_counter() - begun


if __name__ == "__main__":
    main()
