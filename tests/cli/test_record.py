"""`record` in the terminal, with a file played in the place of a sound card, many times as fast."""

from functools import partial
from pathlib import Path

import numpy as np
import pytest
import soundfile

from camerawright.bench.setup_check.signal import signal
from camerawright.bench.shutter import simulate
from camerawright.recordings import inputs
from tests.bench.led_on_a_card import Bench, recorded
from tests.cli.conftest import Shell
from tests.cli.test_measure import fired
from tests.web.recordings import recording


@pytest.fixture(autouse=True)
def _fast(monkeypatch: pytest.MonkeyPatch) -> None:
    """Files play fast, and there is no sound card, whatever this machine has."""
    monkeypatch.setattr(inputs, "PlayedFile", partial(inputs.PlayedFile, speed=20))
    monkeypatch.setattr(inputs, "inputs", lambda: ())


def test_what_is_played_is_kept_told_and_said_to_be_tried_out(tmp_path: Path) -> None:
    (tmp_path / "fire.wav").write_bytes(recording())
    out = tmp_path / "out.flac"
    run = Shell(tmp_path / "w").run(
        "record", "shutter", str(out), "--from", str(tmp_path / "fire.wav"), "--marked", "1/60"
    )
    assert "TRYING OUT: fire.wav is played" in run.stdout
    assert "6 firings" in run.stdout
    assert run.stdout.index(" at 0.8") < run.stdout.index("kept in")
    played, _ = soundfile.read(tmp_path / "fire.wav", dtype="int16")
    kept, _ = soundfile.read(out, dtype="int16")
    assert np.array_equal(kept, played)
    again = Shell(tmp_path / "w").run("record", "shutter", str(out), "--from", str(tmp_path / "fire.wav"), code=2)
    assert "it is there already" in again.stderr


def test_every_mark_that_is_given_counts(tmp_path: Path) -> None:
    """The dial at 1/30 and then at 1/125: none is judged by the other's mark."""
    marks = (1 / 30, 1 / 125)
    samples, _ = simulate.recording(simulate.example(marks, 1, firings=2), 1)
    soundfile.write(tmp_path / "dial.wav", samples, 48_000, subtype="PCM_16")
    shell = Shell(tmp_path / "w")
    command = ("record", "shutter", str(tmp_path / "out.flac"), "--from", str(tmp_path / "dial.wav"))
    run = shell.run(*command, "--marked", "1/125", "--marked", "1/30")
    assert run.stdout.count("Marked 1/30") == run.stdout.count("Marked 1/125") == 1


def test_it_stops_by_itself(tmp_path: Path) -> None:
    (tmp_path / "fire.wav").write_bytes(recording())
    out = tmp_path / "out.flac"
    shell = Shell(tmp_path / "w")
    shell.run("record", "shutter", str(out), "--from", str(tmp_path / "fire.wav"), "--seconds", "2")
    assert 2 <= soundfile.info(out).duration < 30


def test_the_set_up_is_checked(tmp_path: Path) -> None:
    played = signal()
    seen = recorded(Bench(), [(each.at_s, each.width_s) for each in played.pulses], played.duration_s)
    soundfile.write(tmp_path / "led.wav", seen.samples, 48_000, subtype="PCM_24")
    run = Shell(tmp_path / "w").run("record", "check", "--from", str(tmp_path / "led.wav"))
    assert "Fit: the chain rises in" in run.stdout
    (tmp_path / "fire.wav").write_bytes(recording())
    other = Shell(tmp_path / "w").run("record", "check", "--from", str(tmp_path / "fire.wav"), code=3)
    assert "Not measurable: the LED's pulses are not seen" in other.stdout


def test_without_an_input_it_says_what_to_do(tmp_path: Path) -> None:
    shell = Shell(tmp_path / "w")
    assert "plug a sound card in" in shell.run("record", "inputs").stdout
    assert "there is no sound input" in shell.run("record", "shutter", str(tmp_path / "a.flac"), code=2).stderr
    assert "Missing argument 'FILE'" in shell.run("record", "shutter", code=2).stderr
    assert "name a new .flac file" in shell.run("record", "shutter", str(tmp_path / "a.wav"), code=2).stderr
    assert "No such command 'nonesuch'" in shell.run("record", "nonesuch", "a.flac", code=2).stderr
    assert "No such command 'footage'" in shell.run("record", "footage", "a.flac", code=2).stderr  # it takes clips
    assert not list(tmp_path.glob("*.flac"))


def test_what_cannot_be_understood_is_refused_before_anything_is_recorded(tmp_path: Path) -> None:
    mono, stereo = fired(tmp_path / "mono.wav", "shutter"), fired(tmp_path / "stereo.wav", "sync")
    shell, out = Shell(tmp_path / "w"), tmp_path / "out.flac"
    sync = ("record", "sync", str(out), "--from")
    assert "record 2 or more" in shell.run(*sync, mono, code=2).stderr
    assert "contact: 'Y' is not known; give one of" in shell.run(*sync, stereo, "--contact", "Y", code=2).stderr
    assert not list(tmp_path.glob("*.flac"))
    said = shell.run(*sync, stereo, "--contact", "X").stdout
    assert "X" in said
    assert '"contact": "X"' in out.with_suffix(".json").read_text(encoding="utf-8")


def test_two_checks_tell_whether_the_sensor_is_linear(tmp_path: Path) -> None:
    """The second, with the lamp on, is a third lower: the sensor bends by (1.5 - 1) / (1.5 + 1) = 0.2."""
    played = signal()
    pulses = [(each.at_s, each.width_s) for each in played.pulses]
    for name, level_fs in (("dark", 0.3), ("lit", 0.2), ("same", 0.3)):
        seen = recorded(Bench(level_fs=level_fs), pulses, played.duration_s)
        soundfile.write(tmp_path / f"{name}.wav", seen.samples, 48_000, subtype="PCM_24")
    check = ("record", "check", "--from", str(tmp_path / "dark.wav"), "--lit")
    shell = Shell(tmp_path / "w")
    assert "Not linear: the sensor bends by +0.200" in shell.run(*check, str(tmp_path / "lit.wav")).stdout
    assert "Linear, if the lamp was on" in shell.run(*check, str(tmp_path / "same.wav")).stdout
