"""A recording that stays in its file says what it says in memory."""

from pathlib import Path

import numpy as np
import pytest
import soundfile

from camerawright.bench import codec
from camerawright.bench.catalogue import CATALOGUE
from camerawright.bench.shutter.measure import measure
from camerawright.bench.shutter.simulate import SoundCard
from camerawright.recordings import sound
from camerawright.recordings.channel import Channel
from camerawright.recordings.sound import SoundOnDisk, Waveform, open_sound, read_sound
from camerawright.trouble import Unreadable
from tests.bench.scenes import recorded, scene


@pytest.fixture(scope="module")
def path(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Two channels at 96 kHz, the second with three firings at 1/125."""
    made, _ = recorded(scene(1 / 125, n=3, card=SoundCard(rate_hz=96_000.0, bits=24)))
    quiet = 1e-4 * np.random.default_rng(1).standard_normal(len(made.samples))
    path = tmp_path_factory.mktemp("long") / "long.wav"
    soundfile.write(path, np.column_stack([quiet, made.samples]), 96_000, subtype="PCM_24")
    return path


@pytest.fixture
def on_disk(path: Path, monkeypatch: pytest.MonkeyPatch) -> SoundOnDisk:
    """The file, too long for memory by a limit set low, in small blocks."""
    monkeypatch.setattr(sound, "_MOST_IN_MEMORY", 1000)
    monkeypatch.setattr(sound, "_BLOCK_SAMPLES", 10_000)
    opened = open_sound(path)
    assert isinstance(opened, SoundOnDisk)
    return opened


def test_a_short_file_is_read_whole(path: Path) -> None:
    assert isinstance(open_sound(path), Waveform)


def test_a_scan_in_blocks_is_the_scan_of_the_whole(path: Path, on_disk: SoundOnDisk) -> None:
    whole = read_sound(path)
    for width in (1, 24, 77):
        ours, theirs = on_disk.scan(width), whole.scan(width)
        n = len(whole.samples) // width
        np.testing.assert_allclose(ours.means, theirs.means, atol=1e-7)
        means = whole.samples[: n * width].reshape(n, width, 2).mean(axis=1)
        np.testing.assert_allclose(theirs.means, means, atol=1e-6)
        assert (ours.low, ours.high) == (theirs.low, theirs.high)
        assert theirs.low == tuple(whole.samples.min(axis=0))
        assert theirs.high == tuple(whole.samples.max(axis=0))


def test_a_lossy_file_is_scanned_in_one(path: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sound, "_MOST_IN_MEMORY", 1000)
    lossy = tmp_path / "long.ogg"
    soundfile.write(lossy, read_sound(path).samples, 96_000)
    opened = open_sound(lossy)
    assert isinstance(opened, SoundOnDisk)
    ours, theirs = opened.scan(24), read_sound(lossy).scan(24)
    np.testing.assert_allclose(ours.means, theirs.means, atol=1e-7)
    assert (ours.low, ours.high) == (theirs.low, theirs.high)


@pytest.mark.parametrize("name", ["curtains", "sync", "escapement"])
def test_every_test_of_sound_reads_the_same_from_the_file_and_from_memory(
    name: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (test,) = (one for one in CATALOGUE if one.name == name)
    made = test.simulate(1)
    path = tmp_path / "example.wav"
    soundfile.write(path, made.samples, int(made.rate_hz), subtype="PCM_16")
    theirs = test.run(test.medium.read(path))
    monkeypatch.setattr(sound, "_MOST_IN_MEMORY", 1000)
    on_disk = test.medium.read(path)
    assert isinstance(on_disk, SoundOnDisk)
    assert codec.written(test.run(on_disk)) == codec.written(theirs)
    assert test.plots(on_disk, theirs)


def test_a_channel_is_cut_into_the_same_stretches(path: Path, on_disk: SoundOnDisk) -> None:
    whole = read_sound(path)
    for over in (1, 2):
        ours, theirs = Channel(on_disk, 1, -1.0, over), Channel(whole, 1, -1.0, over)
        assert len(ours) == len(theirs) == len(whole.samples) // over
        assert ours[100:200] == pytest.approx(theirs[100:200])
    assert Channel(whole, 1)[5:9] == pytest.approx(whole.samples[5:9, 1])
    assert Channel(whole, 1, over=2)[5:6] == pytest.approx(whole.samples[10:12, 1].mean())


def test_the_shutter_reads_the_same_from_the_file_and_from_memory(path: Path, on_disk: SoundOnDisk) -> None:
    ours, theirs = measure(on_disk), measure(read_sound(path))
    assert ours.i_channel == theirs.i_channel == 1
    for one, other in zip(ours.firings, theirs.firings, strict=True):
        assert one.effective.value == pytest.approx(other.effective.value, rel=1e-9)
        assert one.effective.u == pytest.approx(other.effective.u, rel=1e-9)
    assert on_disk.sha256 == read_sound(path).sha256


def test_a_long_flac_that_is_cut_off_is_refused_when_it_is_scanned(
    path: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(sound, "_MOST_IN_MEMORY", 1000)
    cut = tmp_path / "cut.flac"
    soundfile.write(cut, read_sound(path).samples, 96_000, subtype="PCM_24")
    cut.write_bytes(cut.read_bytes()[: cut.stat().st_size // 2])
    with pytest.raises(Unreadable):
        open_sound(cut).scan(24)


@pytest.mark.parametrize("damage", ["header", "first frame"])
def test_a_lossless_file_whose_header_promises_hours_is_refused_when_it_is_scanned(tmp_path: Path, damage: str) -> None:
    """[rfc-9639] 8.2: the number of samples is the 36 bits that end with byte 25 of the file."""
    path = tmp_path / "lies.flac"
    soundfile.write(path, 0.1 * np.random.default_rng(1).standard_normal(4096), 48_000, subtype="PCM_16")
    data = bytearray(path.read_bytes())
    data[22:26] = (400_000_000).to_bytes(4, "big")
    if damage == "first frame":
        data[86:400] = bytes(314)
    path.write_bytes(data)
    opened = open_sound(path)
    assert isinstance(opened, SoundOnDisk)
    with pytest.raises(Unreadable):
        opened.scan(24)
