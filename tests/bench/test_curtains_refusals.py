"""What the curtains' test refuses, says, and prints."""

import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import soundfile
from typer.testing import CliRunner, Result

from camerawright.bench.curtains import TEST, run
from camerawright.bench.curtains.disturbances import Disturbances
from camerawright.bench.curtains.gate import gate_of
from camerawright.bench.curtains.simulate import Curtain
from camerawright.cli.app import app
from camerawright.recordings.sound import Waveform
from camerawright.trouble import NotUnderstood
from tests.bench.curtain_scenes import recorded, scene, waveform


@pytest.fixture(scope="module")
def fast() -> Waveform:
    """Two firings at 1/1000."""
    return recorded(scene(1e-3, 1e-3))[0]


def _refused(made: Waveform, **options: str) -> str:
    record = run(made, None, None, **options)
    assert record.firings == ()
    assert record.refused is not None
    assert record.refused.advice
    assert TEST.lines(record) == [f"Not measurable: {record.refused.reason}.", f"{record.refused.advice}."]
    return f"{record.refused.reason}. {record.refused.advice}"


def test_one_channel_is_refused(fast: Waveform) -> None:
    assert "one channel" in _refused(waveform(fast.samples[:, 0].astype(float)))


def test_silence_is_refused() -> None:
    assert "sees no firing" in _refused(waveform(np.zeros((96_000, 2))))


def test_a_sensor_that_never_sees_light_is_refused_and_a_slow_speed_asked_for(fast: Waveform) -> None:
    dead = fast.samples.astype(float)
    dead[:, 2] = 1e-4 * np.random.default_rng(3).standard_normal(len(dead))
    text = _refused(waveform(dead))
    assert "channel 3 sees no firing" in text
    assert "slow speed" in text


def test_swapped_channels_are_refused_and_the_order_of_the_light_is_said(fast: Waveform) -> None:
    text = _refused(waveform(fast.samples[:, [1, 0, 2]].astype(float)))
    assert "channel 2 then channel 1 then channel 3" in text


def test_impossible_speeds_are_refused(fast: Waveform) -> None:
    assert "mm/ms" in _refused(fast, at="2,100,240", gate="250")


def test_an_impossible_change_of_speed_is_refused(fast: Waveform) -> None:
    assert "change its speed" in _refused(fast, at="2,7,34")


def test_a_sensor_wider_than_the_slit_is_refused_with_both_widths() -> None:
    text = _refused(recorded(scene(1 / 4000, 1 / 4000, diameter_mm=2.0))[0], diameter="2")
    assert "mm wide and the sensor 2 mm" in text
    assert "Mask" in text


def test_clipping_is_refused(fast: Waveform) -> None:
    louder = np.clip(fast.samples.astype(float) * 5, -1, 1 - 2**-15)
    assert "clipped" in _refused(waveform(louder))


def test_a_mains_lamp_is_refused() -> None:
    text = _refused(recorded(replace(scene(1 / 8, 1 / 8), flicker=0.4))[0])
    assert "flickers by 4" in text
    assert "100 Hz" in text


def test_a_little_flicker_is_flagged() -> None:
    record = run(recorded(replace(scene(1 / 30, 1 / 30), flicker=0.05, flicker_hz=120.0))[0], None, None)
    assert any("120 Hz" in flag for firing in record.firings for flag in firing.flags)


def test_noise_alone_is_refused() -> None:
    assert _refused(waveform(0.1 * np.random.default_rng(1).standard_normal((96_000, 3))))


@pytest.mark.parametrize(
    ("options", "message"),
    [
        ({"at": "2,18"}, "one place for each"),
        ({"at": "2,18,x"}, "write millimetres with commas between, as 2,18,34"),
        ({"at": "2,18,40"}, "between 0 and the gate"),
        ({"at": "2,3,34"}, "tell no speed"),
        ({"gate": "3"}, "millimetres from 8"),
        ({"diameter": "1,1"}, "there are 3"),
        ({"diameter": "40"}, "0.1 to 12 mm"),
        ({"placed": "-1"}, "one number"),
    ],
)
def test_a_set_up_that_cannot_be_is_said_with_what_to_write(
    fast: Waveform, options: dict[str, str], message: str
) -> None:
    with pytest.raises(NotUnderstood, match=message):
        run(fast, None, None, **options)


def test_the_usual_places_fit_the_gate_and_others_must_be_told() -> None:
    assert gate_of(2, None, None, None, None).at_mm == (2.0, 34.0)
    assert gate_of(3, None, "24", None, None).at_mm == (2.0, 12.0, 22.0)
    assert gate_of(4, "2, 13, 23, 34 mm", None, "1", None).diameter_mm == (1.0,) * 4
    with pytest.raises(NotUnderstood, match="say where each sensor stands"):
        gate_of(4, None, None, None, None)


def test_four_sensors_are_fitted_by_least_squares() -> None:
    made = scene(1e-3, 1e-3)
    made = replace(made, at_mm=(2.0, 13.0, 23.0, 34.0), detectors=(made.detectors[0],) * 4)
    got, truths = recorded(made)
    record = run(got, None, None, at="2,13,23,34")
    for one, true in zip(record.firings[0].sensors, truths[0].exposure_s, strict=True):
        assert one.exposure.value == pytest.approx(true, rel=0.01)


def _advice(second: Curtain, *times_s: float) -> str:
    record = run(recorded(scene(*times_s, second=second))[0], "1/1000", None, sensor="photodiode")
    return " ".join(record.advice)


def test_a_slow_second_curtain_is_named_with_its_delay_and_cleaning_comes_before_tension() -> None:
    text = _advice(Curtain(gate_s=9.4e-3, above_film_mm=1.5), 1 / 1024, 1 / 1024)
    assert "the second is slower by 0.3" in text
    assert "widens" in text
    assert text.index("Clean first") < text.index("tension")
    assert "0.1 ms is 0.1" in text
    assert "wound up" in text


def test_a_slow_first_curtain_is_named() -> None:
    text = _advice(Curtain(gate_s=8.6e-3, above_film_mm=1.5), 1 / 1024, 1 / 1024)
    assert "the first is slower" in text
    assert "narrows" in text


def test_curtains_that_agree_and_a_slit_too_wide_are_a_matter_of_the_slit() -> None:
    text = _advice(Curtain(above_film_mm=1.5), 1 / 600, 1 / 600)
    assert "leave their tensions alone" in text
    assert "setting of the slit" in text


def test_capping_says_where_and_what_to_clean() -> None:
    text = _advice(Curtain(gate_s=8e-3, above_film_mm=1.5), 1 / 30, 0.3e-3, 0.3e-3)
    assert "closes about 3" in text
    assert "overtakes" in text


@pytest.fixture(scope="module")
def file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The test's own example as a 16-bit FLAC."""
    path = tmp_path_factory.mktemp("sound") / "curtains.flac"
    soundfile.write(path, TEST.simulate(1).samples, 48_000, subtype="PCM_16")
    return path


def _measured(*arguments: object) -> Result:
    return CliRunner().invoke(app, ["measure", "curtains", *map(str, arguments)], catch_exceptions=False)


def test_the_command_prints_the_gate_the_curtains_and_the_advice(file: Path) -> None:
    result = _measured(file, "--marked", "1/500", "--at", "2,18,34")
    assert result.exit_code == 0
    for word in ("slit", "second curtain", "Stops from 1/500 by place", "Uneven by", "Clean first", "±"):
        assert word in result.stdout


def test_the_json_holds_every_number_with_its_u_and_the_compared_firings_first(file: Path) -> None:
    result = _measured(file, "--marked", "1/500", "--sensor", "photodiode", "--json")
    record = json.loads(result.stdout)
    assert [len(record["firings"]), len(record["compared"]["firings"])] == [6, 4]
    assert record["compared"]["i_firings"] == [0, 1, 2, 3]
    assert all(firing["effective_s"] < 3e-3 for firing in record["firings"][:4])
    firing = record["firings"][0]
    for name in ("effective_s", "later_s", "uneven_stops", "uneven_gate_stops"):
        assert 0 < firing[f"u_{name}"] < 0.1
    for one in firing["sensors"]:
        assert {"noise", "sensor lag", "channel skew", "sensor position"} <= {
            line["name"] for line in one["budget_exposure"]
        }
    assert record["refused"] is None


@pytest.mark.parametrize("picture", ["curtains", "waveform", "speed card"])
def test_every_picture_is_drawn(file: Path, tmp_path: Path, picture: str) -> None:
    path = tmp_path / "picture.png"
    assert _measured(file, "--marked", "1/500", "--plot", path, "--picture", picture).exit_code == 0
    assert path.read_bytes().startswith(b"\x89PNG")


def test_a_set_up_that_cannot_be_ends_with_2_and_a_refusal_with_3(file: Path, tmp_path: Path) -> None:
    result = _measured(file, "--at", "2,18")
    assert (result.exit_code, result.stderr.count("\n")) == (2, 1)
    silence = tmp_path / "silence.wav"
    soundfile.write(silence, np.zeros((96_000, 2)), 48_000)
    result = _measured(silence)
    assert result.exit_code == 3
    assert "Not measurable" in result.stdout


@pytest.mark.parametrize("limits", [Disturbances(limit=0.6, release_s=0.02), Disturbances(limit=0.7, release_s=0.005)])
def test_an_input_that_limits_is_named_and_not_taken_for_a_knock(limits: Disturbances) -> None:
    limited = replace(scene(1 / 250, 1 / 250, 1 / 250), disturbances=limits)
    record = run(recorded(limited)[0], None, None)
    assert any("the input limits or compresses" in flag for flag in record.flags)


def test_knocks_are_not_taken_for_an_input_that_limits() -> None:
    for seed in range(4):
        knocked = replace(scene(1 / 250, 1 / 250, 1 / 250), disturbances=Disturbances(thump=0.1, n_thumps=40))
        record = run(recorded(knocked, seed)[0], None, None)
        assert not any("limits" in flag for flag in record.flags)


def test_a_curtain_that_is_thrown_back_is_not_taken_for_a_flickering_lamp() -> None:
    """Light, dark and light again in ten milliseconds looks like the mains to a fit over all of it."""
    thrown = Curtain(above_film_mm=1.5, restitution=0.6, stop_mm=2.0)
    record = run(recorded(scene(1 / 60, 1 / 60, second=thrown))[0], None, None)
    assert not any("flicker" in flag for firing in record.firings for flag in firing.flags)
    assert record.refused is None or "flicker" not in record.refused.reason
