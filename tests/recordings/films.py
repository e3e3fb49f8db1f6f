"""Planes of luma codes written as video files, by the encoders that PyAV brings."""

from collections.abc import Sequence
from fractions import Fraction
from pathlib import Path
from typing import Any

import av
import numpy as np
from numpy.typing import NDArray

TIME_BASE = Fraction(1, 90_000)


def write_film(
    path: Path, luma: NDArray[Any], at_s: Sequence[float] | NDArray[np.float64], *, codec: str = "libx264",
    crf: int = 16, pix_fmt: str = "yuv420p", capture_fps: float | None = None, transfer: int | None = None,
    is_full_range: bool = False,
) -> Path:  # fmt: skip
    """Write planes of luma codes, shape (n, height, width), with colour left neutral.

    8 or 10 bits by `pix_fmt`; `transfer` is a code of H.273 table 3.
    """
    height, width = luma.shape[1:]
    options = {"crf": str(crf), "preset": "veryfast", "threads": "1"} if codec == "libx264" else {"threads": "1"}
    flags = {"movflags": "use_metadata_tags"} if path.suffix in {".mp4", ".mov"} else {}
    with av.open(str(path), "w", options=flags) as container:
        if capture_fps is not None:
            container.metadata["com.android.capture.fps"] = str(capture_fps)
        stream: Any = container.add_stream(codec, rate=240, options=options)
        stream.width, stream.height, stream.pix_fmt = width, height, pix_fmt
        stream.time_base = stream.codec_context.time_base = TIME_BASE
        if transfer is not None:
            stream.codec_context.color_trc = transfer
        if is_full_range:
            stream.codec_context.color_range = 2
        for plane, moment_s in zip(luma, at_s, strict=True):
            frame: Any = _frame(plane, pix_fmt)
            frame.pts, frame.time_base = round(moment_s / TIME_BASE), TIME_BASE
            if is_full_range:
                frame.color_range = 2
            container.mux(stream.encode(frame))
        container.mux(stream.encode())
    return path


def _frame(plane: NDArray[Any], pix_fmt: str) -> av.VideoFrame:
    """One frame with its colour at neutral."""
    height, width = plane.shape
    frame = av.VideoFrame(width, height, pix_fmt)
    neutral = 512 if "10le" in pix_fmt else 128
    for i, part in enumerate(frame.planes):
        kind = np.uint16 if "10le" in pix_fmt else np.uint8
        codes = np.full((part.height, part.line_size // np.dtype(kind).itemsize), neutral, kind)
        if i == 0:
            codes[:, :width] = plane
        part.update(codes.tobytes())
    return frame


def write_sound(path: Path) -> Path:
    """A file with sound only, in a container for video."""
    with av.open(str(path), "w") as container:
        stream: Any = container.add_stream("aac", rate=48_000)
        stream.layout = "mono"
        for start in range(0, 48_000, 1024):
            frame = av.AudioFrame.from_ndarray(np.zeros((1, 1024), np.float32), format="fltp", layout="mono")
            frame.sample_rate, frame.pts = 48_000, start
            container.mux(stream.encode(frame))
        container.mux(stream.encode())
    return path
