"""Footage: closed forms, invariance, what is flagged and refused, bands and line time, the whole way through a file."""

import json
import re
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray
from typer.testing import CliRunner, Result

from camerawright.bench import codec
from camerawright.bench.footage import TEST, run
from camerawright.bench.footage.measure import measure
from camerawright.bench.footage.record import FootageRecord, Measured
from camerawright.bench.footage.simulate import Blades, Camera, Filmed, Light, Scene, film, film_led, hold_for
from camerawright.bench.options import for_command_line, quoted
from camerawright.cli.app import app
from camerawright.recordings.clips import Clip, clip_of_luma
from camerawright.trouble import NotMeasurable, NotUnderstood
from tests.bench.footage_scenes import clip_of, measured, scene
from tests.bench.stored import leaves
from tests.recordings.films import write_film, write_sound


def _errors(result: Measured, filmed: Filmed) -> NDArray[np.float64]:
    """Relative errors of the firings, which are all there."""
    assert len(result.firings) == len(filmed.effective_s)
    found = np.array([one.effective.value for one in result.firings])
    return np.asarray(found / np.array(filmed.effective_s) - 1)


def _disc(parts: list[float], n_dark: int = 8, rows: bool = False) -> Clip:
    """A round field in grey steps: shares of the full light, or with `rows` of its height, frame by frame."""
    y, x = np.mgrid[0:60, 0:80]
    gate = np.hypot(x - 39.5, y - 29.5) < 24
    frames = []
    for part in [0.0] * n_dark + parts + [0.0] * n_dark:
        light = gate * (0.5 * (y < 30 + 24 * (2 * part - 1)) if rows else 0.5 * part)
        frames.append(np.where(light < 0.018, 4.5 * light, 1.099 * light**0.45 - 0.099))
    luma = np.round(16 + 219 * np.array(frames)).astype(np.uint8)
    return clip_of_luma(luma, np.arange(len(luma)) / 240)


def test_the_effective_time_is_the_light_over_the_level_summed_over_the_frames() -> None:
    """ISO 516 effective time by arithmetic: 0.25 + 6 + 0.5 intervals of 1/240 s; codes of 8 bits."""
    firing = measure(_disc([0.25, 1, 1, 1, 1, 1, 1, 0.5])).firings[0]
    assert firing.effective.value == pytest.approx(6.75 / 240, rel=0.004)
    assert firing.frames_open == 6


def test_half_a_gate_uncovered_is_half_its_area() -> None:
    firing = measure(_disc([0.5, 1, 1, 1, 1, 1, 0.25], rows=True)).firings[0]
    area = [one for one in firing.frames if one.light > 0.05]
    assert len(area) == 7
    assert area[0].area == pytest.approx(0.5, abs=0.03)
    assert area[3].area == pytest.approx(1, abs=0.01)
    quarter = (np.arccos(0.5) - 0.5 * np.sqrt(0.75)) / np.pi  # segment of a circle cut at half its radius
    assert area[6].area == pytest.approx(quarter, abs=0.03)
    assert all(one.u_area > 0 for one in firing.frames)


@pytest.mark.parametrize(("fps", "time_s"), [(120, 1 / 8), (240, 1 / 8), (240, 1 / 30), (240, 1 / 60), (960, 1 / 250)])
def test_firings_are_found_and_measured_over_the_range(fps: float, time_s: float) -> None:
    result, filmed = measured(scene(time_s, camera=Camera(fps=fps, duty=0.9), spread=0.03))
    errors = _errors(result, filmed)
    assert abs(errors.mean()) < 0.01
    assert not result.skipped
    assert result.input.n_references == 1
    assert result.firings[0].level_from in {"the gate held open", "its own plateau"}


def test_the_tone_curves_of_other_cameras_move_a_time_less_than_the_budget_says() -> None:
    for tone in ("sRGB", "phone"):
        result, filmed = measured(scene(1 / 60, camera=Camera(tone=tone)))
        u = next(line.u for line in result.firings[0].effective.budget if line.name == "tone curve")
        assert abs(_errors(result, filmed).mean()) < 2 * u * 60


def test_without_a_gate_held_open_what_all_firings_reach_alike_is_the_level() -> None:
    result, filmed = measured(scene(1 / 60, static_s=0.0))
    assert result.firings[0].level_from == "the firings' own tops"
    assert np.abs(_errors(result, filmed)).max() < 0.02


def test_a_level_that_nothing_shows_is_refused() -> None:
    with pytest.raises(NotMeasurable, match="level is not known") as refused:
        measured(scene(1 / 100, n=2, static_s=0.0))
    assert "B or T" in refused.value.mend


def test_brightness_mirror_turn_and_moment_do_not_matter() -> None:
    filmed = film(scene(1 / 60, n=5), 3)
    values = [one.effective.value for one in measure(clip_of(filmed)).firings]
    dimmed = film(scene(1 / 60, n=5, camera=Camera(level=0.3)), 3)
    others = {
        "mirrored": clip_of_luma(filmed.luma[:, :, ::-1], filmed.at_s),
        "turned": clip_of_luma(filmed.luma.transpose(0, 2, 1), filmed.at_s),
        "later": clip_of_luma(filmed.luma[3:], filmed.at_s[3:]),
        "dimmer": clip_of(dimmed),
    }
    for name, clip in others.items():
        again = [one.effective.value for one in measure(clip).firings]
        assert again == pytest.approx(values, rel=0.01), name


def test_a_container_that_plays_slower_than_life_is_counted_at_the_rate_of_capture() -> None:
    filmed = film(scene(1 / 60), 1)
    slow = clip_of_luma(filmed.luma, 8 * filmed.at_s)
    noted = measure(replace(slow, capture_fps=240.0))
    told = measure(slow, capture_fps=240)
    assert np.abs(_errors(noted, filmed)).max() < 0.02
    assert _errors(told, filmed) == pytest.approx(_errors(noted, filmed))
    assert any("slower than life" in flag for flag in noted.flags)
    silent = measure(slow)
    assert any("every time here is too long" in flag for flag in silent.flags)
    with pytest.raises(NotMeasurable, match="no whole number"):
        measure(slow, capture_fps=100)


def test_uneven_timestamps_are_used_as_they_are() -> None:
    result, filmed = measured(scene(1 / 30, camera=Camera(jitter_s=0.35e-3)))
    assert any("unevenly" in flag for flag in result.flags)
    for firing, true_s in zip(result.firings, filmed.effective_s, strict=True):
        assert abs(firing.effective.value - true_s) < firing.effective.expanded_u


def _frame_of(made: Scene, seed: int, share: float) -> int:
    """The frame that stands at a share of the way through the last firing, before any is dropped."""
    filmed = film(made, seed)
    return round(240 * (filmed.released_s[-1] + share * made.hold_s[-1]))


def test_a_frame_lost_in_the_open_is_bridged_and_one_lost_on_an_edge_refuses_the_firing() -> None:
    made = scene(1 / 15)
    inside, filmed = measured(replace(made, dropped=(_frame_of(made, 1, 0.5),)))
    assert np.abs(_errors(inside, filmed)).max() < 0.02
    assert any("bridged" in flag for flag in inside.firings[-1].flags)
    edge = _frame_of(made, 1, 0.0)
    lost, _ = measured(replace(made, dropped=(edge, edge + 1)))
    assert [one.reason for one in lost.skipped] == ["the camera lost a frame on an edge of this firing"]
    assert any("lost one or more frames" in flag for flag in lost.flags)


@pytest.mark.parametrize(
    ("made", "reason"),
    [
        (scene(1 / 60, repeated=2), "repeated"),
        (scene(1 / 60, camera=Camera(level=1.3)), "blown out"),
        (scene(1 / 60, light=Light(flicker=0.4)), "flickers"),
        (scene(1 / 500, camera=Camera(duty=0.2)), "too short for frames"),
        (scene(1 / 60, camera=Camera(level=0.004, read_noise=0.02)), "nothing in the clip|hardly stands out"),
    ],
)
def test_a_clip_that_would_give_wrong_times_is_refused(made: Scene, reason: str) -> None:
    with pytest.raises(NotMeasurable, match=reason) as refused:
        measured(made)
    assert refused.value.mend


def test_a_clip_without_an_opening_is_refused() -> None:
    still = np.full((40, 48, 64), 20, np.uint8)
    with pytest.raises(NotMeasurable, match="nothing in the clip becomes bright"):
        measure(clip_of_luma(still, np.arange(40) / 240))
    filmed = film(scene(1 / 4, n=1, static_s=0.0), 1)
    with pytest.raises(NotMeasurable, match="no opening lies whole"):
        measure(clip_of_luma(filmed.luma[40:], filmed.at_s[40:]))


def test_firings_too_short_for_the_frames_say_how_little_they_are_known() -> None:
    short, _ = measured(scene(1 / 100, 4, camera=Camera(fps=120, duty=0.1)))
    assert all(any("Known within" in flag for flag in firing.flags) for firing in short.firings)
    long, _ = measured(scene(1 / 8, 4, camera=Camera(fps=240)))
    assert not any("Known within" in flag for firing in long.firings for flag in firing.flags)


def test_slow_motion_that_the_file_does_not_tell_of_shows_against_the_mark() -> None:
    """A file of 960 frames a second that plays at 120."""
    filmed = film(scene(1 / 60, 4, camera=Camera(fps=960)), 1)
    silent = clip_of_luma(filmed.luma, filmed.at_s * 8)
    record = run(silent, "1/60")
    assert any("about 8 times the marked one" in flag for flag in record.flags)
    told = run(silent, "1/60", capture_fps="960")
    assert not any("times the marked one" in flag for flag in told.flags)


def test_frames_that_are_missing_without_a_word_show_in_firings_that_differ() -> None:
    filmed = film(scene(1 / 60, 5), 1)
    lost = np.ones(len(filmed.at_s), bool)
    middle = int(np.searchsorted(filmed.at_s, filmed.released_s[2] + 8e-3))
    lost[middle : middle + 2] = False
    clip = clip_of_luma(filmed.luma[lost], filmed.at_s[: lost.sum()])
    assert any("more than they are known by" in flag for flag in measure(clip).flags)
    assert not any("more than they are known by" in flag for flag in measure(clip_of(filmed)).flags)


def test_weak_flicker_drifting_exposure_and_mixed_speeds_are_flagged() -> None:
    flickering, _ = measured(scene(1 / 15, light=Light(flicker=0.04)))
    assert any("flickers" in flag for flag in flickering.flags)
    assert any(line.name == "flicker" for line in flickering.firings[0].effective.budget)
    drifting, _ = measured(scene(1 / 8, light=Light(drift=0.1)))
    assert any("lock the exposure" in flag for flag in drifting.flags)
    unlocked, filmed = measured(scene(1 / 60, light=Light(drift=0.2)))
    assert any("exposure" in flag for flag in unlocked.flags)
    for firing, true_s in zip(unlocked.firings, filmed.effective_s, strict=True):
        assert abs(firing.effective.value / true_s - 1) < 0.15
    both, _ = measured(Scene((hold_for(1 / 60, Blades()), hold_for(1 / 15, Blades())), static_s=1.0))
    assert any("more than a stop" in flag for flag in both.flags)


@pytest.mark.parametrize(("led_hz", "line_us", "duty"), [(1000, 14.0, 0.05), (900, 12.5, 0.08), (1500, 16.5, 0.1)])
def test_the_line_time_follows_from_a_lamp_that_blinks(led_hz: float, line_us: float, duty: float) -> None:
    record = run(clip_of(film_led(led_hz, 1e-6 * line_us, 4, camera=Camera(duty=duty))), led_hz=str(led_hz))
    found = record.line_time
    assert found is not None
    assert found.line.value == pytest.approx(1e-6 * line_us, rel=0.002)
    assert abs(found.line.value - 1e-6 * line_us) < 1.5 * found.line.expanded_u
    assert record.is_calibration
    (figure,) = record.figures
    assert (figure.name, figure.value, figure.unit, figure.is_error) == ("line time", found.line.value, "s", False)
    assert found.readout_s == pytest.approx(240e-6 * line_us, rel=0.002)


def test_no_stripes_or_stripes_of_another_rate_are_refused() -> None:
    blurred = run(
        clip_of(film_led(1000, 14e-6, 1, camera=Camera(duty=0.96))), led_hz="1000"
    )  # four periods an exposure
    assert blurred.refused is not None
    assert "no stripes" in blurred.refused.reason
    black = run(clip_of_luma([np.full((48, 64), 16, np.uint8)] * 12, np.arange(12) / 240), led_hz="1000")
    assert black.refused is not None
    assert "no stripes" in black.refused.reason
    other = run(clip_of(film_led(1000, 14e-6, 1, camera=Camera(duty=0.1))), led_hz="500")
    assert other.refused is not None
    assert "longer than a frame" in other.refused.reason


@pytest.mark.parametrize(("led_hz", "line_us", "duty"), [(1000, 14.0, 0.05), (900, 12.5, 0.08), (1500, 16.5, 0.1)])
def test_a_lamp_that_blinks_is_no_shutter(led_hz: float, line_us: float, duty: float) -> None:
    """Its rate not told: stripes 1 / (rate x line time) rows apart stand in every frame."""
    refused = run(clip_of(film_led(led_hz, 1e-6 * line_us, 4, camera=Camera(duty=duty)))).refused
    assert refused is not None
    apart = re.search(r"stripes stand in the frames, (\d+) rows apart", refused.reason)
    assert apart is not None
    assert int(apart[1]) == pytest.approx(1e6 / led_hz / line_us, rel=0.03)
    (option,) = (each for each in TEST.options if each.name == "led_hz")
    assert quoted(option.label) in refused.advice
    assert "give its rate under --led-hz" in for_command_line(refused.advice, TEST.options)


BAND_CAMERA = Camera(duty=0.1, readout=0.95, height_px=240, width_px=32)
LINE_US = 0.95 / 240 / 239 * 1e6


def test_a_band_whole_in_a_frame_tells_a_time_far_shorter_than_the_frames_are_apart() -> None:
    holds = tuple(hold_for(1 / 500, Blades()) for _ in range(12))
    filmed = film(Scene(holds, camera=BAND_CAMERA, static_s=0.3, fills_frame=True), 2)
    result = run(clip_of(filmed), line_us=f"{LINE_US},{0.002 * LINE_US}")
    assert result.method.startswith("band")
    assert len(result.firings) >= 2
    for firing in result.firings:
        assert firing.effective.value == pytest.approx(filmed.effective_s[0], rel=0.02)
        assert abs(firing.effective.value - filmed.effective_s[0]) < firing.effective.expanded_u
    assert all("edge of a frame" in one.reason for one in result.skipped)


def test_bands_need_a_flat_field_and_a_gate_held_open() -> None:
    round_gate = run(clip_of(film(scene(1 / 60), 1)), line_us="80")
    assert round_gate.refused is not None
    assert "not flat" in round_gate.refused.reason
    unheld = run(clip_of(film(scene(1 / 60, static_s=0.0), 1)), line_us="80")
    assert unheld.refused is not None
    assert "held to show the level" in unheld.refused.reason


def test_a_region_may_be_given_and_must_lie_in_the_picture() -> None:
    clip = clip_of(film(scene(1 / 60), 1))
    assert run(clip, region="8,4,48,40").firings
    for text in ("all", "900,900,10,10", "-4,0,20,20", "0,0,2,2"):
        with pytest.raises(NotUnderstood, match="region"):
            run(clip, region=text)


@pytest.mark.parametrize(
    "options", [{"led_hz": "fast"}, {"capture_fps": "-1"}, {"exposure": "long"}, {"line_us": "14,x"}, {"line_us": ""}]
)
def test_options_that_cannot_be_understood_are_named(options: dict[str, str]) -> None:
    name = next(iter(options)).replace("_", "-")
    with pytest.raises(NotUnderstood, match=name):
        run(clip_of(film(scene(1 / 60, n=4), 1)), None, None, **options)


def test_an_exposure_longer_than_the_interval_and_a_mark_that_is_none_are_refused() -> None:
    clip = clip_of(film(scene(1 / 60, n=4), 1))
    refused = run(clip, exposure="1/60").refused
    assert refused is not None
    assert "does not fit" in refused.reason
    with pytest.raises(NotUnderstood):
        run(clip, "B")


def test_every_picture_is_drawn_from_the_record() -> None:
    clip = TEST.simulate(1)
    record = run(clip, "1/60")
    figures = TEST.plots(clip, record)
    assert list(figures) == ["light", "contact sheet", "open area", "speed card"]
    titles = [axes.get_title() for axes in figures["contact sheet"].axes if axes.get_title()]
    shown = [one for one in record.firings[0].frames if 0.03 < one.light < 0.97]
    assert len(titles) >= len(shown) + 2
    assert all("ms" in title and "%" in title for title in titles)
    assert list(TEST.words(record)) == list(figures)
    assert TEST.marked is not None
    assert record.compared is not None
    assert TEST.marked.card([record.compared], []) is not None


def test_the_figures_are_the_mean_of_the_firings_and_its_error_and_none_of_several_speeds() -> None:
    """Mean of the times taken in stops, the geometric one; log2 of it over 1/64 is the error."""
    record = run(TEST.simulate(1), "1/60")
    effective, error = record.figures
    mean = float(np.exp(np.mean(np.log([one.effective.value for one in record.firings]))))
    assert effective.value == pytest.approx(mean, rel=1e-12)
    assert error.value == pytest.approx(float(np.log2(64 * mean)), abs=1e-12)
    assert (effective.n, error.n, effective.is_error, error.is_error, error.marked) == (10, 10, False, True, "1/60")
    assert TEST.marked is not None
    assert [one.effective and one.effective.value for one in TEST.marked.speeds(record)] == [effective.value]
    both = run(clip_of(film(Scene((hold_for(1 / 60, Blades()), hold_for(1 / 15, Blades())), static_s=1.0), 1)))
    assert both.figures == ()
    assert TEST.marked.speeds(both) == ()


def test_a_record_says_the_same_when_it_is_read_from_the_store() -> None:
    record = run(clip_of(film(scene(1 / 60), 1)), "1/60")
    stored = json.loads(json.dumps(codec.written(record)))
    again = codec.read(FootageRecord, stored)
    assert leaves(codec.written(again)) == pytest.approx(leaves(stored))
    assert (TEST.lines(again), TEST.words(again), TEST.table(again)) == (
        TEST.lines(record), TEST.words(record), TEST.table(record),
    )  # fmt: skip
    assert all(len(row) == len(TEST.table(record).heads) for row in TEST.table(record).rows)


@pytest.mark.parametrize(
    ("name", "first"),
    [
        ("footage", "5 firings, 1 opening held to show the level; 240 frames a second; ± is the 95 % interval"),
        ("footage-line-time", "Line time of the camera that filmed: 13.9992 ± 0.0028 µs (95 %), from 40 frames"),
    ],
)
def test_a_record_of_before_figures_were_kept_reads_with_every_value(name: str, first: str) -> None:
    """Our own past output: firings at 1/500 by their bands, and a lamp at 1 kHz."""
    stored = json.loads((Path(__file__).parents[1] / "pinned" / f"{name}.json").read_text("utf-8"))
    again = codec.read(FootageRecord, stored)
    written = leaves(codec.written(again))
    assert {key: written[key] for key in leaves(stored)} == pytest.approx(leaves(stored))
    assert again.is_calibration == (name == "footage-line-time")
    assert TEST.lines(again)[0] == first


# the whole way: coder, decoder, command


@pytest.fixture(scope="module")
def filmed_60() -> Filmed:
    """Six firings at 1/60, small."""
    return film(scene(1 / 60), 5)


@pytest.fixture(scope="module")
def film_60(tmp_path_factory: pytest.TempPathFactory, filmed_60: Filmed) -> Path:
    """The same through H.264, timestamps and all."""
    return write_film(tmp_path_factory.mktemp("film") / "found.mp4", filmed_60.luma, filmed_60.at_s, crf=23, transfer=1)


def _run(*arguments: object) -> Result:
    return CliRunner().invoke(app, ["measure", "footage", *map(str, arguments)], catch_exceptions=False)


def test_a_coded_film_gives_the_times_within_what_the_budget_sets_aside_for_coding(
    film_60: Path, filmed_60: Filmed
) -> None:
    result = _run(film_60, "--marked", "1/60", "--json")
    assert result.exit_code == 0
    record = json.loads(result.stdout)
    coded = np.array([one["effective_s"] for one in record["firings"]])
    plain = np.array([one.effective.value for one in measure(clip_of(filmed_60)).firings])
    assert coded / plain - 1 == pytest.approx(0, abs=0.012)
    assert abs(coded.mean() / np.mean(filmed_60.effective_s) - 1) < 0.02
    assert record["compared"]["marked"] == "1/60"
    assert record["flags"] == []
    assert record["input"]["fps"] == pytest.approx(240, rel=1e-3)


def test_the_summary_and_a_contact_sheet_are_given(film_60: Path, tmp_path: Path) -> None:
    sheet = tmp_path / "blades.png"
    result = _run(film_60, "--marked", "1/60", "--plot", sheet, "--picture", "contact sheet")
    assert result.exit_code == 0
    for word in (" ms", "stops", "±", "frames a second", "WITHIN"):
        assert word in result.stdout
    assert sheet.read_bytes().startswith(b"\x89PNG")
    assert _run(film_60, "--plot", sheet, "--picture", "smell").exit_code == 2


def test_what_is_no_film_ends_with_2_and_what_shows_nothing_with_3(tmp_path: Path) -> None:
    sound = write_sound(tmp_path / "sound.mp4")
    assert (_run(sound).exit_code, _run(sound).stderr.count("\n")) == (2, 1)
    still = write_film(tmp_path / "still.mp4", np.full((40, 48, 64), 40, np.uint8), np.arange(40) / 240)
    assert _run(still).exit_code == 3
    assert "Not measurable" in _run(still).stdout
    record = json.loads(_run(still, "--json").stdout)
    assert record["firings"] == []
    assert record["refused"]["advice"]
