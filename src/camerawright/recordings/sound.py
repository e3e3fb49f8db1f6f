"""Sound files in, a frozen waveform out. Refuses before it allocates."""

import hashlib
import struct
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import soundfile
from numpy.typing import NDArray

from camerawright.recordings.unreadable import Unreadable

MAX_SAMPLES = 150_000_000  # 600 MB in memory: 26 min at 96 kHz mono
MAX_CHANNELS = 16
RATES_HZ = (4_000, 1_000_000)
_LOSSY = {"OGG", "MP3", "MPEG"}
_BITS = {"PCM_S8": 8, "PCM_U8": 8, "PCM_16": 16, "PCM_24": 24, "PCM_32": 32}
_SUFFIXES = "WAV, FLAC, AIFF or OGG"


@dataclass(frozen=True, eq=False)
class Waveform:
    """A sound recording as it was taken.

    `samples` has shape (n,) for one channel, (n, channels) for more; full scale is ±1. `bits` is the depth of integer
    samples, None where the file holds floats or is lossy. `name` is the file's name without its folder.
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

    def channel(self, i_channel: int) -> NDArray[np.float32]:
        """One channel, shape (n,)."""
        return self.samples if self.samples.ndim == 1 else self.samples[:, i_channel]


def read_sound(path: Path) -> Waveform:
    """Read a sound file whole.

    Raises
    ------
    Unreadable
        Missing, a folder, empty, cut off (with the seconds that are missing), not sound, without samples, with
        values that are not numbers, at an absurd rate, or too long.
    """
    where = path.name
    size_bytes = _size(path)
    try:
        with soundfile.SoundFile(str(path)) as file:
            _refuse_header(file, where)
            _refuse_cut_off_wav(path, file, size_bytes)
            samples = _decoded(file, where)
            bits, kind = _BITS.get(file.subtype), f"{file.format} {file.subtype}"
            is_lossy, rate_hz = file.format in _LOSSY or "MPEG" in file.subtype, float(file.samplerate)
    except soundfile.LibsndfileError as error:
        raise Unreadable(
            f"not a sound file that can be read ({str(error.error_string).rstrip('.')})",
            where,
            f"give a {_SUFFIXES} file",
        ) from None
    except OSError as error:
        raise Unreadable(str(error.strerror or error), where, "check the permissions and the disk") from None
    return Waveform(samples, rate_hz, bits, kind, _sha256(path), is_lossy, where)


def _size(path: Path) -> int:
    """Size of a file that exists and holds something."""
    if path.is_dir():
        raise Unreadable("this is a folder", path.name, "give the recording in it")
    try:
        size_bytes = path.stat().st_size
    except (OSError, ValueError):
        raise Unreadable("no such file", str(path), "check the path") from None
    if size_bytes == 0:
        raise Unreadable("the file is empty", path.name, "record again, or copy it again")
    return size_bytes


def _refuse_header(file: Any, where: str) -> None:
    """What the header alone rules out."""
    low, high = RATES_HZ
    if not low <= file.samplerate <= high:
        raise Unreadable(f"a sampling rate of {file.samplerate} Hz is absurd", where, "record at 44.1 kHz or more")
    if not 1 <= file.channels <= MAX_CHANNELS:
        raise Unreadable(f"{file.channels} channels", where, f"record with {MAX_CHANNELS} channels or fewer")
    if file.frames * file.channels > MAX_SAMPLES:
        minutes = file.frames / file.samplerate / 60
        most = MAX_SAMPLES / file.channels / file.samplerate / 60
        raise Unreadable(f"{minutes:.0f} minutes are too long", where, f"cut it to {most:.0f} minutes or less")


def _refuse_cut_off_wav(path: Path, file: Any, size_bytes: int) -> None:
    """A WAV whose header promises more than the file holds (the decoder would pass over it in silence)."""
    if file.format not in {"WAV", "WAVEX", "RF64"}:
        return
    found = _wav_data_chunk(path)
    if found is None:
        raise Unreadable("the WAV header has no data chunk", path.name, "record or copy it again")
    start, promised_bytes, bytes_per_s = found
    missing_bytes = promised_bytes - (size_bytes - start)
    if missing_bytes > 0 and bytes_per_s > 0:
        raise Unreadable(
            f"the file is cut off: its header promises {promised_bytes / bytes_per_s:.2f} s,"
            f" {missing_bytes / bytes_per_s:.2f} s of it are missing",
            path.name,
            "copy it again, or stop the recording before copying",
        )


def _wav_data_chunk(path: Path) -> tuple[int, int, int] | None:
    """Where the data of a RIFF or RF64 file start, how many bytes are promised, and bytes per second."""
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
    """All samples, read in blocks so that a lying header allocates nothing."""
    promised = file.frames
    blocks, n = [], 0
    while len(block := file.read(1 << 20, dtype="float32")):
        blocks.append(block)
        n += len(block)
    if n == 0:
        raise Unreadable("there are no samples in it", where, "record again")
    if n < promised:
        missing_s = (promised - n) / file.samplerate
        raise Unreadable(f"the file is cut off: {missing_s:.2f} s are missing", where, "copy it again")
    samples = np.concatenate(blocks) if len(blocks) > 1 else blocks[0]
    if not np.isfinite(samples).all():
        raise Unreadable("it holds values that are not numbers", where, "export it again as 16 or 24 bit PCM")
    samples.flags.writeable = False
    return samples


def _sha256(path: Path) -> str:
    """Fingerprint of the file."""
    with path.open("rb") as raw:
        return hashlib.file_digest(raw, "sha256").hexdigest()
