"""What the page of a reading shows of each bench test: every speed, its pictures in words and drawn, its waveform."""

import re
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime
from io import BytesIO
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import soundfile
from numpy.typing import NDArray

from camerawright.bench import codec
from camerawright.bench.catalogue import BY_NAME, CATALOGUE, find_test
from camerawright.bench.contract import BenchTest
from camerawright.bench.escapement import simulate as slow_train
from camerawright.bench.escapement.record import EscapementRecord
from camerawright.bench.record import Record, figure_text
from camerawright.bench.shutter import simulate
from camerawright.job.entering import enter
from camerawright.job.now import job_now
from camerawright.journal.entries import Measured, Phase, Removed
from camerawright.readings import recorded
from camerawright.readings.apertures import smaller_apertures
from camerawright.readings.measuring import measured
from camerawright.readings.recorded import record_of, speeds, table
from camerawright.readings.rows import reading_shown
from camerawright.readings.side_by_side import other_figures
from camerawright.readings.speeds import speed_read, speed_shown
from camerawright.readings.traces import Traces, plan
from camerawright.recordings.sound import simulated
from camerawright.recordings.table import Table, written
from camerawright.store.workshop import Workshop
from camerawright.workshop.rows import Camera, Job
from tests.web.conftest import Browser, words
from tests.web.recordings import wav

SOUND = [test for test in CATALOGUE if test.medium.kind == "sound"]
NOT_CLIPS = [test for test in CATALOGUE if test.medium.kind != "clip"]  # a clip of seconds takes minutes to make
Send = Callable[[BenchTest[Any], Any, str | None], Measured]


@pytest.fixture
def send(workshop: Workshop, job: Job, tmp_path: Path) -> Send:
    """Enter a reading of a simulated recording."""

    def sent(test: BenchTest[Any], made: Any, marked: str | None) -> Measured:
        path = tmp_path / f"{test.name}{test.medium.suffixes[0]}"
        path.write_bytes(written(made) if isinstance(made, Table) else sound_file(made))
        _, here = measured(workshop, job.id, test, path, marked=marked, phase="as found")
        return here.state.measured[-1]

    return sent


def sound_file(made: Any) -> bytes:
    """A waveform as a WAV file."""
    out = BytesIO()
    channels = np.column_stack([made.channel(i) for i in range(made.n_channels)])
    soundfile.write(out, channels, int(made.rate_hz), format="WAV", subtype="PCM_16")
    return out.getvalue()


def several() -> Any:
    """Four firings at each of 1/30 and 1/125."""
    scene = simulate.with_noise_db(simulate.example((1 / 32, 1 / 128), 5, error_stops=0.1, firings=4), 48)
    samples, _ = simulate.recording(scene, 5)
    return simulated(samples, scene.card.rate_hz, scene.card.bits)


def waveform_of(channels: NDArray[np.float64]) -> Any:
    """Samples of several channels, shape (n, channels), at 48 kHz."""
    return simulated(channels, 48_000.0, 16)


def mark_for(test: BenchTest[Any]) -> str | None:
    """A mark, where the test takes one."""
    return "1/60" if test.marked else None


LENS = Camera(maker="Orlmann", model="Falter", serial="7", f_numbers=(3.5, 4.0, 5.6, 8.0))


def reading_of(test: BenchTest[Any], record: Record) -> Measured:
    """A reading that holds a record."""
    return Measured(
        at=datetime(2026, 3, 2, tzinfo=UTC), test=test.name, phase="as found", method=test.method, setup={},
        result=codec.written(record), recording="0" * 64,
    )  # fmt: skip


def test_every_speed_of_a_recording_has_its_row_with_spread_apertures_and_budget(
    browser: Browser, job: Job, send: Send
) -> None:
    entry = send(find_test("shutter"), several(), "1/30, 1/125")
    page = words(browser.get("/jobs/J1/measure"))
    lens = replace(job.camera, f_numbers=(3.5, 4.0, 5.6, 8.0, 11.0))
    slow, fast = speeds(entry)
    assert (slow.marked, fast.marked) == ("1/30", "1/125")
    for speed in (slow, fast):
        read, shown = speed_read(speed), speed_shown(speed, smaller_apertures(lens, entry))
        assert f"{speed.marked} −0.33 to +0.33" in page
        assert f"{read.value} {read.error} ± {read.expanded_u}" in page
        assert any("Repeatability" in text for text in shown.remarks)
        assert [name for name, _, _ in shown.stopped][:2] == ["f/4", "f/5.6"]
        assert "repeatability" in [line.name for line in shown.budget]
    assert speed_shown(slow, smaller_apertures(job.camera, entry)).stopped[0][0] == "1 stop down"


def test_a_speed_opens_to_its_own_firings_by_their_numbers(browser: Browser, send: Send) -> None:
    """Four firings of 1/30, then four of 1/125."""
    send(find_test("shutter"), several(), "1/30, 1/125")
    text = browser.get("/jobs/J1/measure").text
    tables = [part.split("</table>")[0] for part in text.split('<table class="firings">')[1:]]
    numbers = [re.findall(r'<th scope="row" class="number">(\d+)', table) for table in tables]
    assert numbers == [["1", "2", "3", "4"], ["5", "6", "7", "8"]]


def test_as_found_stands_beside_as_left_and_the_newest_counts(
    browser: Browser, workshop: Workshop, job: Job, tmp_path: Path
) -> None:
    test, shown = find_test("shutter"), []
    phases: tuple[Phase, ...] = ("as found", "as found", "as left")
    for seed, phase in enumerate(phases, start=1):
        scene = simulate.with_noise_db(simulate.example((1 / 64,), seed, error_stops=0.2 * seed), 48)
        (tmp_path / f"{seed}.wav").write_bytes(wav(simulate.recording(scene, seed)[0], int(scene.card.rate_hz)))
        _, here = measured(workshop, job.id, test, tmp_path / f"{seed}.wav", marked="1/60", phase=phase)
        (compared,) = recorded.comparisons(here.state.measured[-1])
        shown.append(reading_shown(compared).value)
    page = browser.get("/jobs/J1/measure")
    ((row,),) = (re.findall(r'<tr class="main">.*?</tr>', page.text, re.S),)
    assert shown[1] in row
    assert row.index(shown[1]) < row.index(shown[2])
    assert shown[0] not in row
    assert "Other readings: 1" in words(page)


def test_what_is_void_says_why_in_its_row(browser: Browser, workshop: Workshop, job: Job, tmp_path: Path) -> None:
    (tmp_path / "a.wav").write_bytes(wav(find_test("shutter").simulate(1).samples, 48_000))
    measured(workshop, job.id, find_test("shutter"), tmp_path / "a.wav", marked="1/60", phase="as left")
    now = job_now(workshop, job.id).now
    enter(workshop, job.id, Removed(at=now, part="front plate"), now=now)
    page = words(browser.get("/jobs/J1/measure"))
    assert "void ! As left: void: front plate came off after it was read. Measure it again." in page


def test_without_a_mark_the_nearest_is_called_a_guess_and_nothing_is_judged(browser: Browser, send: Send) -> None:
    entry = send(find_test("shutter"), several(), None)
    assert [(speed.marked, speed.likely, speed_read(speed).verdict) for speed in speeds(entry)] == [
        ("", "1/30", None),
        ("", "1/125", None),
    ]
    assert "perhaps 1/125" in words(browser.get("/jobs/J1/measure"))


@pytest.mark.parametrize("test", NOT_CLIPS, ids=lambda test: test.name)
def test_every_picture_is_drawn_and_told_on_the_page(browser: Browser, send: Send, test: BenchTest[Any]) -> None:
    entry = send(test, test.simulate(1), mark_for(test))
    page = browser.get("/jobs/J1/measure")
    told = test.words(record_of(entry))
    assert told
    for name, text in told.items():
        assert text in words(page)
        picture = browser.get(f"/jobs/J1/readings/{entry.id}/{name.replace(' ', '-')}.svg")
        assert picture.headers["content-type"] == "image/svg+xml"
        assert b"<svg" in picture.content
    for figure in other_figures(entry):
        assert figure.label in words(page)
        assert figure_text(figure) in words(page)
    assert browser.get(f"/jobs/J1/readings/{entry.id}/nothing.svg").status_code == 404


@pytest.mark.parametrize("test", SOUND, ids=lambda test: test.name)
def test_marks_lie_where_the_record_has_its_firings_and_lanes_hold_their_samples(test: BenchTest[Any]) -> None:
    waveform = test.simulate(1)
    drawn = Traces(waveform, reading_of(test, test.run(waveform, mark_for(test))))
    for from_s, to_s in drawn.plan.spans_s:
        assert 0 <= from_s < to_s <= waveform.n_samples / waveform.rate_hz
    for mark in drawn.plan.marks:
        assert any(from_s - 1e-9 <= mark.at_s <= to_s + 1e-9 for from_s, to_s in drawn.plan.spans_s)
    first, step, lanes = drawn.columns(0, waveform.n_samples, 700)
    assert first == 0
    for lane, (low, high) in zip(drawn.plan.lanes, lanes, strict=True):
        if lane.undoing is None:
            column = waveform.stretch(lane.i_channel, 50 * step, 51 * step)
            assert low[50] == pytest.approx(column.min(), abs=1e-6)
            assert high[50] == pytest.approx(column.max(), abs=1e-6)


def test_undone_light_at_a_sensor_passes_half_its_level_where_the_curtains_pass() -> None:
    test = find_test("curtains")
    waveform = test.simulate(1)
    record = test.run(waveform, None)
    drawn = Traces(waveform, reading_of(test, record))
    slow = max(record.firings, key=lambda shot: shot.effective.value)
    for one in slow.sensors:
        i_lane = next(
            i for i, lane in enumerate(drawn.plan.lanes) if lane.undoing and lane.i_channel == one.channel - 1
        )
        for at_s in (one.first_s, one.second_s):
            i = round(at_s * waveform.rate_hz)
            first, step, lanes = drawn.columns(i - 30, i + 30, 100)
            light = np.array(lanes[i_lane][0], float)
            assert step == 1
            assert light.min() == pytest.approx(0, abs=0.1)
            assert light.max() == pytest.approx(1, abs=0.1)
            assert np.interp(at_s * waveform.rate_hz - first, range(len(light)), light) == pytest.approx(0.5, abs=0.1)


def test_a_recording_without_a_reading_shows_each_of_its_channels() -> None:
    assert [lane.name for lane in plan(None, 2).lanes] == ["channel 1, as recorded", "channel 2, as recorded"]
    assert [lane.name for lane in plan(None, 1).lanes] == ["as recorded"]


@pytest.mark.parametrize("test", SOUND, ids=lambda test: test.name)
def test_a_refused_recording_shows_each_of_its_channels(test: BenchTest[Any]) -> None:
    record = test.run(waveform_of(np.zeros((48_000, 2))), mark_for(test))
    assert record.refused
    assert plan(reading_of(test, record), 2) == plan(None, 2)


def test_a_test_that_has_nothing_to_say_shows_each_channel(monkeypatch: pytest.MonkeyPatch) -> None:
    test = find_test("shutter")
    reading = reading_of(test, test.run(test.simulate(1), "1/60"))
    monkeypatch.setattr("camerawright.readings.traces.test_of", lambda entry: replace(test, waveform=None))
    assert plan(reading, 2) == plan(None, 2)


def test_the_lane_of_a_slow_train_is_the_channel_that_was_heard() -> None:
    """A microphone on the right channel; the left one is not connected."""
    test = find_test("escapement")
    heard = test.simulate(1).channel(0)
    both = waveform_of(np.column_stack([np.full(len(heard), 1e-4), heard]))
    drawn = Traces(both, reading_of(test, test.run(both, "1")))
    (lane,) = drawn.plan.lanes
    first, step, ((low, high),) = drawn.columns(0, both.n_samples, 700)
    assert (first, lane.undoing) == (0, None)
    for i, (lowest, highest) in enumerate(zip(low, high, strict=True)):
        column = heard[i * step : (i + 1) * step]
        assert (lowest, highest) == pytest.approx((column.min(), column.max()), abs=1e-6)


def test_a_slow_train_tells_beats_not_heard_why_no_opening_time_and_hypotheses_as_such(
    browser: Browser, send: Send
) -> None:
    """Two beats make no sound, and the shutter closes as quietly as the train ticks."""
    scene = replace(slow_train.example(1), closing_db=-20.0)
    assert scene.train is not None
    scene = replace(scene, train=replace(scene.train, silent=(15, 21), stalls=((40, 0.09),)))
    samples, _ = slow_train.recording(scene, 1)
    entry = send(find_test("escapement"), simulated(samples, scene.room.rate_hz, scene.room.bits), None)
    shown = table(entry)
    not_heard = shown.heads.index("not heard")
    assert [row[not_heard] for row in shown.rows] == ["2", "2", "2"]
    page = words(browser.get("/jobs/J1/measure"))
    record = record_of(entry)
    assert isinstance(record, EscapementRecord)
    why = record.runs[0].open_close.refused
    assert why
    assert f"{why.reason}; {why.advice}" in page
    assert any("it stands still at the same place" in text for text in record.advice)
    for text in record.advice:
        assert text in page


def test_a_reading_of_an_earlier_version_of_the_method_is_shown_without_its_pictures(
    browser: Browser, send: Send, monkeypatch: pytest.MonkeyPatch
) -> None:
    test = find_test("shutter")
    entry = send(test, test.simulate(1), "1/60")
    monkeypatch.setitem(BY_NAME, test.name, replace(test, method="another"))
    page = browser.get("/jobs/J1/measure")
    assert "earlier version of the method" in words(page)
    assert not re.search(r"readings/\w+/.*svg", page.text)
    assert browser.get(f"/jobs/J1/readings/{entry.id}/waveform.svg").status_code == 404
    assert browser.get(f"/recordings/{entry.recording}?job=J1&reading={entry.id}").status_code == 200
