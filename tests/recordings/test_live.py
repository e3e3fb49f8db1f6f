"""Recording live: what went in is what the file holds, whatever happens on the way."""

import json
import os
import subprocess
import sys
import time
from pathlib import Path

import numpy as np
import pytest
import soundfile
from numpy.typing import NDArray

from camerawright.recordings.inputs import (
    Format,
    Input,
    NoInput,
    PlayedFile,
    SoundCard,
    Take,
    Wanted,
    inputs,
    samples_of,
)
from camerawright.recordings.kept import finished, setup_of
from camerawright.recordings.live import Recorder
from camerawright.recordings.recovery import recover
from camerawright.trouble import Unreadable

RATE_HZ = 48_000


class Hand:
    """A source that hands over what a test gives it."""

    name, rate_hz, is_real, is_over = "hand", RATE_HZ, True, False

    def __init__(self, n_channels: int = 1, bits: int = 24) -> None:
        self.n_channels, self.bits = n_channels, bits
        self.take: Take = lambda block: None

    def start(self, take: Take) -> None:
        self.take = take

    def stop(self) -> None:
        pass

    def give(self, codes: NDArray[np.int64]) -> None:
        """Codes of its own depth, shape (n, channels)."""
        self.take((codes << (32 - self.bits)).astype(np.int32))


def noise(n: int, n_channels: int, bits: int, seed: int = 1) -> NDArray[np.int64]:
    """Codes of that depth, both ends included, no zero among them."""
    top = 2 ** (bits - 1)
    codes = np.random.default_rng(seed).integers(-top, top, (n, n_channels))
    codes[codes == 0] = 1
    codes[0], codes[-1] = -top, top - 1
    return codes


def settled(recorder: Recorder, n_samples: int) -> None:
    """Wait until the writer has that many."""
    until = time.monotonic() + 10
    while recorder.meter().n_samples < n_samples and time.monotonic() < until:
        time.sleep(0.005)


@pytest.mark.parametrize("bits", [16, 24])
@pytest.mark.parametrize("n_channels", [1, 2])
def test_every_sample_is_kept_to_its_last_bit(tmp_path: Path, bits: int, n_channels: int) -> None:
    source = Hand(n_channels, bits)
    recorder = Recorder(source, tmp_path, name="take", setup={"job": "J1"})
    recorder.start()
    codes = noise(30_000, n_channels, bits)
    for at in range(0, len(codes), 777):
        source.give(codes[at : at + 777])
    kept = recorder.stop()
    read, rate_hz = soundfile.read(kept.path, dtype="int32", always_2d=True)
    assert rate_hz == RATE_HZ
    assert np.array_equal(read.astype(np.int64) >> (32 - bits), codes)
    assert setup_of(kept.path)["bits"] == bits
    assert setup_of(kept.path)["job"] == "J1"


def test_packed_bytes_of_a_device_become_the_numbers_they_stand_for() -> None:
    """Two's complement, little-endian: the bytes are written out by hand."""
    assert samples_of(b"\xff\x7f\x00\x80", "SIGNED16", 1)[:, 0].tolist() == [32767 << 16, -32768 << 16]
    packed = b"\xff\xff\x7f\x00\x00\x80\x01\x00\x00"
    assert (samples_of(packed, "SIGNED24", 1)[:, 0] >> 8).tolist() == [8388607, -8388608, 1]
    floats = np.array([[0.5, -1.0], [1.0, 2.0**-23]], np.float32).tobytes()
    assert samples_of(floats, "FLOAT32", 2).tolist() == [[2**30, -(2**31)], [2**31 - 1, 2**8]]


def test_level_meter_tells_peak_rms_and_clipping(tmp_path: Path) -> None:
    """A sine of half of full scale has an rms of 0.5 / √2; one sample at each end stop is clipped."""
    source = Hand()
    recorder = Recorder(source, tmp_path, name="take")
    recorder.start()
    wave = np.round(0.5 * 2**23 * np.sin(2 * np.pi * 1000 * np.arange(12_000) / RATE_HZ + 0.1)).astype(np.int64)
    source.give(wave[:, None])
    settled(recorder, 12_000)
    meter = recorder.meter()
    assert meter.peak == pytest.approx(0.5, abs=1e-3)
    assert meter.rms == pytest.approx(0.5 / np.sqrt(2), abs=1e-3)
    assert meter.highest == meter.peak
    assert meter.n_clipped == 0
    source.give(np.array([[2**23 - 1], [-(2**23)]]))
    settled(recorder, 12_002)
    assert recorder.meter().n_clipped == 2
    assert recorder.meter().peak == pytest.approx(1.0, abs=1e-6)
    assert "Clipped at 2 samples" in recorder.stop().meter.flags[0]


@pytest.mark.parametrize("block", [48, 480, 5000])
def test_gaps_of_exact_zeros_are_counted_across_blocks(tmp_path: Path, block: int) -> None:
    source = Hand(n_channels=2)
    recorder = Recorder(source, tmp_path, name="take")
    recorder.start()
    codes = noise(40_000, 2, 24)
    codes[:300] = 0  # before the first sound nothing is missing
    codes[10_000:10_100] = 0
    codes[20_000:20_048] = 0
    codes[30_000:30_047] = 0  # shorter than 1 ms
    codes[35_000:35_500, 0] = 0  # one channel only
    for at in range(0, len(codes), block):
        source.give(codes[at : at + block])
    assert recorder.stop().meter.n_dropouts == 2


def test_an_input_quieter_than_its_own_steps_has_no_gaps(tmp_path: Path) -> None:
    source = Hand(bits=16)
    recorder = Recorder(source, tmp_path, name="take")
    recorder.start()
    quiet = np.zeros((20_000, 1), np.int64)
    quiet[::500] = 1
    source.give(quiet)
    assert recorder.stop().meter.n_dropouts == 0


def test_what_was_heard_last_can_be_looked_at_while_it_goes_on(tmp_path: Path) -> None:
    source = Hand()
    recorder = Recorder(source, tmp_path, name="take")
    recorder.start()
    codes = noise(25 * RATE_HZ, 1, 24)
    for at in range(0, len(codes), RATE_HZ):
        source.give(codes[at : at + RATE_HZ])
    settled(recorder, len(codes))
    start, sound = recorder.heard(24 * RATE_HZ + 5)
    assert start == 24 * RATE_HZ + 5
    assert np.array_equal(np.round(sound.samples.astype(float) * 2**23), codes[start:, 0])
    start, sound = recorder.heard(0)
    assert start >= 4 * RATE_HZ  # what is longer ago is in the file only
    recorder.discard()
    assert list(tmp_path.iterdir()) == []


def test_nothing_has_a_final_name_before_it_is_whole(tmp_path: Path) -> None:
    source = Hand()
    recorder = Recorder(source, tmp_path, name="take")
    recorder.start()
    source.give(noise(9000, 1, 24))
    settled(recorder, 9000)
    assert finished(tmp_path) == ()
    recorder.stop()
    assert [path.name for path in finished(tmp_path)] == ["take.flac"]
    again = Recorder(Hand(), tmp_path, name="take")
    again.start()
    assert again.stop().path.name == "take-2.flac"


def test_what_a_killed_program_left_behind_is_recovered(tmp_path: Path) -> None:
    program = """
import os, sys, time
from pathlib import Path
from tests.recordings.test_live import Hand, noise, settled
from camerawright.recordings.live import Recorder
source = Hand(n_channels=2)
recorder = Recorder(source, Path(sys.argv[1]), name="take", setup={"job": "J7"})
recorder.start()
codes = noise(48_000, 2, 24)
for at in range(0, len(codes), 4800):
    source.give(codes[at : at + 4800])
settled(recorder, len(codes))
time.sleep(1.1)
source.give(codes[:1])
settled(recorder, len(codes) + 1)
os.kill(os.getpid(), 9)
"""
    root = Path(__file__).parents[2]
    run = subprocess.run([sys.executable, "-c", program, str(tmp_path)], cwd=root, check=False)
    assert run.returncode != 0
    assert finished(tmp_path) == ()
    assert recover(tmp_path) == ()  # it may still be written
    for path in tmp_path.iterdir():
        os.utime(path, (time.time() - 60, time.time() - 60))
    (path,) = recover(tmp_path)
    read, _ = soundfile.read(path, dtype="int32", always_2d=True)
    codes = noise(48_000, 2, 24)
    assert len(codes) - len(read) < 5000  # what the encoder still held is lost
    assert np.array_equal(read.astype(np.int64) >> 8, codes[: len(read)])
    assert setup_of(path)["job"] == "J7"
    assert setup_of(path)["is_recovered"]
    assert sorted(each.suffix for each in tmp_path.iterdir()) == [".flac", ".json"]


def test_a_played_file_goes_the_same_way_and_says_that_it_was_played(tmp_path: Path) -> None:
    codes = noise(24_000, 1, 16)
    soundfile.write(tmp_path / "in.wav", (codes << 16).astype(np.int32), RATE_HZ, subtype="PCM_16")
    source = PlayedFile(tmp_path / "in.wav", speed=50)
    recorder = Recorder(source, tmp_path / "out", name="take")
    recorder.start()
    until = time.monotonic() + 10
    while not source.is_over and time.monotonic() < until:
        time.sleep(0.01)
    kept = recorder.stop()
    read, _ = soundfile.read(kept.path, dtype="int16", always_2d=True)
    assert np.array_equal(read, codes)
    assert json.loads(kept.path.with_suffix(".json").read_text(encoding="utf-8"))["is_tried"]


def test_a_played_file_that_is_no_sound_is_refused(tmp_path: Path) -> None:
    (tmp_path / "in.wav").write_bytes(b"no sound")
    with pytest.raises(Unreadable, match=r"in.wav"):
        PlayedFile(tmp_path / "in.wav")


def test_a_played_file_that_is_damaged_ends_where_the_damage_is(tmp_path: Path) -> None:
    path = tmp_path / "in.flac"
    soundfile.write(path, (noise(96_000, 1, 16) << 16).astype(np.int32), RATE_HZ, subtype="PCM_16")
    data = bytearray(path.read_bytes())
    data[len(data) // 2 : len(data) // 2 + 40_000] = bytes(40_000)
    path.write_bytes(data)
    source, heard = PlayedFile(path, speed=100), []
    source.start(lambda block: heard.append(len(block)))
    until = time.monotonic() + 10
    while not source.is_over and time.monotonic() < until:
        time.sleep(0.01)
    source.stop()
    assert 24_000 < sum(heard) < 96_000


def test_what_flac_cannot_hold_is_refused_and_leaves_nothing(tmp_path: Path) -> None:
    """[rfc-9639] 9.1.3: eight channels at the most."""
    with pytest.raises(Unreadable, match="9 channels"):
        Recorder(Hand(n_channels=9), tmp_path, name="nine")
    assert not list(tmp_path.iterdir())


def test_an_input_that_is_not_there_is_refused_with_the_ones_that_are() -> None:
    with pytest.raises(NoInput, match="no such input"):
        SoundCard("an input that nobody has", Wanted())
    assert all(each.name for each in inputs())


def test_an_input_that_does_not_answer_hides_no_other(monkeypatch: pytest.MonkeyPatch) -> None:
    """Two devices of a sound system; the first is taken by another program, and may not even be asked."""
    import miniaudio  # type: ignore[import-untyped]

    def ask(self: object, device_type: object, device_info: str) -> dict[str, object]:
        if device_info == "taken":
            raise miniaudio.MiniaudioError("can't get device info")
        return {"formats": [{"format": "16-bit Signed Integer", "samplerate": 48_000, "channels": 2}]}

    def captures(self: miniaudio.Devices) -> list[dict[str, object]]:
        name_of = miniaudio.ffi.new("char[]", b"x")
        return [{"name": name, "id": name_of, **self._get_info("capture", name)} for name in ("taken", "free")]

    monkeypatch.setattr(miniaudio.Devices, "_get_info", ask)
    monkeypatch.setattr(miniaudio.Devices, "get_captures", captures)
    monkeypatch.setattr(miniaudio.Devices, "__init__", lambda self, backends: setattr(self, "backend", "x"))
    monkeypatch.setattr(miniaudio.Devices, "__del__", lambda self: None)
    assert [(each.name, each.own) for each in inputs()] == [("free", ("2 channels at 48 kHz",)), ("taken", ())]
    with pytest.raises(NoInput, match="close what else uses it"):
        SoundCard("taken", Wanted())


def test_the_deepest_format_of_its_own_is_taken_and_none_that_would_be_converted() -> None:
    own = [("SIGNED16", 16, 48_000, 2), ("SIGNED32", 32, 48_000, 2), ("SIGNED16", 16, 96_000, 0)]
    card = Input(
        name="line",
        system="x",
        formats=tuple(Format(name=n, bits=b, rate_hz=r, n_channels=c) for n, b, r, c in own),
    )
    found = [card.best(Wanted(rate_hz=48_000, n_channels=2)), card.best(Wanted(rate_hz=96_000, n_channels=1))]
    assert [each and each.name for each in found] == ["SIGNED32", "SIGNED16"]
    assert card.best(Wanted(rate_hz=48_000, n_channels=1)) is None
    assert card.best(Wanted(rate_hz=44_100, n_channels=2)) is None
    assert card.own == ("any number of channels at 96 kHz", "2 channels at 48 kHz")


def test_what_nobody_chose_is_as_the_input_has_it() -> None:
    """The fewest channels that are enough, the usual rate or the nearest to it, the deepest samples."""
    has = [("SIGNED16", 16, 44_100, 2), ("SIGNED16", 16, 48_000, 2), ("SIGNED24", 24, 48_000, 2)]
    card = Input(
        name="line",
        system="x",
        formats=tuple(
            Format(name=n, bits=b, rate_hz=r, n_channels=c) for n, b, r, c in [*has, ("SIGNED32", 32, 192_000, 8)]
        ),
    )
    assert card.best(Wanted()) == Format(name="SIGNED24", bits=24, rate_hz=48_000, n_channels=2)
    assert card.best(Wanted(rate_hz=44_100)) == Format(name="SIGNED16", bits=16, rate_hz=44_100, n_channels=2)
    assert card.best(Wanted(n_least=3)) == Format(name="SIGNED32", bits=32, rate_hz=192_000, n_channels=8)
    assert card.best(Wanted(n_channels=2, rate_hz=192_000)) is None
    assert card.best(Wanted(n_least=9)) is None
