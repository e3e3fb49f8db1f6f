"""Saving what a killed program left of a recording."""

import time
from pathlib import Path
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from camerawright.recordings.inputs import Block
from camerawright.recordings.kept import PART, Json, remove, setup_of
from camerawright.recordings.live import MOST_QUEUED, Recorder

_ABANDONED_S: Final = 10.0


def recover(folder: Path) -> tuple[Path, ...]:
    """Turn what killed programs left behind into recordings, as far as it can be read; empty leftovers are removed."""
    found = []
    for part in sorted(folder.glob(f"{PART}*.flac")):
        if time.time() - part.stat().st_mtime < _ABANDONED_S:
            continue  # another program may still write it
        setup = setup_of(part)
        blocks = _decoded(part)
        if blocks and setup:
            source = _Decoded(blocks, setup)
            recorder = Recorder(source, folder, name=f"recovered-{part.stem.removeprefix(PART)[:8]}", setup=setup)
            recorder.setup["is_tried"] = setup.get("is_tried", False)
            recorder.setup["is_recovered"] = True
            recorder.start()
            found.append(recorder.stop().path)
        remove(part)
    return tuple(found)


class _Decoded:
    """A source of blocks that are there already."""

    is_real = True
    is_over = True

    def __init__(self, blocks: list[Block], setup: Json) -> None:
        self.name, self.rate_hz = str(setup["input"]), int(setup["rate_hz"])
        self.n_channels, self.bits = int(setup["channels"]), int(setup["bits"])
        self._blocks = blocks

    def start(self, take: Any) -> None:
        for at in range(0, len(self._blocks), MOST_QUEUED // 2):
            take(np.concatenate(self._blocks[at : at + MOST_QUEUED // 2]))

    def stop(self) -> None:
        """There is nothing to stop."""


def _decoded(path: Path) -> list[Block]:
    """Decode the whole frames of a FLAC file that was cut off; libsndfile reads nothing from one without a length."""
    import av  # noqa: PLC0415  60 ms to import
    import av.error  # noqa: PLC0415

    blocks: list[Block] = []
    try:
        with av.open(str(path)) as container:
            n_channels = container.streams.audio[0].codec_context.channels
            for frame in container.decode(audio=0):  # one by one, because damage may come after any of them
                blocks += [_frame(frame.to_ndarray(), n_channels)]
    except (av.error.FFmpegError, OSError, IndexError):
        pass  # keep what came before
    return blocks


def _frame(codes: NDArray[Any], n_channels: int) -> Block:
    """Turn a decoded frame, planar or interleaved, into a block."""
    wide = codes.astype(np.int32) << 16 if codes.dtype == np.int16 else codes.astype(np.int32)
    return wide.reshape(-1, n_channels) if wide.shape[0] == 1 else wide.T
