"""`measure` with a job: the recording is kept, the reading entered, and what was told of the set-up kept with it."""

import json
import re
from pathlib import Path
from typing import Any

import pytest
import soundfile

from camerawright.bench.catalogue import find_test
from tests.cli.conftest import Shell


def fired(path: Path, test: str = "shutter", seed: int = 3) -> str:
    """A test's simulated recording, as a sound card would have made it."""
    waveform = find_test(test).simulate(seed)
    soundfile.write(path, waveform.samples, int(waveform.rate_hz), subtype="PCM_16")
    return str(path)


@pytest.fixture
def found(tmp_path: Path) -> str:
    """A recording of a leaf shutter."""
    return fired(tmp_path / "found.wav")


def _readings(shell: Shell, job: str) -> list[dict[str, Any]]:
    readings: list[dict[str, Any]] = shell.read("job", job)["readings"]
    return readings


def test_a_reading_is_entered_with_its_recording(shell: Shell, job: str, found: str, tmp_path: Path) -> None:
    measure = ("measure", "shutter", found, "--job", job, "--marked", "1/50")
    said = shell.run(*measure, "--as-found").stdout
    assert "Marked 1/50" in said
    assert "measured" in said
    again = shell.run(*measure, "--as-found", code=2).stderr
    assert "it was measured so already" in again
    later = shell.run(*measure, "--as-left", code=2).stderr
    assert "record the camera as left" in later
    left = fired(tmp_path / "left.wav", seed=4)
    record = shell.read("measure", "shutter", left, "--job", job, "--as-left")
    assert record["refused"] is None
    before, after = _readings(shell, job)
    assert (before["phase"], after["phase"]) == ("as found", "as left")
    assert (before["setup"]["marked"], after["setup"]["marked"]) == ("1/50", None)
    assert after["result"] == record
    said = shell.run("job", job).stdout
    assert re.search(r"1/50 +[+−]\d\.\d\d ± \d\.\d\d \w+ +not measured", said)
    assert shell.run("verify").stdout == "everything is whole\n"


def test_with_json_nothing_but_the_record_is_printed(shell: Shell, job: str, found: str) -> None:
    measure = ("measure", "shutter", found, "--job", "1", "--as-found", "--marked", "1/60", "--json")
    printed = shell.run(*measure).stdout
    (reading,) = _readings(shell, job)
    assert json.loads(printed) == reading["result"]
    assert reading["result"]["compared"]["marked"] == "1/60"


def test_a_mark_that_the_firings_are_far_from_is_entered_only_by_who_is_sure(
    shell: Shell, job: str, found: str
) -> None:
    measure = ("measure", "shutter", found, "--job", "1", "--as-found", "--marked", "1/125")
    refused = shell.run(*measure, code=2).stderr
    assert "1/125 was given, and the firings give about 1/51 s: that is 1.3 stops slower" in refused
    assert "--sure" in refused
    assert _readings(shell, job) == []
    shell.run(*measure, "--sure")
    (reading,) = _readings(shell, job)
    assert reading["result"]["compared"]["marked"] == "1/125"


def test_a_reading_as_left_with_an_aid_in_is_entered_with_a_reason(shell: Shell, job: str, found: str) -> None:
    shell.run("aid-in", job, "tape on the release")
    measure = ("measure", "shutter", found, "--job", "1", "--as-left", "--marked", "1/50")
    assert "with the aid tape on the release still in" in shell.run(*measure, code=1).stderr
    assert _readings(shell, job) == []
    shell.run(*measure, "--overrule", "it holds the pendulum")
    assert [reading["overruled"] for reading in _readings(shell, job)] == ["it holds the pendulum"]


@pytest.mark.parametrize(
    ("options", "place"),
    [
        (("--job", "J1"), "--as-found, --as-left: a reading is of the camera before or after it"),
        (("--job", "J1", "--as-found", "--as-left"), "--as-found, --as-left: only one of them can be true"),
        (("--as-found",), "--as-found: it goes with a reading of a job; give --job JOB"),
        (("--as-left",), "--as-left: it goes with a reading of a job; give --job JOB"),
        (("--input", "Line In"), "--input: it goes with a reading of a job"),
        (("--words", "lens wide open"), "--words: it goes with a reading of a job"),
        (("--job", "J1", "--as-found", "--profile", "user"), "--profile: a job is judged by its own tolerance profile"),
        (("--job", "J1", "--as-found", "--plot", "picture.txt"), "picture.txt: cannot draw a txt"),
        (("--job", "J1", "--as-found", "--marked", "fast"), "'fast'"),
        (("--job", "J7", "--as-found"), "J7"),
    ],
)
def test_options_that_do_not_go_together_are_one_line_and_nothing_is_entered(
    shell: Shell, job: str, found: str, options: tuple[str, ...], place: str
) -> None:
    refused = shell.run("measure", "shutter", found, *options, code=2)
    assert place in refused.stderr
    assert refused.stderr.count("\n") == 1
    assert refused.stdout == ""
    assert not _readings(shell, job)


def test_what_cannot_be_measured_is_not_entered(shell: Shell, job: str, tmp_path: Path) -> None:
    silence, of_the_job = tmp_path / "silence.wav", ("--job", job, "--as-found")
    soundfile.write(silence, [0.0] * 48000, 48000)
    assert "Not measurable: " in shell.run("measure", "shutter", str(silence), *of_the_job, code=3).stdout
    assert shell.read("measure", "shutter", str(silence), *of_the_job, code=3)["refused"]["advice"]
    absent = shell.run("measure", "shutter", str(tmp_path / "absent.wav"), *of_the_job, code=2)
    assert "absent.wav" in absent.stderr
    assert "No such command 'smell'" in shell.run("measure", "smell", str(silence), *of_the_job, code=2).stderr
    assert not _readings(shell, job)


def test_a_reading_as_found_after_a_turn_of_that_test_says_so(shell: Shell, job: str, tmp_path: Path) -> None:
    """What is certified as found must not be what the turn made of it (common practice)."""
    options = ("--job", job, "--as-found", "--marked", "1/50")
    first, second = (fired(tmp_path / f"{seed}.wav", seed=seed) for seed in (3, 4))
    assert "Entered as found" not in shell.run("measure", "shutter", first, *options).stdout
    shell.run("adjust", job, "retard lever", "in", "--turns", "0.25", "--test", "shutter", "--marked", "1/50")
    refused = shell.run("measure", "shutter", second, *options, code=1)
    assert "shutter as found, after the work had begun: retard lever was turned" in " ".join(refused.stderr.split())
    said = shell.run("measure", "shutter", second, *options, "--overrule", "recorded on Monday").stdout
    assert "Entered as found after the work had begun (retard lever was turned): “recorded on Monday”" in said


def test_a_reading_as_found_after_parts_came_off_says_so_also_once_they_are_back(
    shell: Shell, job: str, tmp_path: Path
) -> None:
    first, second = (fired(tmp_path / f"{seed}.wav", seed=seed) for seed in (3, 4))
    shell.run("remove", job, "cover")
    options = ("--job", job, "--as-found", "--overrule", "the test needs it off")
    said = shell.run("measure", "shutter", first, *options).stdout
    assert "Entered as found after the work had begun (cover came off): “the test needs it off”" in said
    shell.run("refitted", job, "cover")
    assert "cover came off" in shell.run("measure", "shutter", second, "--job", job, "--as-found", code=1).stderr
    back = shell.run("measure", "shutter", second, *options).stdout
    assert "Entered as found after the work had begun" in back


def test_what_is_told_is_kept_and_shown(shell: Shell, job: str, tmp_path: Path) -> None:
    said = shell.run(
        "measure", "sync", fired(tmp_path / "x.wav", "sync"), "--job", job, "--as-found",
        "--contact", "x", "--sensor-at", "end", "--input", "Line In",
    ).stdout  # fmt: skip
    assert "contact x; sensor at end; input “Line In”" in " ".join(said.split())
    setup = _readings(shell, job)[-1]["setup"]
    assert (setup["options"], setup["input"]) == ({"contact": "x", "sensor_at": "end"}, "Line In")


@pytest.mark.parametrize(
    ("told", "message"),
    [
        (("--contact", "Y"), "contact: 'Y' is not known; give one of X, M, F, FP"),
        (("--gate", "24"), "No such option: --gate"),
        (("--contact",), "requires an argument"),
    ],
)
def test_what_cannot_be_understood_is_said_with_exit_code_2(
    shell: Shell, job: str, tmp_path: Path, told: tuple[str, ...], message: str
) -> None:
    of_the_job = ("--job", job, "--as-found")
    refused = shell.run("measure", "sync", fired(tmp_path / "x.wav", "sync"), *of_the_job, *told, code=2)
    assert message in refused.stderr
    assert not _readings(shell, job)


def test_a_second_reading_by_the_same_input_says_that_it_was_known(shell: Shell, job: str, tmp_path: Path) -> None:
    first, second = (fired(tmp_path / f"{seed}.wav", seed=seed) for seed in (1, 2))
    of_the_job = ("--job", job, "--as-found", "--input")
    assert "earlier" not in shell.run("measure", "shutter", first, *of_the_job, "Line In").stdout
    said = shell.run("measure", "shutter", second, *of_the_job, "line in").stdout
    assert "The AC coupling of the input was known from 1 earlier recording." in said


def test_a_recording_by_record_names_its_input_itself_and_a_stranger_s_json_beside_it_does_not(
    shell: Shell, job: str, found: str
) -> None:
    beside = Path(found).with_suffix(".json")
    for text, name in (
        ('{"input": "Line In", "is_tried": false}', "Line In"),
        ('{"input": {"rate_hz": 48000}}', None),
        ('{"input": "a.wav, played in place of an input", "is_tried": true}', None),
        ("[]", None),
    ):
        beside.write_text(text, encoding="utf-8")
        shell.run("measure", "shutter", found, "--job", job, "--as-found")
        assert _readings(shell, job)[-1]["setup"]["input"] == name
        shell.run("undo", job)
