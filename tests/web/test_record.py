"""The record page: from an input at the server to a reading, with a simulated recording in the place of the card."""

import json
import os
import re
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any
from urllib.parse import quote

import httpx
import numpy as np
import pytest
import soundfile

from camerawright.bench.setup_check.signal import signal
from camerawright.journal.entries import Measured
from camerawright.journal.state import fold
from camerawright.readings.live import Desk, Devices
from camerawright.recordings.inputs import Format, Input, NoInput, PlayedFile, Source, Take, Wanted
from camerawright.recordings.sound import Waveform
from camerawright.store.workshop import Workshop
from camerawright.workshop.rows import Job
from tests.bench.led_on_a_card import Bench as LedBench
from tests.bench.led_on_a_card import recorded
from tests.web.conftest import Browser, fields, words
from tests.web.recordings import MEASURE, WAITING, answer, recording, settled, silence, waiting

RECORD = "/jobs/J1/record"
STATE = f"{RECORD}/state.json"
LINE_IN = Input(
    name="Line In",
    system="simulated",
    formats=(Format(name="SIGNED24", bits=24, rate_hz=48_000, n_channels=0),),
)


class Card(PlayedFile):
    """A sound card that hears a file, many times as fast."""

    is_real = True


class Led:
    """An output that plays nothing."""

    def start(self) -> None:
        pass

    def stop(self) -> None:
        pass


def put_in(browser: Browser, workshop: Workshop, path: Path, speed: float = 30.0) -> None:
    """Give the application a card that hears a file."""

    def opened(name: str, wanted: Wanted) -> Source:
        card = Card(path, speed)
        card.name = name
        return card

    devices = Devices(inputs=lambda: (LINE_IN,), opened=opened, output=Led)
    browser.app.state.desk = Desk(workshop, devices)


def until(browser: Browser, is_so: Callable[[dict[str, Any]], bool], within_s: float = 15) -> dict[str, Any]:
    """Ask for the state until it is so."""
    end = time.monotonic() + within_s
    while time.monotonic() < end:
        state: dict[str, Any] = browser.get(STATE).json()
        if is_so(state):
            return state
        time.sleep(0.05)
    raise AssertionError(f"never so: {state}")


@pytest.fixture
def heard(browser: Browser, workshop: Workshop, tmp_path: Path) -> Browser:
    """A browser on a workshop whose card hears six firings."""
    (tmp_path / "heard.wav").write_bytes(recording())
    put_in(browser, workshop, tmp_path / "heard.wav")
    return browser


def _shots(reading: Measured) -> list[dict[str, Any]]:
    """The firings of a reading."""
    firings: Any = reading.result["firings"]
    return list(firings)


def start(browser: Browser, **typed: str) -> httpx.Response:
    """Press Record."""
    return browser.fill(
        RECORD, "record", **{"act": "start", "test": "shutter", "input": "Line In", "phase": "as found", **typed}
    )


def stop(browser: Browser) -> httpx.Response:
    """Press STOP, and wait until what was recorded is measured."""
    ended = browser.fill(RECORD, "stop")
    settled(browser)
    return ended


def test_firings_appear_as_they_are_fired_and_become_a_reading_with_its_recording(
    heard: Browser, workshop: Workshop, job: Job
) -> None:
    assert start(heard, marked="1/60").status_code == 303
    state = until(heard, lambda state: bool(state["is_over"]) and len(state["firings"]) >= 5)
    assert state["flags"] == []
    assert "peak" in str(state["level"])
    page = heard.get(RECORD)
    assert "STOP" in words(page)
    shown = [firing["time"] for firing in state["firings"]]
    assert all(text in words(page) for text in shown)
    ended = stop(heard)
    (reading,) = fold(workshop.journal(job.id)).measured
    assert ended.status_code == 303
    assert ended.headers["location"] in {f"{MEASURE}#r-{reading.id}", f"{MEASURE}#waiting"}  # as fast as it measured
    assert (reading.phase, reading.setup["marked"]) == ("as found", "1/60")
    assert len(_shots(reading)) == 6
    assert json.loads(json.dumps(reading.setup))["recorded"]["bits"] == 16
    played, _ = soundfile.read(workshop.folder.parent / "heard.wav", dtype="int16")
    kept, _ = soundfile.read(workshop.media(reading.recording), dtype="int16")
    assert np.array_equal(kept, played)
    assert not list((workshop.folder / "live").glob("*"))
    # what was told live agrees with the reading within the interval that it told
    for told, shot in zip(state["firings"], _shots(reading), strict=False):
        value, doubt = map(float, told["time"].removesuffix(" ms").split(" ± "))
        assert abs(value - 1e3 * shot["effective_s"]) < 2 * doubt


def test_two_recordings_at_once_are_refused_and_the_other_job_says_who_records(
    heard: Browser, workshop: Workshop, job: Job
) -> None:
    sent = heard.form(RECORD, "record")
    start(heard)
    again = heard.send("POST", RECORD, data={**sent, "act": "start", "test": "shutter", "phase": "as left"})
    assert again.status_code == 422
    assert "Stop that first" in words(again)
    stop(heard)


def test_what_cannot_be_measured_is_kept_and_can_be_measured_again_or_thrown_away(
    browser: Browser, workshop: Workshop, job: Job, tmp_path: Path
) -> None:
    (tmp_path / "silence.wav").write_bytes(silence())
    put_in(browser, workshop, tmp_path / "silence.wav")
    start(browser)
    until(browser, lambda state: bool(state["is_over"]))
    assert stop(browser).headers["location"] == f"{MEASURE}#waiting"
    page = settled(browser)
    ((file, status),) = waiting(page)
    assert status == "refused"
    assert not workshop.journal(job.id)
    assert [path.name for path in (workshop.folder / "live").glob("*.flac")] == [file]
    assert file in words(page)
    assert "1 recording to be entered" in words(browser.get(RECORD))
    at = f"/jobs/J1/waiting/{quote(file)}"
    assert f'href="{at}"' in page.text
    assert "not measured yet" in words(browser.get(at))
    n_samples = browser.get(f"{at}/about").json()["n_samples"]
    drawn = browser.get(f"{at}/envelope?start=0&stop={n_samples}&width=50").json()
    assert len(drawn["lanes"]) == 1
    assert drawn["step"] * len(drawn["lanes"][0]["low"]) >= n_samples
    assert waiting(answer(browser, file, "again", marked="1/60")) == [(file, "refused")]
    answer(browser, file, "throw away")
    assert not list((workshop.folder / "live").glob("*"))
    assert browser.get(at).status_code == 404
    gone = browser.send("POST", WAITING, data={"act": "enter", "file": "../../workshop.toml"})
    assert (gone.status_code, workshop.journal(job.id)) == (303, ())


def test_a_recording_that_was_broken_off_waits_when_the_program_begins_again(
    browser: Browser, workshop: Workshop, job: Job, tmp_path: Path
) -> None:
    folder = workshop.folder / "live"
    folder.mkdir()
    (tmp_path / "heard.wav").write_bytes(recording())
    samples, rate_hz = soundfile.read(tmp_path / "heard.wav", dtype="int16")
    soundfile.write(folder / "J1.flac", samples, rate_hz, subtype="PCM_16")
    (folder / "J1.json").write_text(
        '{"job": "J1", "test": "shutter", "phase": "as left", "marked": "1/60", "duration_s": 9.0}', encoding="utf-8"
    )
    page = settled(browser)
    assert waiting(page) == [("J1.flac", "proposed")]
    assert fields(page, "waiting-J1")["marked"] == "1/60"  # as it was told
    answer(browser, "J1.flac", "enter", marked="1/50")
    (reading,) = fold(workshop.journal(job.id)).measured
    assert (reading.phase, reading.setup["marked"]) == ("as left", "1/50")


def test_what_is_played_to_try_it_out_never_waits_to_be_entered(
    browser: Browser, workshop: Workshop, job: Job, tmp_path: Path
) -> None:
    """Neither while it is measured, nor when the program was killed meanwhile."""
    folder = workshop.folder / "live"
    folder.mkdir()
    (tmp_path / "heard.wav").write_bytes(recording())
    samples, rate_hz = soundfile.read(tmp_path / "heard.wav", dtype="int16")
    told = {"job": "J1", "test": "shutter", "phase": "as left", "marked": "1/60", "is_confirmed": True}
    more = {"is_tried": True, "input": "heard.wav", "rate_hz": rate_hz, "channels": 1, "bits": 16}
    for name in ("J1", "part-1"):
        soundfile.write(folder / f"{name}.flac", samples, rate_hz, subtype="PCM_16")
        (folder / f"{name}.json").write_text(json.dumps({**told, **more}), encoding="utf-8")
        os.utime(folder / f"{name}.flac", (0, 0))
    assert waiting(settled(browser)) == []
    assert not workshop.journal(job.id)
    assert [path.name for path in folder.glob("*.flac")] == ["J1.flac"]


def test_a_try_out_whose_marks_do_not_fit_says_so_and_leaves_nothing_waiting(
    heard: Browser, workshop: Workshop, job: Job, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("camerawright.readings.live.PlayedFile", lambda path: PlayedFile(path, 30.0))
    start(heard, marked="1/60")
    until(heard, lambda state: bool(state["is_over"]))
    stop(heard)
    (reading,) = fold(workshop.journal(job.id)).measured
    assert start(heard, input=f"try:{reading.recording}", marked="1/30, 1/60, 1/125").status_code == 303
    until(heard, lambda state: bool(state["is_over"]))
    page = stop(heard)
    assert page.status_code == 422
    assert "the measured firings show 1 speed" in words(page)
    assert "Nothing was kept: play it again" in words(page)
    assert not Desk(workshop).inbox.of(job.id)


def test_a_kept_recording_can_be_played_to_try_it_out_and_nothing_is_entered(
    heard: Browser, workshop: Workshop, job: Job
) -> None:
    start(heard, marked="1/60")
    until(heard, lambda state: bool(state["is_over"]))
    stop(heard)
    (reading,) = fold(workshop.journal(job.id)).measured
    assert start(heard, input=f"try:{reading.recording}", marked="1/60").status_code == 303
    assert "Nothing of this is entered" in words(heard.get(RECORD))
    time.sleep(0.2)
    assert not (workshop.folder / "live" / "J1.flac").exists()
    answer = stop(heard)  # broken off early: too short to be measured, and told so
    assert "nothing was entered" in words(answer)
    assert len(fold(workshop.journal(job.id)).measured) == 1
    assert not list((workshop.folder / "live").glob("*"))


def test_without_an_input_the_page_says_what_to_do(browser: Browser, workshop: Workshop, job: Job) -> None:
    browser.app.state.desk = Desk(workshop, Devices(inputs=tuple))
    assert "There is no sound input here: plug a sound card" in words(browser.get(RECORD))
    answer = browser.fill(RECORD, "record", act="start", test="shutter", phase="as found")
    assert answer.status_code == 422
    assert "choose an input" in words(answer)


def test_an_input_that_cannot_be_opened_is_told_with_its_mend(browser: Browser, workshop: Workshop, job: Job) -> None:
    def taken(name: str, wanted: Wanted) -> Source:
        raise NoInput("it cannot be opened", "close what else uses it", name)

    browser.app.state.desk = Desk(workshop, Devices(inputs=lambda: (LINE_IN,), opened=taken))
    answer = start(browser)
    assert answer.status_code == 422
    assert "Line In: it cannot be opened. Close what else uses it." in words(answer)


def test_an_input_that_does_not_begin_leaves_nothing_and_the_next_may_record(
    heard: Browser, workshop: Workshop, job: Job, tmp_path: Path
) -> None:
    class PulledOut(Card):
        def start(self, take: Take) -> None:
            raise NoInput("it does not begin", "see that it is plugged in", "Line In")

    good: Desk = heard.app.state.desk
    devices = Devices(inputs=lambda: (LINE_IN,), opened=lambda *_: PulledOut(tmp_path / "heard.wav"), output=Led)
    heard.app.state.desk = Desk(workshop, devices)
    assert "See that it is plugged in" in words(start(heard))
    assert browser_is_idle(heard)
    assert not list((workshop.folder / "live").glob("*"))
    heard.app.state.desk = good
    assert start(heard).status_code == 303
    stop(heard)


@pytest.mark.parametrize("typed", [{"marked": "quick"}, {"test": "none such"}, {"phase": "whenever"}])
def test_what_is_no_order_is_refused_before_anything_is_recorded(
    heard: Browser, workshop: Workshop, job: Job, typed: dict[str, str]
) -> None:
    assert start(heard, **typed).status_code == 422
    assert browser_is_idle(heard)
    assert not list(workshop.folder.glob("live/*"))


def browser_is_idle(browser: Browser) -> bool:
    """Whether nothing is being recorded."""
    return not browser.get(STATE).json()["is_running"]


def test_the_set_up_check_tells_what_the_led_showed(
    browser: Browser, workshop: Workshop, job: Job, tmp_path: Path
) -> None:
    played = signal()
    seen = recorded(LedBench(), [(each.at_s, each.width_s) for each in played.pulses], played.duration_s)
    assert isinstance(seen, Waveform)
    soundfile.write(tmp_path / "led.wav", seen.samples, 48_000, subtype="PCM_24")
    put_in(browser, workshop, tmp_path / "led.wav", speed=20)
    assert start(browser, act="check").status_code == 303
    assert "Checking the set-up" in words(browser.get(RECORD))
    until(browser, lambda state: not state["is_running"])
    page = words(browser.get(RECORD))
    assert "✓ Fit: the chain rises in" in page
    assert re.search(r"AC coupled at (7\.99\d|8\.00\d) ± 0\.00\d Hz and 0\.(800|799)", page)
    assert not list((workshop.folder / "live").glob("*"))


def test_a_kept_recording_of_the_check_needs_no_output(
    browser: Browser, workshop: Workshop, job: Job, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("camerawright.readings.live.PlayedFile", lambda path: PlayedFile(path, 20.0))

    def no_output() -> Led:
        raise NoInput("no sound output is there", "plug one in", "output")

    browser.app.state.desk = Desk(workshop, Devices(inputs=lambda: (LINE_IN,), output=no_output))
    assert "no sound output" in words(start(browser, act="check"))
    played = signal()
    seen = recorded(LedBench(), [(each.at_s, each.width_s) for each in played.pulses], played.duration_s)
    soundfile.write(tmp_path / "led.wav", seen.samples, 48_000, subtype="PCM_24")
    kept = workshop.keep(tmp_path / "led.wav", suffix=".wav")
    assert start(browser, act="check", input=f"try:{kept}").status_code == 303
    until(browser, lambda state: not state["is_running"])
    assert "✓ Fit: the chain rises in" in words(browser.get(RECORD))
