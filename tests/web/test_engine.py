"""The engine on the bench page: states, springs, loose parts, the ladder, checks, and corrections."""

from datetime import UTC, datetime, timedelta

import pytest

from camerawright.journal.entries import ENTRY, Entry, Refitted, Removed, Tension, Tried
from camerawright.journal.state import fold
from camerawright.store.workshop import Workshop
from camerawright.workshop.rows import Job
from tests.web.conftest import Browser, fields, words

STRIP, REFIT = "/jobs/J1/bench/strip", "/jobs/J1/bench/refit"
NOW = datetime(2026, 3, 2, 9, tzinfo=UTC)


def put(workshop: Workshop, job: Job, kind: str, **more: object) -> Entry:
    """Into the journal, past the rules: as from another bench."""
    last = max((entry.at for entry in workshop.journal(job.id)), default=NOW)
    entry = ENTRY.validate_python({"at": last + timedelta(seconds=1), "kind": kind, **more})
    workshop.append(job.id, entry)
    return entry


def test_a_part_in_the_wrong_state_is_refused_until_the_state_is_set(browser: Browser, job: Job) -> None:
    browser.fill(STRIP, "needs state", part="dial", settings="shutter = released", reason="its pawl rides the cam")
    assert "Only with shutter released: its pawl rides the cam" in words(browser.get(f"{STRIP}?part=dial"))
    refused = browser.fill(STRIP, "removed", part="dial")
    assert "dial moves only with shutter released; it is not noted: its pawl rides the cam" in words(refused)
    browser.fill(STRIP, "set", settings="shutter = released")
    assert browser.fill(STRIP, "removed", part="dial").status_code == 303


@pytest.mark.parametrize(
    ("typed", "turns"), [("4.5", 4.5), ("4,5", 4.5), ("4 1/2", 4.5), ("4½", 4.5), ("¾", 0.75), ("3/8", 0.375), ("7", 7)]
)
def test_turns_are_read_as_a_hand_writes_them(
    browser: Browser, workshop: Workshop, job: Job, typed: str, turns: float
) -> None:
    browser.fill(STRIP, "tension", spring="second curtain", turns=typed, direction="anticlockwise")
    (entry,) = workshop.journal(job.id)
    assert isinstance(entry, Tension)
    assert (entry.act, entry.turns, entry.direction) == ("let down", turns, "anticlockwise")


@pytest.mark.parametrize("typed", ["", "some", "4.5 1/2", "1/0", "-2", "0"])
def test_turns_that_are_none_are_refused(browser: Browser, workshop: Workshop, job: Job, typed: str) -> None:
    refused = browser.fill(STRIP, "tension", spring="second curtain", turns=typed, direction="clockwise")
    assert refused.status_code == 422
    assert not workshop.journal(job.id)


def test_the_state_line_says_what_a_spring_is_owed_until_it_is_put_back(browser: Browser, job: Job) -> None:
    browser.fill(STRIP, "tension", spring="curtain", turns="4 1/2", direction="anticlockwise")
    assert "curtain let down, 4.5 turns clockwise to put back" in words(browser.get(STRIP))
    assert "curtain : 4.5 turns clockwise to put back" in words(browser.get("/jobs/J1/ledger"))
    browser.fill(STRIP, "tension", spring="curtain", act="tensioned", turns="4.5", direction="clockwise")
    page = words(browser.get(STRIP))
    assert "curtain tensioned" in page
    assert "to put back" not in page


def test_what_gets_free_is_asked_for_and_goes_back_with_its_part(
    browser: Browser, workshop: Workshop, job: Job
) -> None:
    browser.fill(STRIP, "cautioned", part="dial", hazard="jumps", escapes="yes", frees="detent ball, detent spring")
    page = browser.get(f"{STRIP}?part=dial")
    assert "Catch detent ball, detent spring" in words(page)
    refused = browser.fill(STRIP, "removed", part="dial", loose="1 x detent ball 1.5 mm")
    assert "detent spring gets loose when dial moves" in words(refused)
    browser.fill(STRIP, "removed", part="dial", loose="1 x detent ball 1.5 mm\n1 x detent spring at the post")
    assert "2 loose parts out" in words(browser.get(STRIP))
    assert "detent spring at the post" in words(browser.get(REFIT))
    browser.fill(REFIT, "refitted")
    back = workshop.journal(job.id)[-1]
    assert isinstance(back, Refitted)
    assert [each.what for each in back.loose] == ["detent ball 1.5 mm", "detent spring"]
    assert fold(workshop.journal(job.id)).n_out == 0


def test_a_finding_that_is_decided_is_owed_without_further_words(browser: Browser, job: Job) -> None:
    browser.fill(STRIP, "found", part="screw", defect="cross-head", nature="foreign fastener", decision="make")
    assert "cross-head: make" in words(browser.get(STRIP))


def test_an_irreplaceable_part_is_said_to_be_so_where_it_moves(browser: Browser, job: Job) -> None:
    browser.fill(STRIP, "irreplaceable", part="prism", reason="half-silvered")
    assert "Irreplaceable half-silvered" in words(browser.get(f"{STRIP}?part=prism"))
    browser.fill(STRIP, "removed", part="prism")
    assert "Irreplaceable half-silvered" in words(browser.get(REFIT))


def test_a_wanted_mark_is_asked_for_first(browser: Browser, job: Job) -> None:
    browser.fill(STRIP, "mark wanted", part="dial", mark="dot against the line")
    assert "First note the mark. Asked for: dot against the line" in words(browser.get(f"{STRIP}?part=dial"))


def test_the_ladder_says_what_comes_next_and_when_to_stop(browser: Browser, workshop: Workshop, job: Job) -> None:
    assert "names no stuck fastener" in words(browser.get("/jobs/J1/seized"))
    tried = {"part": "hinge", "fastener": "M1.7", "rung": "clean the slot", "materials": "steel, brass"}
    browser.fill(STRIP, "tried", **tried)
    assert "Seized 1 hinge , M1.7: clean the slot, no change" in words(browser.get(STRIP))
    page = browser.get("/jobs/J1/seized")
    assert "Next: right driver" in words(page)
    assert "Stop rule:" in words(page)
    assert fields(page, "tried-1")["rung"] == "right driver"
    browser.fill("/jobs/J1/seized", "tried-1", outcome="worse")
    assert "No more force." in words(browser.get("/jobs/J1/seized"))


def test_a_wait_in_minutes_runs_from_the_entry_and_sent_twice_is_one(
    browser: Browser, workshop: Workshop, job: Job
) -> None:
    sent = {**browser.form(STRIP, "tried"), "part": "hinge", "fastener": "M1.7", "rung": "solvent and wait"}
    for _ in range(2):
        assert browser.send("POST", STRIP, data={**sent, "wait_until": "30 min"}).status_code == 303
    (entry,) = workshop.journal(job.id)
    assert isinstance(entry, Tried)
    assert entry.wait_until == entry.at + timedelta(minutes=30)


def test_a_check_shows_where_it_stands_and_what_a_failure_costs(browser: Browser, workshop: Workshop, job: Job) -> None:
    for part in ("cover", "train", "blades"):
        browser.fill(STRIP, "removed", part=part)
    browser.fill(STRIP, "hold point", check="blades snap", needs="blades")
    page = words(browser.get(REFIT))
    assert "Check it before train goes back. If it fails, nothing has to come off again" in page
    assert "at the end, 2 parts would." in page
    browser.fill(REFIT, "refitted")
    asked = browser.get(REFIT)
    assert "1 thing to answer first Check: blades snap" in words(asked)
    assert 'id="f-refitted"' not in asked.text
    browser.fill(REFIT, f"answered-{workshop.journal(job.id)[-2].id}", answer="ten of ten")
    assert 'id="f-refitted"' in browser.get(REFIT).text


def test_a_wait_that_is_over_is_said_loudly(browser: Browser, workshop: Workshop, job: Job) -> None:
    put(workshop, job, "removed", part="foot")
    put(workshop, job, "awaited", part="foot", awaiting="adhesive cures", until=NOW + timedelta(hours=1))
    for path in (STRIP, REFIT, "/jobs/J1/resume", "/jobs/J1/cleaning"):
        assert "TIME IS UP since" in words(browser.get(path)), path
    browser.fill(STRIP, "over-1")
    assert "TIME IS UP" not in words(browser.get(STRIP))


def test_after_a_break_the_bench_opens_on_where_you_were(browser: Browser, workshop: Workshop, job: Job) -> None:
    put(workshop, job, "removed", part="dial")
    put(workshop, job, "aid fitted", aid="wedge", place="under the lever")
    assert browser.get("/jobs/J1/bench").headers["location"] == "/jobs/J1/resume"
    page = words(browser.get("/jobs/J1/resume"))
    assert "wedge: under the lever" in page
    assert "Go on: strip-down" in page
    browser.fill(STRIP, "noted", note="back again")
    assert browser.get("/jobs/J1/bench").headers["location"] == STRIP


def test_a_journal_that_contradicts_itself_says_so_on_every_page_where_work_goes_on(
    browser: Browser, workshop: Workshop, job: Job
) -> None:
    put(workshop, job, "removed", part="dial")
    put(workshop, job, "removed", part="dial")
    for path in ("", "/bench/strip", "/bench/refit", "/journal", "/order", "/ledger", "/resume"):
        assert "dial came off twice without going back in between" in words(browser.get(f"/jobs/J1{path}")), path


def test_an_entry_is_corrected_in_its_own_form_and_stays_in_its_place(
    browser: Browser, workshop: Workshop, job: Job
) -> None:
    browser.fill(STRIP, "removed", part="dial", fasteners="3 x M1.4 x 2 grub", soil="dust", torque="tight")
    old = workshop.journal(job.id)[0]
    path = f"/jobs/J1/journal/{old.id}"
    assert f'href="{path}"' in browser.get("/jobs/J1/journal").text
    form = browser.form(path, "corrected")
    assert (form["becomes.fasteners"], form["becomes.torque"]) == ("3 × M1.4 × 2 grub", "tight")
    sent = {**form, "becomes.fasteners": "2 x M1.4 x 2 grub", "reason": "miscounted"}
    for _ in range(2):
        answer = browser.send("POST", path, data=sent)
        assert (answer.status_code, answer.headers["location"]) == (303, "/jobs/J1/journal")
    assert [entry.kind for entry in workshop.journal(job.id)] == ["removed", "corrected"]
    (now,) = fold(workshop.journal(job.id)).entries
    assert isinstance(now, Removed)
    assert (now.fasteners[0].count, now.torque, now.soil, now.id) == (2, "tight", ("dust",), old.id)
    assert browser.form(path, "corrected")["becomes.fasteners"] == "2 × M1.4 × 2 grub"


def test_a_correction_that_cannot_be_read_comes_back_at_its_field(
    browser: Browser, workshop: Workshop, job: Job
) -> None:
    browser.fill(STRIP, "removed", part="dial", fasteners="3 x M1.4 x 2 grub")
    path = f"/jobs/J1/journal/{workshop.journal(job.id)[0].id}"
    refused = browser.fill(path, "corrected", **{"becomes.fasteners": "some screws"})
    assert refused.status_code == 422
    assert "how many? A number comes first" in words(refused)
    assert fields(refused, "corrected")["becomes.fasteners"] == "some screws"
    assert len(workshop.journal(job.id)) == 1


def test_what_is_struck_out_or_was_never_entered_cannot_be_corrected(
    browser: Browser, workshop: Workshop, job: Job
) -> None:
    browser.fill(STRIP, "noted", note="tea break")
    browser.fill(STRIP, "undo")
    for entry in (*workshop.journal(job.id), None):
        assert browser.get(f"/jobs/J1/journal/{entry.id if entry else 'f' * 32}").status_code == 404
