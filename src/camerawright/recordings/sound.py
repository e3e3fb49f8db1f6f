"""Sound files, read whole or in stretches. What cannot be read is refused before memory is set aside for it."""

import hashlib
import struct
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise
from pathlib import Path
from threading import Lock
from typing import Any

import numpy as np
import soundfile
from numpy.typing import NDArray

from camerawright.recordings.scan import Scan, joined, scanned
from camerawright.trouble import Unreadable
from camerawright.wording import numbers

MAX_SAMPLES = 150_000_000  # 600 MB in memory: 26 min at 96 kHz mono
MAX_ON_DISK = 2_000_000_000  # about three hours at 192 kHz, two channels
_MOST_IN_MEMORY = 10_000_000
_BLOCK_SAMPLES = 1 << 20
MAX_CHANNELS = 16
RATES_HZ = (4_000, 1_000_000)
_LOSSY = {"OGG", "MP3", "MPEG"}
_BITS = {"PCM_S8": 8, "PCM_U8": 8, "PCM_16": 16, "PCM_24": 24, "PCM_32": 32}
_NOT_NUMBERS, _EXPORT = "it holds values that are not numbers", "export it again as 16 or 24 bit PCM"
_SUFFIXES = "WAV, FLAC, AIFF or OGG"
_CLIPS = {".mp4", ".mov", ".mkv"}


@dataclass(frozen=True, eq=False)
class Waveform:
    """A sound recording as it was taken.

    `samples` has shape (n,) for one channel, (n, channels) for more; full scale is ±1. `bits` is the depth of integer
    samples; None if the file holds floats or is lossy. `name` is the file's name without its folder.
    """

    samples: NDArray[np.float32]
    rate_hz: float
    bits: int | None = None
    format: str = ""
    sha256: str = ""
    is_lossy: bool = False
    name: str = ""

    @property
    def n_channels(self) -> int:
        """How many channels there are."""
        return 1 if self.samples.ndim == 1 else self.samples.shape[1]

    @property
    def duration_s(self) -> float:
        """Length of the recording."""
        return len(self.samples) / self.rate_hz

    @property
    def n_samples(self) -> int:
        """How many samples a channel has."""
        return len(self.samples)

    def channel(self, i_channel: int) -> NDArray[np.float32]:
        """One channel, shape (n,)."""
        return self.samples if self.samples.ndim == 1 else self.samples[:, i_channel]

    def stretch(self, i_channel: int, start: int, stop: int) -> NDArray[np.float32]:
        """Read a part of one channel."""
        return self.channel(i_channel)[start:stop]

    def scan(self, width: int) -> Scan:
        """Look through the whole recording in means over `width` samples."""
        return scanned([self.samples], width, self.n_channels)


class SoundOnDisk:
    """A recording that stays in its file: looked through in blocks, then read only where something happens.

    `rate_hz`, `bits`, `format`, `sha256`, `is_lossy` and `name` are as a `Waveform` has them.
    """

    def __init__(self, path: Path, heading: "_Heading") -> None:
        self._path, self._heading = path, heading
        self.rate_hz, self.bits, self.format = heading.rate_hz, heading.bits, heading.format
        self.is_lossy, self.name = heading.is_lossy, path.name
        self.n_channels, self.n_samples = heading.n_channels, heading.n_samples
        self._reading = Lock()
        self._last: tuple[tuple[int, int], NDArray[np.float32]] = (
            (-1, -1),
            np.empty((heading.n_channels, 0), np.float32),
        )

    @property
    def duration_s(self) -> float:
        """Length of the recording."""
        return self.n_samples / self.rate_hz

    @cached_property
    def sha256(self) -> str:
        """Fingerprint of the file."""
        return _sha256(self._path)

    def stretch(self, i_channel: int, start: int, stop: int) -> NDArray[np.float32]:
        """Read a part of one channel."""
        start, stop = max(0, start), min(stop, self.n_samples)
        with self._reading:  # all threads share one open file and what was last read from it
            if self._last[0] != (start, stop):  # whoever reads a stretch of one channel often reads it of the next
                try:
                    self._file.seek(start)
                    block = self._file.read(max(0, stop - start), dtype="float32", always_2d=True)
                except soundfile.LibsndfileError as error:
                    raise _not_sound(error, self.name) from None
                self._last = (start, stop), block
            return self._last[1][:, i_channel]

    def scan(self, width: int) -> Scan:
        """Look through the whole recording in means over `width` samples, a block at a time, on two cores.

        Raises
        ------
        Unreadable
            The file is cut off, or holds values that are not numbers.
        """
        # in a lossy file a seek may land beside its aim, so that is read in one go
        middle = 0 if self.is_lossy else self.n_samples // 2 // width * width
        edges = sorted({0, middle, self.n_samples})
        with ThreadPoolExecutor(2) as both:
            scan = joined(tuple(both.map(lambda part: self._scanned(part[0], part[1], width), pairwise(edges))))
        if not np.isfinite(scan.means).all():
            raise Unreadable(_NOT_NUMBERS, _EXPORT, self.name)
        return scan

    def _scanned(self, start: int, stop: int, width: int) -> Scan:
        """Look through a part of the file."""
        try:
            with soundfile.SoundFile(str(self._path)) as file:
                file.seek(start)
                return scanned(self._blocks(file, stop - start, width), width, self.n_channels)
        except soundfile.LibsndfileError as error:
            raise _not_sound(error, self.name) from None

    def _blocks(self, file: Any, n: int, width: int) -> Iterator[NDArray[np.float32]]:
        """Read so many samples of a file in blocks that hold whole means."""
        buffer = np.empty((max(1, _BLOCK_SAMPLES // self.n_channels // width) * width, self.n_channels), np.float32)
        left = n
        while left > 0 and len(block := file.read(out=buffer[:left])):
            left -= len(block)
            yield block
        _refuse_short(n - left, n, self.rate_hz, self.name)

    @cached_property
    def _file(self) -> Any:
        """Open the file, until this object is forgotten."""
        return soundfile.SoundFile(str(self._path))


def simulated(samples: NDArray[np.float64], rate_hz: float, bits: int) -> Waveform:
    """Make a recording of a simulator's samples; it has no file."""
    return Waveform(samples.astype(np.float32), rate_hz, bits, "WAV PCM_16", "", False, "simulated")


def read_sound(path: Path) -> Waveform:
    """Read a sound file whole.

    Raises
    ------
    Unreadable
        Missing, a folder, empty, cut off (with the seconds that are missing), not sound, without samples, with
        values that are not numbers, at an impossible rate, or too long.
    """
    heading = _heading(path)
    if heading.n_samples * heading.n_channels > MAX_SAMPLES:
        raise _too_long(heading, MAX_SAMPLES, path.name)
    try:
        with soundfile.SoundFile(str(path)) as file:
            samples = _decoded(file, path.name)
    except soundfile.LibsndfileError as error:
        raise _not_sound(error, path.name) from None
    return Waveform(samples, heading.rate_hz, heading.bits, heading.format, _sha256(path), heading.is_lossy, path.name)


def open_sound(path: Path) -> Waveform | SoundOnDisk:
    """Read a short sound file whole; leave a long one on the disk, to be read in stretches.

    Raises
    ------
    Unreadable
        As for `read_sound`; but if a lossless stream is cut off, that shows only when it is looked through.
    """
    heading = _heading(path)
    if heading.n_samples * heading.n_channels <= _MOST_IN_MEMORY:
        return read_sound(path)
    return SoundOnDisk(path, heading)


@dataclass(frozen=True)
class _Heading:
    """What a sound file says about itself."""

    rate_hz: float
    n_channels: int
    n_samples: int
    bits: int | None
    format: str
    is_lossy: bool


def _heading(path: Path) -> _Heading:
    """Read the heading of a file; refuse what is not sound or not whole, as far as the heading tells."""
    size_bytes = _size(path)
    try:
        with soundfile.SoundFile(str(path)) as file:
            _refuse_header(file, path.name)
            _refuse_cut_off_wav(path, file, size_bytes)
            return _Heading(
                rate_hz=float(file.samplerate),
                n_channels=file.channels,
                n_samples=file.frames,
                bits=_BITS.get(file.subtype),
                format=f"{file.format} {file.subtype}",
                is_lossy=file.format in _LOSSY or "MPEG" in file.subtype,
            )
    except soundfile.LibsndfileError as error:
        raise _not_sound(error, path.name) from None
    except OSError as error:
        raise Unreadable(str(error.strerror or error), "check the permissions and the disk", path.name) from None


def _not_sound(error: Any, where: str) -> Unreadable:
    """Refusal of a file that the decoder cannot read."""
    why = str(error.error_string).rstrip(".")
    if "lost sync" in why:  # it begins as a stream should
        return Unreadable("the file is cut off or damaged", "copy it again, or record again", where)
    mend = f"give a {_SUFFIXES} file"
    if Path(where).suffix.lower() in _CLIPS:
        mend += ", or measure a slow-motion clip by the test of slow-motion video"
    return Unreadable(f"not a sound file that can be read ({why})", mend, where)


def _size(path: Path) -> int:
    """Size of a file; refuse one that is missing or empty."""
    if path.is_dir():
        raise Unreadable("this is a folder", "give the recording in it", path.name)
    try:
        size_bytes = path.stat().st_size
    except (OSError, ValueError):
        raise Unreadable("no such file", "check the path", str(path)) from None
    if size_bytes == 0:
        raise Unreadable("the file is empty", "record again, or copy it again", path.name)
    return size_bytes


def _refuse_header(file: Any, where: str) -> None:
    """Refuse what the header alone rules out."""
    low, high = RATES_HZ
    if not low <= file.samplerate <= high:
        raise Unreadable(f"sound is not recorded at {file.samplerate} Hz", "record at 44.1 kHz or more", where)
    if not 1 <= file.channels <= MAX_CHANNELS:
        raise Unreadable(f"{file.channels} channels", f"record with {MAX_CHANNELS} channels or fewer", where)
    if file.frames * file.channels > MAX_ON_DISK:
        heading = _Heading(float(file.samplerate), file.channels, file.frames, None, "", False)
        raise _too_long(heading, MAX_ON_DISK, where)


def _too_long(heading: _Heading, most: int, where: str) -> Unreadable:
    """Refusal of a recording with more samples than that over all channels."""
    per_minute = 60 * heading.rate_hz * heading.n_channels
    minutes = heading.n_samples * heading.n_channels / per_minute
    return Unreadable(
        f"{numbers.fixed(minutes, 0)} minutes are too long",
        f"cut it to {numbers.fixed(most / per_minute, 0)} minutes or less",
        where,
    )


def _refuse_cut_off_wav(path: Path, file: Any, size_bytes: int) -> None:
    """Refuse a WAV whose header promises more than the file holds; the decoder itself would not say so."""
    if file.format not in {"WAV", "WAVEX", "RF64"}:
        return
    found = _wav_data_chunk(path)
    if found is None:
        raise Unreadable("the WAV header has no data chunk", "record or copy it again", path.name)
    start, promised_bytes, bytes_per_s = found
    missing_bytes = promised_bytes - (size_bytes - start)
    if missing_bytes > 0 and bytes_per_s > 0:
        raise Unreadable(
            f"the file is cut off: its header promises {numbers.fixed(promised_bytes / bytes_per_s, 2)} s,"
            f" {numbers.fixed(missing_bytes / bytes_per_s, 2)} s of it are missing",
            "copy it again, or stop the recording before copying",
            path.name,
        )


def _wav_data_chunk(path: Path) -> tuple[int, int, int] | None:
    """Find where the data of a RIFF or RF64 file start, how many bytes are promised, and the bytes per second."""
    with path.open("rb") as raw:
        raw.seek(12)
        bytes_per_s = long_bytes = 0
        while len(head := raw.read(8)) == 8:
            name, length = struct.unpack("<4sI", head)
            if name == b"data":
                return raw.tell(), long_bytes if long_bytes and length == 0xFFFFFFFF else length, bytes_per_s
            body_at = raw.tell()
            if name == b"fmt ":
                bytes_per_s = struct.unpack("<I", raw.read(12)[8:12].ljust(4, b"\0"))[0]
            elif name == b"ds64":
                long_bytes = struct.unpack("<Q", raw.read(16)[8:16].ljust(8, b"\0"))[0]
            raw.seek(body_at + length + length % 2)
    return None


def _decoded(file: Any, where: str) -> NDArray[np.float32]:
    """Read all samples, in blocks, so that a wrong header cannot claim memory."""
    promised = file.frames
    blocks, n = [], 0
    while len(block := file.read(1 << 20, dtype="float32")):
        blocks.append(block)
        n += len(block)
    if n == 0:
        raise Unreadable("there are no samples in it", "record again", where)
    _refuse_short(n, promised, file.samplerate, where)
    samples = np.concatenate(blocks) if len(blocks) > 1 else blocks[0]
    if not np.isfinite(samples).all():
        raise Unreadable(_NOT_NUMBERS, _EXPORT, where)
    samples.flags.writeable = False
    return samples


def _refuse_short(n: int, promised: int, rate_hz: float, where: str) -> None:
    """Refuse a file that ends before its header says."""
    if n < promised:
        raise Unreadable(
            f"the file is cut off: {numbers.fixed((promised - n) / rate_hz, 2)} s are missing", "copy it again", where
        )


def _sha256(path: Path) -> str:
    """Fingerprint of the file."""
    with path.open("rb") as raw:
        return hashlib.file_digest(raw, "sha256").hexdigest()
