"""A part that nobody named before is a question on the page: it was another one, or it is new."""

from camerawright.journal.entries import HoldPoint, Reminded
from camerawright.store.workshop import Workshop
from camerawright.workshop.rows import Job
from tests.web.conftest import Browser, words

STRIP = "/jobs/J1/bench/strip"


def test_what_was_meant_is_one_press_away_and_so_is_new(browser: Browser, workshop: Workshop, job: Job) -> None:
    browser.fill(STRIP, "removed", part="speed dial")
    refused = browser.fill(STRIP, "reminded", part="speed dail", todo="ball first")
    assert "no part was called “speed dail” before" in words(refused)
    assert "I meant speed dial" in words(refused)
    assert "“speed dail” is new" in words(refused)
    form = {"kind": "reminded", "form": "reminded", "id": "0" * 32, "part": "speed dail", "todo": "ball first"}
    meant = browser.send("POST", STRIP, data={**form, "meant": "speed dail = speed dial"})
    assert meant.status_code == 303
    new = browser.send("POST", STRIP, data={**form, "id": "1" * 32, "is_new": "yes"})
    assert new.status_code == 303
    reminders = [each for each in workshop.journal(job.id) if isinstance(each, Reminded)]
    assert [(each.part, each.is_new) for each in reminders] == [("speed dial", False), ("speed dail", True)]


def test_one_of_several_names_is_put_right_and_the_others_stay(browser: Browser, workshop: Workshop, job: Job) -> None:
    browser.fill(STRIP, "removed", part="shutter")
    browser.fill(STRIP, "removed", part="flash lead")
    form = {
        "kind": "hold point",
        "form": "hold point",
        "id": "0" * 32,
        "check": "fires",
        "needs": "shutter, flash laed",
    }
    assert "I meant flash lead" in words(browser.send("POST", STRIP, data=form))
    assert browser.send("POST", STRIP, data={**form, "meant": "flash laed = flash lead"}).status_code == 303
    check = workshop.journal(job.id)[-1]
    assert isinstance(check, HoldPoint)
    assert check.needs == ("shutter", "flash lead")
