"""What is told about a set-up in the terminal: kept with the reading; what cannot be understood is one clear line."""

from functools import partial
from pathlib import Path
from typing import Any

import pytest
import soundfile

from camerawright.bench.catalogue import find_test
from camerawright.recordings import inputs
from tests.cli.conftest import Shell


def _fired(path: Path, test: str) -> str:
    waveform = find_test(test).simulate(1)
    soundfile.write(path, waveform.samples, int(waveform.rate_hz), subtype="PCM_16")
    return str(path)


def _setup(shell: Shell, job: str) -> dict[str, Any]:
    """The set-up of the newest reading."""
    setup: dict[str, Any] = shell.read("job", job)["readings"][-1]["setup"]
    return setup


def test_what_is_told_is_kept_and_shown(shell: Shell, job: str, tmp_path: Path) -> None:
    recording = _fired(tmp_path / "x.wav", "sync")
    said = shell.run(
        "measured", job, "as-found", "sync", recording, "--told", "contact=x", "--told", "sensor-at=end",
        "--input", "Line In",
    ).stdout  # fmt: skip
    assert "contact x; sensor at end; input “Line In”" in " ".join(said.split())
    setup = _setup(shell, job)
    assert (setup["options"], setup["input"]) == ({"contact": "x", "sensor_at": "end"}, "Line In")


@pytest.mark.parametrize(
    ("told", "message"),
    [
        (("--told", "contact=Y"), "contact: 'Y' is not known; give one of X, M, F, FP"),
        (("--told", "gate=24"), "gate: the test sync has no such option; it has contact, shutter"),
        (("--told", "contact"), "write NAME=VALUE"),
        (("--told", "contact=X", "--told", "contact=M"), "contact is told twice"),
    ],
)
def test_what_cannot_be_understood_is_one_line_and_exit_code_2(
    shell: Shell, job: str, tmp_path: Path, told: tuple[str, ...], message: str
) -> None:
    refused = shell.run("measured", job, "as-found", "sync", _fired(tmp_path / "x.wav", "sync"), *told, code=2)
    assert message in refused.stderr
    assert refused.stderr.count("\n") == 1
    assert not shell.read("job", job)["readings"]


def test_a_second_reading_by_the_same_input_says_that_it_was_known(shell: Shell, job: str, tmp_path: Path) -> None:
    for seed in (1, 2):
        waveform = find_test("shutter").simulate(seed)
        soundfile.write(tmp_path / f"{seed}.wav", waveform.samples, 48_000, subtype="PCM_16")
    args = ("measured", job, "as-found", "shutter")
    assert "earlier" not in shell.run(*args, str(tmp_path / "1.wav"), "--input", "Line In").stdout
    said = shell.run(*args, str(tmp_path / "2.wav"), "--input", "line in").stdout
    assert "The AC coupling of the input was known from 1 earlier recording." in said


def test_a_recording_by_record_names_its_input_itself_and_a_stranger_s_json_beside_it_does_not(
    shell: Shell, job: str, tmp_path: Path
) -> None:
    recording = _fired(tmp_path / "a.wav", "shutter")
    beside = tmp_path / "a.json"
    for text, name in (
        ('{"input": "Line In", "is_tried": false}', "Line In"),
        ('{"input": {"rate_hz": 48000}}', None),
        ('{"input": "a.wav, played in place of an input", "is_tried": true}', None),
        ("[]", None),
    ):
        beside.write_text(text, encoding="utf-8")
        shell.run("measured", job, "as-found", "shutter", recording)
        assert _setup(shell, job)["input"] == name
        shell.run("undo", job)


def test_record_refuses_what_it_cannot_understand_before_it_records(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(inputs, "PlayedFile", partial(inputs.PlayedFile, speed=20))
    mono, stereo = _fired(tmp_path / "mono.wav", "shutter"), _fired(tmp_path / "stereo.wav", "sync")
    shell, out = Shell(tmp_path / "w"), tmp_path / "out.flac"
    sync = ("record", str(out), "--test", "sync", "--from")
    assert "record 2 or more" in shell.run(*sync, mono, code=2).stderr
    assert "contact: 'Y' is not known; give one of" in shell.run(*sync, stereo, "--told", "contact=Y", code=2).stderr
    assert not list(tmp_path.glob("*.flac"))
    said = shell.run(*sync, stereo, "--told", "contact=X").stdout
    assert "X" in said
    assert '"contact": "X"' in out.with_suffix(".json").read_text(encoding="utf-8")
