"""Recording at the machine: every sample is kept as it came, in FLAC; meanwhile the level and the losses are measured.

A file gets its final name only once it is whole and on the disk.
"""

import queue
import threading
import time
from collections import deque
from contextlib import suppress
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Final
from uuid import uuid4

import numpy as np
import soundfile

from camerawright.recordings.disk import flush, flush_folder, make_folder, private
from camerawright.recordings.inputs import Block, Source
from camerawright.recordings.kept import PART, Json, beside, remove, write_setup
from camerawright.recordings.meter import Meter, Zeros
from camerawright.recordings.sound import Waveform
from camerawright.trouble import Unreadable

RING_S: Final = 20.0
_METER_S: Final = 0.3
_FLUSH_S: Final = 1.0
MOST_QUEUED: Final = 500  # blocks: several seconds during which the disk does not answer
_ZEROS_S: Final = 1e-3  # a run of exact zeros this long means that samples are missing
_MOSTLY_ZERO: Final = 0.2  # an input that is quieter than its own steps delivers zeros itself
_FULL: Final = 2**31


@dataclass(frozen=True, kw_only=True)
class Kept:
    """A finished recording: its file, its set-up (which is also beside the file), and how it went."""

    path: Path
    setup: Json
    meter: Meter


class Recorder:
    """Records a source into a folder.

    Parameters
    ----------
    source
        A source that has not been started.
    folder
        Where the recording goes. It is made if it is not there.
    name
        Name of the file, without suffix. A number is added if the name is taken.
    setup
        What is kept beside the recording, together with what the source is.

    Raises
    ------
    Unreadable
        FLAC cannot hold so many channels at this rate; then nothing is left of it.
    """

    def __init__(self, source: Source, folder: Path, *, name: str, setup: Json | None = None) -> None:
        make_folder(folder)
        self.source, self._folder, self._name = source, folder, name
        self.setup = {
            **(setup or {}),
            "input": source.name,
            "rate_hz": source.rate_hz,
            "channels": source.n_channels,
            "bits": source.bits,
            "is_tried": not source.is_real,
        }
        self._part = folder / f"{PART}{uuid4().hex}.flac"
        write_setup(self._part, self.setup)
        self._out = open(self._part, "xb", opener=private)  # noqa: SIM115
        try:
            self._file = soundfile.SoundFile(
                self._out,
                "w",
                samplerate=source.rate_hz,
                channels=source.n_channels,
                subtype=f"PCM_{source.bits}",
                format="FLAC",
            )
        except soundfile.LibsndfileError:
            self._out.close()
            remove(self._part)
            what = f"FLAC holds no {source.n_channels} channels at {source.rate_hz} Hz"
            raise Unreadable(what, "record eight channels or fewer, at 192 kHz or less", source.name) from None
        self._queue: queue.Queue[Block | None] = queue.Queue()
        self._lock = threading.Lock()
        self._ring: deque[tuple[int, Block]] = deque()
        self._recent: deque[tuple[int, float, float]] = deque()
        self._meter = Meter()
        self._zeros = Zeros(round(_ZEROS_S * source.rate_hz))
        self._thread = threading.Thread(target=self._write, name="recorder", daemon=True)

    def start(self) -> None:
        """Begin."""
        self._thread.start()
        self.source.start(self._take)

    def stop(self) -> Kept:
        """End, and give the file its name; all that was recorded is on the disk when this returns."""
        self._end()
        path = self._free()
        meter = self.meter()
        setup = {**self.setup, "duration_s": meter.duration_s, "flags": list(meter.flags)}
        write_setup(path, setup)
        self._part.replace(path)
        beside(self._part).unlink(missing_ok=True)
        flush_folder(self._folder)
        return Kept(path=path, setup=setup, meter=meter)

    def discard(self) -> None:
        """End, and keep nothing."""
        self._end()
        with suppress(OSError):
            remove(self._part)

    def meter(self) -> Meter:
        """Level and losses so far."""
        with self._lock:
            recent = tuple(self._recent)
            meter = self._meter
            n_zero = self._zeros.n_zero
        n = sum(each[0] for each in recent)
        return replace(
            meter,
            duration_s=meter.n_samples / self.source.rate_hz,
            peak=max((each[1] for each in recent), default=0.0),
            rms=float(np.sqrt(sum(each[2] for each in recent) / max(n, 1))),
            n_dropouts=0 if n_zero > _MOSTLY_ZERO * max(meter.n_samples, 1) else meter.n_dropouts,
        )

    def heard(self, since: int) -> tuple[int, Waveform]:
        """Sound since a given sample, at most the last 20 s, and the sample at which it begins."""
        with self._lock:
            blocks = [(at, block) for at, block in self._ring if at + len(block) > since]
        start = blocks[0][0] if blocks else since
        empty = np.zeros((0, self.source.n_channels), np.int32)
        samples = np.concatenate([empty, *(block for _, block in blocks)])[max(0, since - start) :]
        floats = (samples / np.float32(_FULL)).astype(np.float32)
        shaped = floats[:, 0] if self.source.n_channels == 1 else floats
        return max(start, since), Waveform(
            shaped, float(self.source.rate_hz), self.source.bits, "live", name=self.source.name
        )

    def _take(self, block: Block) -> None:
        """Take a block from the source's thread, which must not wait."""
        if self._queue.qsize() < MOST_QUEUED:
            self._queue.put(block)
        else:
            with self._lock:
                self._meter = replace(self._meter, n_overruns=self._meter.n_overruns + 1)

    def _write(self) -> None:
        """Write blocks into the file, the ring and the meter; runs in a thread of its own."""
        flushed_s = time.monotonic()
        while (block := self._queue.get()) is not None:
            if self._meter.error is None:
                try:
                    self._file.write(block)
                    if time.monotonic() - flushed_s > _FLUSH_S:
                        self._out.flush()
                        flush(self._out.fileno())
                        flushed_s = time.monotonic()
                except (OSError, soundfile.LibsndfileError) as error:
                    why = f"The disk took no more ({error}): free some space. What came before is kept."
                    with self._lock:
                        self._meter = replace(self._meter, error=why)
                    continue
                self._measure(block)

    def _measure(self, block: Block) -> None:
        """Add the level and the losses of a block."""
        size = np.abs(block.astype(np.float64)) / _FULL
        step = 2 ** (32 - self.source.bits)
        n_clipped = int(np.count_nonzero((block >= _FULL - step) | (block == -_FULL)))
        n_inexact = int(np.count_nonzero(block & (step - 1)))
        n_gaps = self._zeros.gaps(block)
        with self._lock:
            old = self._meter
            self._ring.append((old.n_samples, block))
            self._meter = replace(
                old,
                n_samples=old.n_samples + len(block),
                highest=max(old.highest, float(size.max(initial=0.0))),
                n_clipped=old.n_clipped + n_clipped,
                n_dropouts=old.n_dropouts + n_gaps,
                n_inexact=old.n_inexact + n_inexact,
            )
            while self._meter.n_samples - self._ring[0][0] > RING_S * self.source.rate_hz:
                self._ring.popleft()
            self._recent.append((size.size, float(size.max(initial=0.0)), float(np.sum(size**2))))
            while sum(each[0] for each in self._recent) > _METER_S * self.source.rate_hz * self.source.n_channels:
                self._recent.popleft()

    def _end(self) -> None:
        self.source.stop()
        self._queue.put(None)
        if self._thread.ident is not None:
            self._thread.join()
        with suppress(OSError, soundfile.LibsndfileError):
            self._file.close()
        with suppress(OSError, ValueError):
            self._out.flush()
            flush(self._out.fileno())
            self._out.close()

    def _free(self) -> Path:
        """Find a free name for the file, with a number if the first one is taken."""
        path, n = self._folder / f"{self._name}.flac", 1
        while path.exists():
            n += 1
            path = self._folder / f"{self._name}-{n}.flac"
        return path
