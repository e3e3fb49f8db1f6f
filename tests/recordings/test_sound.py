"""Sound files: what is read, and how what cannot be read is refused."""

import struct
from pathlib import Path

import numpy as np
import pytest
import soundfile
from numpy.typing import NDArray

from camerawright.recordings.sound import read_sound
from camerawright.trouble import Unreadable

RATE_HZ = 48_000


@pytest.fixture
def tone() -> NDArray[np.float64]:
    """Half a second of a tone on 16-bit steps, shape (n, 2)."""
    t = np.arange(RATE_HZ // 2) / RATE_HZ
    left = np.round(0.5 * np.sin(2 * np.pi * 440 * t) * 2**15) / 2**15
    return np.column_stack([left, -left])


@pytest.mark.parametrize(
    ("suffix", "subtype", "bits"), [("wav", "PCM_16", 16), ("wav", "PCM_24", 24), ("flac", "PCM_16", 16)]
)
def test_lossless_files_are_read_to_the_bit(
    tmp_path: Path, tone: NDArray[np.float64], suffix: str, subtype: str, bits: int
) -> None:
    path = tmp_path / f"tone.{suffix}"
    soundfile.write(path, tone, RATE_HZ, subtype=subtype)
    waveform = read_sound(path)
    assert np.array_equal(waveform.samples, tone.astype(np.float32))
    assert (waveform.rate_hz, waveform.bits, waveform.n_channels) == (RATE_HZ, bits, 2)
    assert waveform.duration_s == 0.5
    assert not waveform.is_lossy
    assert waveform.name == path.name
    assert len(waveform.sha256) == 64
    assert not waveform.samples.flags.writeable


def test_one_channel_has_one_axis_and_a_lossy_file_says_so(tmp_path: Path, tone: NDArray[np.float64]) -> None:
    path = tmp_path / "tone.ogg"
    soundfile.write(path, tone[:, 0], RATE_HZ, format="OGG", subtype="VORBIS")
    waveform = read_sound(path)
    assert waveform.samples.ndim == 1
    assert waveform.is_lossy
    assert waveform.bits is None


def _wav(path: Path, data: bytes, *, promised: int | None = None, rate_hz: int = RATE_HZ, channels: int = 1) -> Path:
    """A hand-made WAV: RIFF and WAVE as published in 1991 [riff-1991]."""
    size = len(data) if promised is None else promised
    head = struct.pack("<4sI4s4sIHHIIHH", b"RIFF", (36 + size) & 0xFFFFFFFF, b"WAVE", b"fmt ", 16, 1, channels, rate_hz,
                       rate_hz * 2 * channels, 2 * channels, 16)  # fmt: skip
    path.write_bytes(head + struct.pack("<4sI", b"data", size) + data)
    return path


def _refused(path: Path) -> Unreadable:
    with pytest.raises(Unreadable) as caught:
        read_sound(path)
    assert caught.value.mend
    return caught.value


def test_a_truncated_wav_is_refused_with_the_seconds_that_are_missing(tmp_path: Path) -> None:
    path = _wav(tmp_path / "cut.wav", bytes(RATE_HZ * 2), promised=RATE_HZ * 2 * 4)
    assert "promises 4.00 s, 3.00 s of it are missing" in _refused(path).what


@pytest.mark.parametrize("promised", [3_000_000_000, 0xFFFFFFFF, 0xFFFFFFFE])
def test_a_header_of_gigabytes_on_a_small_file_is_refused(tmp_path: Path, promised: int) -> None:
    error = _refused(_wav(tmp_path / "huge.wav", bytes(2000), promised=promised))
    assert "missing" in error.what or "too long" in error.what


def test_a_truncated_flac_is_refused(tmp_path: Path, tone: NDArray[np.float64]) -> None:
    whole = tmp_path / "whole.flac"
    noise = np.random.default_rng(1).uniform(-0.5, 0.5, tone.shape)
    soundfile.write(whole, noise, RATE_HZ, subtype="PCM_16")
    cut = tmp_path / "cut.flac"
    cut.write_bytes(whole.read_bytes()[: whole.stat().st_size // 2])
    assert _refused(cut).where == "cut.flac"


def test_what_is_not_there_is_refused(tmp_path: Path) -> None:
    assert "no such file" in _refused(tmp_path / "none.wav").what
    assert "folder" in _refused(tmp_path).what
    empty = tmp_path / "empty.wav"
    empty.touch()
    assert "empty" in _refused(empty).what
    assert "no samples" in _refused(_wav(tmp_path / "bare.wav", b"")).what


@pytest.mark.parametrize(
    "content",
    [b"hello, this is text\n" * 50, b"RIFF", b"RIFF\x00\x00\x00\x00WAVEjunk", b"\x89PNG\r\n\x1a\n" + bytes(99)],
)
def test_what_is_not_sound_is_refused(tmp_path: Path, content: bytes) -> None:
    path = tmp_path / "song.wav"
    path.write_bytes(content)
    assert _refused(path).where == "song.wav"


def test_a_clip_is_sent_to_the_test_of_slow_motion_video(tmp_path: Path) -> None:
    path = tmp_path / "IMG_0001.MOV"
    path.write_bytes(b"\0\0\0\x14ftypqt  " + bytes(99))
    assert "slow-motion video" in _refused(path).mend


@pytest.mark.parametrize("rate_hz", [1, 100, 2_000_000_000])
def test_a_rate_that_no_recorder_has_is_refused(tmp_path: Path, rate_hz: int) -> None:
    assert "sound is not recorded at" in _refused(_wav(tmp_path / "rate.wav", bytes(2000), rate_hz=rate_hz)).what


def test_values_that_are_not_numbers_are_refused(tmp_path: Path) -> None:
    path = tmp_path / "nan.wav"
    soundfile.write(path, np.array([0.0, np.nan, 0.1]), RATE_HZ, subtype="FLOAT")
    assert "not numbers" in _refused(path).what


def test_a_recording_of_hours_is_refused_before_it_is_read(tmp_path: Path) -> None:
    path = tmp_path / "long.flac"
    with soundfile.SoundFile(path, "w", 8000, 8, format="FLAC", subtype="PCM_16") as file:
        for _ in range(20):
            file.write(np.zeros((1_000_000, 8), dtype=np.int16))
    error = _refused(path)
    assert "too long" in error.what
    assert "cut it" in error.mend


def test_a_flac_that_is_cut_off_is_said_to_be(tmp_path: Path) -> None:
    whole = tmp_path / "whole.flac"
    soundfile.write(whole, 0.1 * np.random.default_rng(1).standard_normal(96_000), 48_000, subtype="PCM_16")
    cut = tmp_path / "cut.flac"
    cut.write_bytes(whole.read_bytes()[: whole.stat().st_size // 2])
    with pytest.raises(Unreadable, match="cut off"):
        read_sound(cut)
