"""The bench page at the gates: checks that fail, screws that turn up, parts in a bath, film that is out."""

from datetime import UTC, datetime, timedelta

from camerawright.job.entering import enter
from camerawright.job.now import job_now
from camerawright.journal.entries import IN_THE_BATH, Awaited
from camerawright.journal.state import fold
from camerawright.store.workshop import Workshop
from camerawright.workshop.rows import Job
from tests.web.conftest import Browser, words

STRIP, REFIT = "/jobs/J1/bench/strip", "/jobs/J1/bench/refit"


def test_a_check_passes_or_fails_by_name_and_says_nothing_by_itself(
    browser: Browser, workshop: Workshop, job: Job
) -> None:
    browser.fill(STRIP, "removed", part="top plate")
    browser.fill(STRIP, "hold point", part="top plate", check="flash fires at 1/25")
    check = workshop.journal(job.id)[-1]
    form = f"answered-{check.id}"
    assert browser.form(REFIT, form)["answer"] == ""
    assert browser.fill(REFIT, form).status_code == 422
    browser.fill(REFIT, form, answer="does not fire", outcome="failed")
    page = words(browser.get(REFIT))
    assert "Check: flash fires at 1/25: it failed (does not fire)" in page
    assert fold(workshop.journal(job.id)).open_promises == (check,)
    browser.fill(REFIT, form, outcome="passed")
    assert not fold(workshop.journal(job.id)).open_promises


def test_a_screw_that_turns_up_goes_in_with_one_press(browser: Browser, workshop: Workshop, job: Job) -> None:
    browser.fill(STRIP, "removed", part="strut left", fasteners="2 x M1.7 x 3 cheese", shims="1 x 0.10 left foot")
    browser.fill(REFIT, "differs", fasteners="1 x M1.7 x 3 cheese", overruled="one rolled away")
    assert fold(workshop.journal(job.id)).n_out == 1
    assert browser.fill(REFIT, "found-1").status_code == 303
    assert fold(workshop.journal(job.id)).n_out == 0


def test_a_camera_that_went_home_in_parts_owes_nothing(browser: Browser, workshop: Workshop, job: Job) -> None:
    browser.fill(STRIP, "removed", part="top plate")
    browser.fill(STRIP, "hold point", part="closing", check="infinity")
    assert browser.fill("/jobs/J1", "closed", in_parts="no spare is to be had").status_code == 303
    here = job_now(workshop, job.id)
    assert here.stage == "closed"
    assert here.owed == ()


def test_a_part_in_a_bath_does_not_arrive(browser: Browser, workshop: Workshop, job: Job) -> None:
    browser.fill(STRIP, "removed", part="shutter blades")
    at = datetime.now(UTC)
    bath = Awaited(at=at, part="shutter blades", awaiting=f"{IN_THE_BATH}naphtha", until=at + timedelta(minutes=9))
    enter(workshop, job.id, bath, now=at)
    page = browser.get(REFIT)
    assert "Out of the bath, and clean?" in words(page)
    assert "f-arrived" not in page.text
