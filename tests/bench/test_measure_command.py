"""`camerawright measure shutter`: what it prints, and how it ends."""

import json
from pathlib import Path

import numpy as np
import pytest
import soundfile
from typer.testing import CliRunner, Result

from camerawright.bench import codec
from camerawright.bench.catalogue import CATALOGUE, find_test
from camerawright.bench.shutter.simulate import Disturbance, Scene
from camerawright.cli.app import app
from tests.bench.scenes import recorded, scene, spoilt

FIRING_KEYS = {
    "at_s", "total_s", "half_peak_s", "effective_s", "efficiency",
    "u_total_s", "u_half_peak_s", "u_effective_s", "flags",
}  # fmt: skip


@pytest.fixture(scope="module")
def recording(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Three firings at 1/64 as a 16-bit FLAC."""
    return _written(tmp_path_factory.mktemp("sound") / "firings.flac", scene(1 / 64, n=3))


def _written(path: Path, made: Scene) -> Path:
    soundfile.write(path, recorded(made)[0].samples, 48_000, subtype="PCM_16")
    return path


def _run(*arguments: object) -> Result:
    return CliRunner().invoke(app, ["measure", "shutter", *map(str, arguments)], catch_exceptions=False)


def test_json_has_the_keys_of_the_contract(recording: Path) -> None:
    result = _run(recording, "--json")
    assert result.exit_code == 0
    record = json.loads(result.stdout)
    assert record["test"] == "shutter"
    assert record["method"]
    assert record["refused"] is None
    assert len(record["firings"]) == 3
    for firing in record["firings"]:
        assert firing.keys() > FIRING_KEYS
        assert firing["effective_s"] == pytest.approx(1 / 64, rel=0.002)
        assert 0 < firing["u_effective_s"] < 2e-4  # which sensor it was nobody told
        assert 0 < firing["efficiency"] < 1
        lines = {line["name"] for line in firing["budget_effective"]}
        assert {"noise", "level", "timing", "AC model", "sensor lag", "sensor linearity"} <= lines


def test_the_summary_shows_milliseconds_fraction_stops_and_verdict(recording: Path) -> None:
    result = _run(recording, "--marked", "1/60")
    assert result.exit_code == 0
    for word in (" ms", "1/64", "stops", "±", "within", "WITHIN", "common practice"):
        assert word in result.stdout
    assert "We do not claim conformity" in result.stdout
    first = next(line for line in result.stdout.splitlines() if line.startswith("  1 "))
    assert first.count("±") == 4  # effective, half-peak and total time, and how far off the mark


def test_a_marked_speed_adds_the_comparison_to_the_json(recording: Path) -> None:
    compared = json.loads(_run(recording, "--marked", "125", "--profile", "slide", "--json").stdout)["compared"]
    assert compared["marked"] == "1/125"
    assert compared["target_s"] == 1 / 128
    assert compared["verdict"] == "outside"
    assert compared["mean_stops"] == pytest.approx(1, abs=0.003)


def test_a_picture_is_written(recording: Path, tmp_path: Path) -> None:
    picture = tmp_path / "firing.png"
    assert _run(recording, "--plot", picture).exit_code == 0
    assert picture.read_bytes().startswith(b"\x89PNG")


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        (["--marked", "B"], "no marked time"),
        (["--marked", "soon"], "write 1/125"),
        (["--profile", "perfect"], "use half-stop"),
        (["--plot", "picture.txt"], "name it .png"),
        (["--plot", "no-such-folder/picture.png"], "name a file that can be written"),
    ],
)
def test_what_cannot_be_understood_ends_with_2_and_one_line(
    recording: Path, arguments: list[str], message: str
) -> None:
    result = _run(recording, *arguments)
    assert result.exit_code == 2
    assert message in result.stderr
    assert result.stderr.count("\n") == 1


def test_a_missing_or_foreign_file_ends_with_2_and_one_line(tmp_path: Path) -> None:
    text = tmp_path / "notes.wav"
    text.write_text("no sound", encoding="utf-8")
    for path in (tmp_path / "none.wav", text, tmp_path):
        result = _run(path, "--json")
        assert (result.exit_code, result.stdout) == (2, "")
        assert result.stderr.count("\n") == 1
        assert path.name in result.stderr


def test_silence_ends_with_3_and_says_what_to_do(tmp_path: Path) -> None:
    path = tmp_path / "silence.wav"
    soundfile.write(path, np.zeros(96_000), 48_000)
    assert _run(path).exit_code == 3
    assert "Not measurable: the recording is silent." in _run(path).stdout
    record = json.loads(_run(path, "--json", "--marked", "1/60").stdout)
    assert record["firings"] == []
    assert record["refused"]["reason"]
    assert record["refused"]["advice"]


def test_a_mains_lamp_ends_with_3(tmp_path: Path) -> None:
    path = _written(tmp_path / "mains.wav", spoilt(scene(1 / 8, n=2), Disturbance(flicker=0.4)))
    result = _run(path)
    assert result.exit_code == 3
    assert "battery" in result.stdout


def test_every_bench_test_simulates_measures_prints_and_draws_its_own_example() -> None:
    for test in CATALOGUE:
        assert find_test(test.name) is test
        waveform = test.simulate(1)
        record = test.run(waveform, "1/60", None)
        assert record.refused is None
        json.dumps(codec.written(record), allow_nan=False)
        assert test.lines(record)
        assert test.plots(waveform, record)
