"""Recordings to send, as files."""

from io import BytesIO

import numpy as np
import soundfile

from camerawright.bench.catalogue import CATALOGUE

TEST = CATALOGUE[0]


def recording(seed: int = 1) -> bytes:
    """What the test's simulator makes, as a WAV file."""
    waveform = TEST.simulate(seed)
    return _wav(waveform.samples, int(waveform.rate_hz))


def silence() -> bytes:
    """Readable, and nothing in it."""
    return _wav(np.zeros(48000, dtype=np.float32), 48000)


def _wav(samples: "np.typing.NDArray[np.float32]", rate_hz: int) -> bytes:
    out = BytesIO()
    soundfile.write(out, samples, rate_hz, format="WAV", subtype="PCM_16")
    return out.getvalue()
