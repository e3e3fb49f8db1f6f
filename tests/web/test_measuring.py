"""Recordings in by the page: readings, or the reason why not."""

from functools import partial
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from camerawright.bench.shutter import simulate
from camerawright.job.entering import enter, moment_after
from camerawright.job.now import job_now
from camerawright.journal.entries import Adjusted, AidFitted, Closed, HandedBack
from camerawright.journal.state import fold
from camerawright.readings import inbox, measuring
from camerawright.readings.inbox import Inbox
from camerawright.readings.recorded import comparisons
from camerawright.readings.rows import reading_shown
from camerawright.recordings.sound import simulated
from camerawright.store.workshop import Workshop
from camerawright.trouble import Stale
from camerawright.web.app import create_app
from camerawright.workshop.rows import Job
from tests.web.conftest import Browser, fields, words
from tests.web.recordings import (
    MEASURE,
    TEST,
    WAITING,
    answer,
    measure,
    recording,
    send,
    settled,
    silence,
    waiting,
    wav,
)


def two_speeds() -> bytes:
    """Four firings at each of 1/30 and 1/125."""
    scene = simulate.with_noise_db(simulate.example((1 / 32, 1 / 128), 5, error_stops=0.1, firings=4), 48)
    samples, _ = simulate.recording(scene, 5)
    return wav(np.asarray(samples, np.float32), int(scene.card.rate_hz))


def test_a_recording_becomes_a_reading_with_its_verdict_and_picture(
    browser: Browser, workshop: Workshop, job: Job
) -> None:
    measure(browser, recording(), "1/60")
    (reading,) = fold(workshop.journal(job.id)).measured
    assert (reading.phase, reading.setup["marked"], reading.setup["file"]) == ("as found", "1/60", "fire 1.wav")
    (compared,) = comparisons(reading)
    shown = reading_shown(compared)
    for page in (browser.get(MEASURE), browser.get("/jobs/J1")):
        assert shown.value in words(page)
        assert shown.verdict is not None
        assert shown.verdict in words(page)
    card = browser.get(f"/jobs/J1/cards/{TEST.name}.png")
    assert card.headers["content-type"] == "image/png"
    assert card.content.startswith(b"\x89PNG")
    assert not list((workshop.folder / "live").glob("*"))


def test_without_a_mark_the_nearest_is_proposed_and_nothing_is_entered_before_it_is_confirmed(
    browser: Browser, workshop: Workshop, job: Job
) -> None:
    page = send(browser, recording(), two_speeds())
    (one, _), (two, _) = waiting(page)
    assert [status for _, status in waiting(page)] == ["proposed", "proposed"]
    assert not workshop.journal(job.id)
    told = [fields(page, f"waiting-{file.removesuffix('.wav')}")["marked"] for file in (one, two)]
    assert told == ["1/50", "1/30, 1/125"]  # the simulator's tired 1/60 gives 1/51
    assert "6 firings, about 1/5" in words(page)
    assert "8 firings of 2 speeds" in words(page)
    answer(browser, two, "enter")
    answer(browser, one, "enter")
    marks = [entry.setup["marked"] for entry in fold(workshop.journal(job.id)).measured]
    assert marks == ["1/30, 1/125", "1/50"]


def test_a_mark_that_this_camera_has_is_proposed_before_any_other(browser: Browser, job: Job) -> None:
    """The dial has 1/60, and a third of a stop slow it gives 1/51: as near to 1/50, which is on no such dial."""
    measure(browser, recording(1), "1/60")
    page = send(browser, recording(2))
    ((file, _),) = waiting(page)
    assert fields(page, f"waiting-{file.removesuffix('.wav')}")["marked"] == "1/60"


def test_a_wrong_mark_is_asked_about_before_it_is_entered(browser: Browser, workshop: Workshop, job: Job) -> None:
    """Six firings of about 1/51, two stops from 1/250."""
    page = measure(browser, recording(), "1/250")
    ((file, status),) = waiting(page)
    assert status == "asked"
    assert not workshop.journal(job.id)
    assert "1/250 was given, and the firings give about 1/5" in words(page)
    assert "stops slower. Is the mark right?" in words(page)
    assert fields(page, f"waiting-{file.removesuffix('.wav')}")["marked"] == "1/50"
    answer(browser, file, "enter", marked="1/60")
    (reading,) = fold(workshop.journal(job.id)).measured
    assert reading.setup["marked"] == "1/60"


def test_a_mark_that_somebody_is_sure_of_is_entered_though_it_is_far_off(
    browser: Browser, workshop: Workshop, job: Job
) -> None:
    ((file, _),) = waiting(measure(browser, recording(), "1/250"))
    answer(browser, file, "sure", marked="1/500")  # another mark than the one that was asked about
    assert not workshop.journal(job.id)
    answer(browser, file, "sure", marked="1/500")
    (reading,) = fold(workshop.journal(job.id)).measured
    assert reading.setup["marked"] == "1/500"
    assert "is the mark right?" in words(browser.get(MEASURE))


def test_a_reading_as_left_with_an_aid_in_is_entered_with_a_reason(
    browser: Browser, workshop: Workshop, job: Job
) -> None:
    now = moment_after(job_now(workshop, job.id))
    enter(workshop, job.id, AidFitted(at=now, aid="tape on the release"), now=now)
    ((file, _),) = waiting(send(browser, recording(), phase="as left"))
    page = answer(browser, file, "enter", marked="1/60")
    assert "as left, with the aid tape on the release still in" in words(page)
    assert not fold(workshop.journal(job.id)).measured
    answer(browser, file, "enter", marked="1/60", overruled="it holds the pendulum")
    (reading,) = fold(workshop.journal(job.id)).measured
    assert reading.overruled == "it holds the pendulum"


def test_a_recording_sent_twice_is_one_reading(browser: Browser, workshop: Workshop, job: Job) -> None:
    send(browser, recording())
    assert len(waiting(send(browser, recording()))) == 1
    ((file, _),) = waiting(browser.get(MEASURE))
    answer(browser, file, "enter", marked="1/60")
    page = measure(browser, recording(), "1/60")
    assert "it was measured so already, and is the reading" in words(page).casefold()
    assert len(fold(workshop.journal(job.id)).measured) == 1


def test_a_recording_of_the_camera_as_found_is_none_of_it_as_left(
    browser: Browser, workshop: Workshop, job: Job
) -> None:
    measure(browser, recording(), "1/60")
    page = send(browser, recording(), phase="as left")
    assert [status for _, status in waiting(page)] == ["refused"]
    assert "This recording is the reading" in words(page)
    assert "ecord the camera as left" in words(page)
    assert len(fold(workshop.journal(job.id)).measured) == 1


def test_what_a_turn_did_and_the_next_one_stand_on_the_page(browser: Browser, workshop: Workshop, job: Job) -> None:
    """Before and after a quarter of a turn: the difference over the turn is what a whole one does."""
    measure(browser, recording(1), "1/50")
    assert "Next:" not in words(browser.get(MEASURE))
    now = moment_after(job_now(workshop, job.id))
    turn = Adjusted(at=now, adjuster="retard lever", after="in", turns=0.25, test=TEST.name, marked="1/50")
    enter(workshop, job.id, turn, now=now)
    assert fields(browser.get(MEASURE), "measure")["phase"] == "as left"
    measure(browser, recording(2), "1/50", phase="as left")
    before, after = (
        compared.mean.value for reading in fold(workshop.journal(job.id)).measured for compared in comparisons(reading)
    )
    said = words(browser.get(MEASURE))
    per_turn = f"{(after - before) / 0.25:+.2f}".replace("-", "−")
    assert f"A turn: {per_turn} ±" in said
    assert "Next:" in said


def test_what_cannot_be_measured_says_why_and_what_to_do_instead_and_is_not_entered(
    browser: Browser, workshop: Workshop, job: Job
) -> None:
    page = send(browser, silence(), phase="as left")
    ((file, status),) = waiting(page)
    assert status == "refused"
    assert "fire 1.wav" in words(page)
    refused = TEST.run(simulated(np.zeros(48_000), 48_000.0, 16)).refused
    assert refused
    assert refused.reason in words(page).replace("The ", "the ")
    assert refused.advice in words(page)
    assert fields(page, f"waiting-{file.removesuffix('.wav')}")["phase"] == "as left"
    assert not workshop.journal(job.id)
    assert not [path for path in (workshop.folder / "media").rglob("*") if path.is_file()]
    answer(browser, file, "throw away")
    assert not list((workshop.folder / "live").glob("*"))


def test_what_is_no_recording_is_refused_by_name_whatever_its_name(
    browser: Browser, workshop: Workshop, job: Job, tmp_path: Path
) -> None:
    page = send(browser, ("../../..\\evil.wav", b"not sound"), ("cut.wav", recording()[:30]))
    assert [status for _, status in waiting(page)] == ["refused", "refused"]
    assert "evil.wav" in words(page)
    assert "cut.wav" in words(page)
    assert not list(tmp_path.rglob("evil.wav"))
    assert not workshop.journal(job.id)


@pytest.mark.parametrize("name", ["fire.json", "fire", "fire.a b c", ".wav", "fire.WAV"])
def test_a_recording_is_taken_by_what_it_holds_not_by_its_name(
    browser: Browser, workshop: Workshop, job: Job, name: str
) -> None:
    ((file, status),) = waiting(send(browser, (name, recording())))
    assert status == "proposed"
    answer(browser, file, "enter")
    (reading,) = fold(workshop.journal(job.id)).measured
    assert reading.setup["file"] == name
    assert not list((workshop.folder / "live").glob("*"))


def test_a_button_that_is_pressed_twice_enters_once(browser: Browser, workshop: Workshop, job: Job) -> None:
    page = send(browser, recording())
    ((file, _),) = waiting(page)
    form = fields(page, f"waiting-{file.removesuffix('.wav')}")
    for _ in range(2):
        assert browser.send("POST", WAITING, data={**form, "act": "enter"}).status_code == 303
    settled(browser)
    assert len(fold(workshop.journal(job.id)).measured) == 1


def test_another_entry_that_is_faster_keeps_no_reading_out(
    browser: Browser, workshop: Workshop, job: Job, monkeypatch: pytest.MonkeyPatch
) -> None:
    ((file, _),) = waiting(send(browser, recording()))
    enter_it, stale = measuring.entered, [1, 2]

    def entered(*given: Any, **more: Any) -> Any:
        if stale:
            stale.pop()
            raise Stale("it has 1 entry by now, not 0", "look at it again, then do it again", "the journal of J1")
        return enter_it(*given, **more)

    monkeypatch.setattr(inbox, "entered", entered)
    answer(browser, file, "enter")
    assert len(fold(workshop.journal(job.id)).measured) == 1
    assert not stale


def test_a_camera_that_is_handed_back_takes_no_recording(browser: Browser, workshop: Workshop, job: Job) -> None:
    """What waited meanwhile is not entered either."""
    ((file, _),) = waiting(send(browser, recording(1)))
    for made in (Closed, partial(HandedBack, to="Ines Marrow")):
        now = moment_after(job_now(workshop, job.id))
        enter(workshop, job.id, made(at=now, overruled="nothing came off"), now=now)
    assert send(browser, recording(2)).status_code == 422
    answer(browser, file, "enter")
    assert not fold(workshop.journal(job.id)).measured


def test_a_mark_that_is_no_speed_comes_back(browser: Browser, workshop: Workshop, job: Job) -> None:
    page = measure(browser, recording(), "quick")
    ((file, _),) = waiting(page)
    at_field = page.text.split(f'id="waiting-{file.removesuffix(".wav")}-marked-error"')[1].split("</p>")[0]
    assert "quick" in at_field
    assert not workshop.journal(job.id)


def test_marks_parted_by_spaces_are_told_of_commas(browser: Browser, workshop: Workshop, job: Job) -> None:
    page = measure(browser, recording(), "1/8 1/30 1/60")
    assert "for several speeds, list them all: 1/30, 1/60" in words(page)
    ((file, _),) = waiting(page)
    assert "list them all" not in words(answer(browser, file, "enter", marked="quick"))
    assert not workshop.journal(job.id)


def test_without_a_recording_the_page_says_so(browser: Browser, job: Job) -> None:
    page = send(browser)
    assert page.status_code == 422
    assert "choose at least one recording" in words(page)


def test_what_waits_is_measured_anew_when_the_program_begins_again(
    browser: Browser, workshop: Workshop, job: Job
) -> None:
    """Sent to one program, confirmed in the next: what is told about a recording stands beside it."""
    ((file, _),) = waiting(send(browser, recording(), words="lens f/3.5"))
    again = Browser(create_app(workshop))
    assert [each["status"] for each in again.get(f"{WAITING}.json").json()["waiting"]] == ["measuring"]
    page = settled(again)
    assert waiting(page) == [(file, "proposed")]
    answer(again, file, "enter")
    (reading,) = fold(workshop.journal(job.id)).measured
    assert (reading.setup["words"], reading.setup["file"]) == ("lens f/3.5", "fire 1.wav")


def test_how_far_measuring_has_come_is_told(
    browser: Browser, workshop: Workshop, job: Job, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Measuring is held at the first firing: the part that was read lies between nothing and the whole."""
    import threading

    reached, go_on = threading.Event(), threading.Event()
    stretch = Inbox._follow

    def follow(inbox: Inbox, read: object) -> object:
        followed = stretch(inbox, read)
        plain = followed.stretch

        def held(i_channel: int, start: int, stop: int) -> object:
            out = plain(i_channel, start, stop)
            if start > 0:
                reached.set()
                go_on.wait(10)
            return out

        followed.stretch = held
        return followed

    monkeypatch.setattr(Inbox, "_follow", follow)
    monkeypatch.setattr("camerawright.web.pages.measure.SETTLE_S", 0.01)
    sent = [("recordings", ("long.wav", recording()))]
    assert browser.fill(MEASURE, "measure", files=sent, phase="as found").status_code == 303
    assert reached.wait(10)
    (told,) = browser.get(f"{WAITING}.json").json()["waiting"]
    assert told["status"] == "measuring"
    assert 0 < told["part"] < 1
    assert "You can leave this page and come back" in words(browser.get(MEASURE))
    go_on.set()
    assert [status for _, status in waiting(settled(browser))] == ["proposed"]


def test_a_fault_of_the_program_leaves_the_recording_and_says_so(
    browser: Browser, workshop: Workshop, job: Job, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("camerawright.readings.inbox.tried", lambda *_, **__: 1 / 0)
    page = send(browser, recording())
    assert "The program made a mistake here" in words(page)
    ((file, status),) = waiting(page)
    assert status == "refused"
    monkeypatch.undo()
    assert [each for _, each in waiting(answer(browser, file, "again"))] == ["proposed"]
