"""What a test wants to be told, on the measure and record pages."""

import json
import time
from pathlib import Path

import httpx
import numpy as np
import pytest

from camerawright.bench.catalogue import CATALOGUE, find_test
from camerawright.job.entering import enter
from camerawright.job.now import job_now
from camerawright.journal.entries import Measured, Removed
from camerawright.journal.state import fold
from camerawright.readings.live import Desk, Devices
from camerawright.readings.measuring import measured
from camerawright.readings.set_up import SetUp, told_of
from camerawright.recordings.inputs import Source, Wanted
from camerawright.store.workshop import Workshop
from camerawright.workshop.rows import Job
from tests.recordings.films import write_film
from tests.web.conftest import Browser, fields, words
from tests.web.recordings import answer, send, settled, waiting, wav
from tests.web.test_record import LINE_IN, Led, put_in, start, stop, until

MEASURE = "/jobs/J1/measure"
RECORD = "/jobs/J1/record"


def _wav(test: str, seed: int = 1) -> bytes:
    waveform = find_test(test).simulate(seed)
    channels = np.column_stack([waveform.channel(i) for i in range(waveform.n_channels)])
    return wav(channels.astype(np.float32), int(waveform.rate_hz))


def _enter(browser: Browser, test: str, data: bytes, marked: str = "", **typed: str) -> httpx.Response:
    """Send a recording, and enter it with its mark."""
    page = send(browser, data, **{"test": test, **typed})
    for file, status in waiting(page):
        assert status == "proposed", words(page)
        page = answer(browser, file, "enter", **({"marked": marked} if marked else {}))
    return page


def _last(workshop: Workshop, job: Job) -> Measured:
    return fold(workshop.journal(job.id)).measured[-1]


def test_both_pages_ask_for_every_option_of_every_test(browser: Browser, job: Job) -> None:
    for path, form in ((MEASURE, "measure"), (RECORD, "record")):
        page = browser.get(path)
        asked = fields(page, form)
        for test in CATALOGUE if path == MEASURE else [each for each in CATALOGUE if each.medium.kind == "sound"]:
            for option in test.options:
                assert asked[f"{test.name}.{option.name}"] == ""
                assert option.label in words(page)
                assert option.about[1:] in words(page)
                assert option.choices or f'placeholder="{option.example}"' in page.text


def test_what_was_told_is_kept_and_fills_the_next_form_in(browser: Browser, workshop: Workshop, job: Job) -> None:
    told = {"words": "lens f/3.5", "curtains.gate": "36", "curtains.placed": "0.5", "sync.contact": "X"}
    assert not waiting(_enter(browser, "curtains", _wav("curtains"), "1/500", **told))
    assert told_of(_last(workshop, job)).options == {"gate": "36", "placed": "0.5"}
    assert "lens f/3.5; gate 36 mm; placed 0.5 mm" in words(browser.get(MEASURE))
    for path, form in ((MEASURE, "measure"), (RECORD, "record")):
        next_one = browser.form(path, form)
        assert next_one["test"] == "curtains"
        assert (next_one["curtains.placed"], next_one["sync.contact"]) == ("0.5", "")
        assert next_one["words"] == "lens f/3.5"


@pytest.mark.parametrize(
    ("test", "field", "text", "message"),
    [
        ("curtains", "curtains.gate", "wide", "give one number of millimetres from"),
        ("curtains", "curtains.at", "2,18", "one place for each"),
        ("sync", "sync.skew_us", "late", "is no number; give a number from −1000 to 1000"),
        ("shutter", "marked", "quick", "quick"),
        ("shutter", "marked", "1/60, 1/60", "twice"),
    ],
)
def test_what_cannot_be_understood_is_said_at_its_field_and_what_was_typed_stays(
    browser: Browser, workshop: Workshop, job: Job, test: str, field: str, text: str, message: str
) -> None:
    page = send(browser, _wav(test), test=test, **{field: text})
    ((file, _),) = waiting(page)
    form = f"waiting-{file.removesuffix('.wav')}"
    if field == "marked":
        page = answer(browser, file, "enter", marked=text)
    at_field = page.text.split(f'id="{form}-{field}-error"')[1].split("</p>")[0]
    assert message in at_field
    again = fields(page, form)
    assert (again[field], again["test"]) == (text, test)
    assert not workshop.journal(job.id)


def test_the_same_recording_told_otherwise_is_another_reading(browser: Browser, workshop: Workshop, job: Job) -> None:
    for gate in ("36", "36", "35.5"):
        for file, status in waiting(_enter(browser, "curtains", _wav("curtains"), **{"curtains.gate": gate})):
            assert status == "refused"
            answer(browser, file, "throw away")
    assert [told_of(each).options["gate"] for each in fold(workshop.journal(job.id)).measured] == ["36", "35.5"]


def test_an_input_that_is_named_is_remembered(browser: Browser, workshop: Workshop, job: Job) -> None:
    _enter(browser, "shutter", _wav("shutter"), **{"shutter.input": "line in of the old laptop"})
    page = browser.get(MEASURE)
    assert fields(page, "measure")["shutter.input"] == "line in of the old laptop"
    assert '<option value="line in of the old laptop">' in page.text
    _enter(browser, "shutter", _wav("shutter", 2), **{"shutter.input": "Line in of the old laptop"})
    assert "The AC coupling of the input was known from 1 earlier recording." in words(browser.get(MEASURE))


def test_a_clip_can_be_sent_and_the_record_page_leads_there(
    browser: Browser, workshop: Workshop, job: Job, tmp_path: Path
) -> None:
    assert f"{MEASURE}?test=footage" in browser.get(RECORD).text
    page = browser.get(f"{MEASURE}?test=footage")
    assert fields(page, "measure")["test"] == "footage"
    assert "video/*" in page.text
    dark = np.full((40, 48, 64), 40, np.uint8)
    clip = write_film(tmp_path / "dark.mp4", dark, np.arange(40) / 240)
    page = send(browser, ("dark.mp4", clip.read_bytes()), test="footage")
    assert [status for _, status in waiting(page)] == ["refused"]
    assert "dark.mp4" in words(page)


def test_a_void_reading_is_in_no_table(browser: Browser, workshop: Workshop, job: Job, tmp_path: Path) -> None:
    (tmp_path / "a.wav").write_bytes(_wav("shutter"))
    test = find_test("shutter")
    measured(workshop, job.id, test, tmp_path / "a.wav", marked="1/60", phase="as left", setup=SetUp())
    assert "leaf shutter by light" in words(browser.get("/jobs/J1")).casefold()
    assert browser.get("/jobs/J1/cards/shutter.png").status_code == 200
    now = job_now(workshop, job.id).now
    enter(workshop, job.id, Removed(at=now, part="front plate"), now=now)
    assert "leaf shutter by light" not in words(browser.get("/jobs/J1")).casefold()
    assert browser.get("/jobs/J1/cards/shutter.png").status_code == 404
    assert "void: front plate came off after it was read" in words(browser.get(MEASURE))


# -- recorded at the machine -------------------------------------------------------------------------------------------


def test_what_was_told_before_a_recording_is_kept_with_it(
    browser: Browser, workshop: Workshop, job: Job, tmp_path: Path
) -> None:
    (tmp_path / "heard.wav").write_bytes(_wav("shutter"))
    put_in(browser, workshop, tmp_path / "heard.wav")
    assert start(browser, **{"marked": "1/60", "shutter.sensor": "phototransistor"}).status_code == 303
    assert "sensor phototransistor" in words(browser.get(RECORD))
    until(browser, lambda state: bool(state["is_over"]))
    time.sleep(0.1)
    stop(browser)
    reading = _last(workshop, job)
    assert told_of(reading) == SetUp(options={"sensor": "phototransistor"}, input="Line In")
    assert json.loads(json.dumps(reading.result))["input"]["sensor"] == "phototransistor"


@pytest.mark.parametrize(
    ("typed", "field"),
    [
        ({"test": "sync", "channels": "2", "sync.skew_us": "late"}, "sync.skew_us"),
        ({"test": "curtains", "channels": "2", "curtains.at": "2,18,34"}, "curtains.at"),
        ({"marked": "quick"}, "marked"),
    ],
)
def test_what_cannot_be_understood_is_said_at_its_field_before_anything_is_recorded(
    browser: Browser, workshop: Workshop, job: Job, typed: dict[str, str], field: str
) -> None:
    opened: list[str] = []

    def open_it(name: str, wanted: Wanted) -> Source:
        opened.append(name)
        raise AssertionError

    browser.app.state.desk = Desk(workshop, Devices(inputs=lambda: (LINE_IN,), opened=open_it, output=Led))
    refused = start(browser, **typed)
    assert refused.status_code == 422
    assert f'id="record-{field}-error"' in refused.text
    assert fields(refused, "record")[field] == typed[field]
    assert not opened


def test_too_few_channels_are_said_at_their_field(browser: Browser, workshop: Workshop, job: Job) -> None:
    browser.app.state.desk = Desk(workshop, Devices(inputs=lambda: (LINE_IN,)))
    refused = start(browser, test="curtains", channels="1")
    assert refused.status_code == 422
    assert "Focal plane by light needs 2 or more" in words(refused)


def test_a_recording_that_waits_can_be_told_otherwise(
    browser: Browser, workshop: Workshop, job: Job, tmp_path: Path
) -> None:
    """Two marks for firings of one speed: only the whole recording shows it, and it is kept."""
    (tmp_path / "heard.wav").write_bytes(_wav("shutter"))
    put_in(browser, workshop, tmp_path / "heard.wav")
    start(browser, marked="1/60, 1/30", **{"shutter.sensor": "phototransistor"})
    until(browser, lambda state: bool(state["is_over"]))
    ended = stop(browser)
    assert (ended.status_code, ended.headers["location"]) == (303, f"{MEASURE}#waiting")
    page = settled(browser)
    (file,) = [path.name for path in (workshop.folder / "live").glob("*.flac")]
    form = f"waiting-{file.removesuffix('.flac')}"
    told = fields(page, form)
    assert (told["marked"], told["shutter.sensor"]) == ("1/60, 1/30", "phototransistor")
    assert f'id="{form}-marked-error"' in answer(browser, file, "enter").text
    answer(browser, file, "enter", **{"marked": "1/60", "shutter.sensor": ""})
    reading = _last(workshop, job)
    assert (reading.setup["marked"], told_of(reading).options) == ("1/60", {})


def test_a_played_recording_brings_its_own_channels(
    browser: Browser, workshop: Workshop, job: Job, tmp_path: Path
) -> None:
    _enter(browser, "sync", _wav("sync"), "1/60")
    put_in(browser, workshop, tmp_path / "none.wav")
    tried = start(browser, test="sync", input=f"try:{_last(workshop, job).recording}", channels="1")
    assert tried.status_code == 303
    stop(browser)
