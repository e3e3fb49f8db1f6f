"""An example recording for every bench test, to try each on: made by the tests' own simulators."""

from fractions import Fraction
from pathlib import Path
from typing import Any

import av
import numpy as np
from numpy.typing import NDArray

from camerawright.bench.catalogue import CATALOGUE
from camerawright.bench.footage import simulate as filmed
from camerawright.bench.shutter import simulate as lit
from camerawright.demo.recordings import write_sound
from camerawright.recordings.sound import Waveform
from camerawright.recordings.table import Table, written

_SEED = 3
_SPEEDS = (1 / 8, 1 / 32, 1 / 64, 1 / 128, 1 / 256, 1 / 1100)
_TIME_BASE = Fraction(1, 90_000)


def write_examples(folder: Path) -> None:
    """Write ``example-TEST`` for each test of sound or tables, ``example-speeds.wav`` of a whole dial, and a clip."""
    for test in CATALOGUE:
        simulated = test.simulate(_SEED)
        if isinstance(simulated, Waveform):
            write_sound(folder / f"example-{test.name}.wav", simulated.samples, simulated.rate_hz)
        elif isinstance(simulated, Table):
            (folder / f"example-{test.name}.csv").write_bytes(written(simulated))
    dial = lit.with_noise_db(lit.example(_SPEEDS, _SEED, error_stops=0.25, firings=3), 48)
    samples, _ = lit.recording(dial, _SEED)
    write_sound(folder / "example-speeds.wav", samples, dial.card.rate_hz)
    blades = filmed.Blades()
    holds = tuple(filmed.hold_for(0.0199, blades) for _ in range(6))
    film = filmed.film(filmed.Scene(holds, blades=blades, static_s=0.4), _SEED)
    _write_clip(folder / "example-footage.mp4", film.luma, film.at_s)


def _write_clip(path: Path, luma: NDArray[Any], at_s: NDArray[np.float64]) -> None:
    """Planes of 8-bit luma codes, shape (n, height, width), as H.264 with neutral colour."""
    height, width = luma.shape[1:]
    options = {"crf": "12", "preset": "veryfast", "threads": "1"}
    with av.open(str(path), "w") as container:
        stream: Any = container.add_stream("libx264", rate=240, options=options)
        stream.width, stream.height, stream.pix_fmt = width, height, "yuv420p"
        stream.time_base = stream.codec_context.time_base = _TIME_BASE
        for plane, moment_s in zip(luma, at_s, strict=True):
            frame: Any = av.VideoFrame.from_ndarray(
                np.concatenate([plane.astype(np.uint8), np.full((height // 2, width), 128, np.uint8)]), format="yuv420p"
            )
            frame.pts, frame.time_base = round(float(moment_s) / _TIME_BASE), _TIME_BASE
            container.mux(stream.encode(frame))
        container.mux(stream.encode())
