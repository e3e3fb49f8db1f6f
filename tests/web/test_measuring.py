"""Recordings in by the page: readings, or the reason why not."""

from pathlib import Path

import httpx

from camerawright.job.entering import enter, moment_after
from camerawright.job.now import job_now
from camerawright.journal.entries import Adjusted
from camerawright.journal.state import fold
from camerawright.readings.recorded import comparisons
from camerawright.readings.rows import reading_shown
from camerawright.store.workshop import Workshop
from camerawright.workshop.rows import Job
from tests.web.conftest import Browser, fields, words
from tests.web.recordings import TEST, recording, silence

MEASURE = "/jobs/J1/measure"


def _send(browser: Browser, *files: bytes, **typed: str) -> httpx.Response:
    sent = {f"recording_{n}": (f"fire {n}.wav", data) for n, data in enumerate(files, start=1)}
    return browser.fill(MEASURE, "measure", files=sent, **typed)


def test_a_recording_becomes_a_reading_with_its_verdict_and_picture(
    browser: Browser, workshop: Workshop, job: Job
) -> None:
    answer = _send(browser, recording(), marked_1="1/60", phase="as found")
    assert (answer.status_code, answer.headers["location"]) == (303, f"{MEASURE}#readings")
    (reading,) = fold(workshop.journal(job.id)).measured
    assert (reading.phase, reading.setup["marked"]) == ("as found", "1/60")
    (compared,) = comparisons(reading)
    shown = reading_shown(compared)
    for page in (browser.get(MEASURE), browser.get("/jobs/J1")):
        assert shown.value in words(page)
        assert shown.verdict is not None
        assert shown.verdict in words(page)
    card = browser.get(f"/jobs/J1/cards/{TEST.name}.png")
    assert card.headers["content-type"] == "image/png"
    assert card.content.startswith(b"\x89PNG")


def test_a_recording_sent_twice_is_one_reading(browser: Browser, workshop: Workshop, job: Job) -> None:
    for _ in range(2):
        assert _send(browser, recording(), marked_1="1/60", phase="as found").status_code == 303
    assert len(fold(workshop.journal(job.id)).measured) == 1


def test_a_recording_of_the_camera_as_found_is_none_of_it_as_left(
    browser: Browser, workshop: Workshop, job: Job
) -> None:
    _send(browser, recording(), marked_1="1/60", phase="as found")
    answer = _send(browser, recording(), marked_1="1/60", phase="as left")
    assert answer.status_code == 422
    assert "fire 1.wav at 1/60: this recording is the reading" in words(answer)
    assert "ecord the camera as left" in words(answer)
    assert len(fold(workshop.journal(job.id)).measured) == 1


def test_what_a_turn_did_and_the_next_one_stand_on_the_page(browser: Browser, workshop: Workshop, job: Job) -> None:
    """Before and after a quarter of a turn: the difference over the turn is what a whole one does."""
    _send(browser, recording(1), marked_1="1/50", phase="as found")
    assert "Next:" not in words(browser.get("/jobs/J1/measure"))
    now = moment_after(job_now(workshop, job.id))
    turn = Adjusted(at=now, adjuster="retard lever", after="in", turns=0.25, test=TEST.name, marked="1/50")
    enter(workshop, job.id, turn, now=now)
    page = browser.get("/jobs/J1/measure")
    assert fields(page, "measure")["phase"] == "as left"
    _send(browser, recording(2), marked_1="1/50", phase="as left")
    before, after = (
        compared.mean.value for reading in fold(workshop.journal(job.id)).measured for compared in comparisons(reading)
    )
    said = words(browser.get("/jobs/J1/measure"))
    per_turn = f"{(after - before) / 0.25:+.2f}".replace("-", "−")
    assert f"A turn: {per_turn} ±" in said
    assert "Next:" in said


def test_several_marked_speeds_go_in_at_once(browser: Browser, workshop: Workshop, job: Job) -> None:
    _send(browser, recording(1), recording(2), marked_1="1/60", marked_2="1/50", phase="as found")
    assert {entry.setup["marked"] for entry in fold(workshop.journal(job.id)).measured} == {"1/60", "1/50"}


def test_what_cannot_be_measured_says_why_and_what_to_do_instead_and_is_not_entered(
    browser: Browser, workshop: Workshop, job: Job
) -> None:
    answer = _send(browser, silence(), marked_1="1/60", phase="as left")
    assert answer.status_code == 422
    (problem,) = [line for line in words(answer).split("Not entered") if "fire 1.wav" in line]
    assert "at 1/60" in problem
    back = fields(answer, "measure")
    assert (back["marked_1"], back["phase"]) == ("1/60", "as left")
    assert not workshop.journal(job.id)
    assert not [path for path in (workshop.folder / "media").rglob("*") if path.is_file()]


def test_what_is_no_recording_is_refused_by_name_whatever_its_name(
    browser: Browser, workshop: Workshop, job: Job, tmp_path: Path
) -> None:
    files = {"recording_1": ("../../..\\evil.wav", b"not sound"), "recording_2": ("cut.wav", recording()[:30])}
    answer = browser.fill(MEASURE, "measure", files=files, phase="as found")
    assert answer.status_code == 422
    assert "evil.wav" in words(answer)
    assert "cut.wav" in words(answer)
    assert not list(tmp_path.rglob("evil.wav"))
    assert not workshop.journal(job.id)


def test_a_mark_that_is_no_speed_comes_back(browser: Browser, workshop: Workshop, job: Job) -> None:
    answer = _send(browser, recording(), marked_1="quick", phase="as found")
    assert answer.status_code == 422
    assert "quick" in words(answer)
    assert not workshop.journal(job.id)


def test_marks_parted_by_spaces_are_told_of_commas(browser: Browser, workshop: Workshop, job: Job) -> None:
    answer = _send(browser, recording(), marked_1="1/8 1/30 1/60", phase="as found")
    assert answer.status_code == 422
    assert "for several speeds, list them all: 1/30, 1/60" in words(answer)
    assert "list them all" not in words(_send(browser, recording(), marked_1="quick", phase="as found"))
    assert not workshop.journal(job.id)


def test_without_a_recording_the_page_says_so(browser: Browser, job: Job) -> None:
    assert "choose at least one recording" in words(browser.fill(MEASURE, "measure", phase="as found"))
