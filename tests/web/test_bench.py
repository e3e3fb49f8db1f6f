"""The bench page: entering, refusing, overruling, undoing, sending twice."""

from datetime import date

import pytest

from camerawright.journal.entries import Refitted, Removed
from camerawright.journal.state import fold
from camerawright.store.workshop import Workshop
from camerawright.web.pages.bench import TRAY_CELLS, free_cell
from camerawright.workshop.rows import Camera, Job, Owner, Visit
from tests.journal.makers import Clock
from tests.web.conftest import Browser, fields, words

STRIP, REFIT = "/jobs/J1/bench/strip", "/jobs/J1/bench/refit"


def test_a_removal_is_entered_as_it_was_typed(browser: Browser, workshop: Workshop, job: Job) -> None:
    answer = browser.fill(
        STRIP,
        "removed",
        part="top plate",
        fasteners="3 x M1.7 x 4 cheese\n1 × M1.4 × 2,5 LH at pawl hole",
        shims="1 x 0.10 NE corner",
        soil="old oil, dust",
        torque="tight",
    )
    assert (answer.status_code, answer.headers["location"]) == (303, STRIP)
    (entry,) = workshop.journal(job.id)
    assert isinstance(entry, Removed)
    assert [(each.count, each.size, each.length_mm, each.hand) for each in entry.fasteners] == [
        (3, "M1.7", 4, "right"),
        (1, "M1.4", 2.5, "left"),
    ]
    assert [(each.place, each.thickness_mm) for each in entry.shims] == [("NE corner", 0.1)]
    assert (entry.soil, entry.torque, entry.cell) == (("old oil", "dust"), "tight", "A1")
    said = words(browser.get(STRIP))
    assert "4 screws out" in said
    assert "1 shim out" in said
    assert "1 part off" in said


@pytest.mark.parametrize(
    ("more", "is_open"), [({"shims": "no idea"}, False), ({"photo": "no photo"}, True), ({"under": "top cover"}, True)]
)
def test_what_is_folded_opens_only_if_the_refusal_is_about_it(
    browser: Browser, job: Job, more: dict[str, str], is_open: bool
) -> None:
    answer = browser.send("POST", STRIP, data={**browser.form(STRIP, "removed"), "part": "top plate", **more})
    assert answer.status_code == 422
    folded = answer.text.split("<summary>Felt, under")[0].rpartition("<details")[2]
    assert (" open" in folded) == is_open


def test_a_form_sent_twice_changes_nothing(browser: Browser, workshop: Workshop, job: Job) -> None:
    sent = {**browser.form(STRIP, "removed"), "part": "top plate"}
    answers = [browser.send("POST", STRIP, data=sent) for _ in range(2)]
    assert [answer.status_code for answer in answers] == [303, 303]
    assert len(workshop.journal(job.id)) == 1


def test_a_form_sent_again_with_other_words_is_said_not_swallowed(
    browser: Browser, workshop: Workshop, job: Job
) -> None:
    sent = {**browser.form(STRIP, "noted"), "note": "first"}
    browser.send("POST", STRIP, data=sent)
    answer = browser.send("POST", STRIP, data={**sent, "note": "second"})
    assert answer.status_code == 422
    assert "entered already, with other words" in words(answer)
    again = fields(answer, "noted")
    assert again["note"] == "second"
    assert again["id"] != sent["id"]
    assert browser.send("POST", STRIP, data=again).status_code == 303
    assert [getattr(entry, "note", None) for entry in workshop.journal(job.id)] == ["first", "second"]


def test_lines_that_cannot_be_read_come_back_each_with_its_mend(browser: Browser, workshop: Workshop, job: Job) -> None:
    typed = {"part": "top plate", "fasteners": "3 x M1.7\nsome screws", "shims": "thin one", "words": "it’s off"}
    answer = browser.fill(STRIP, "removed", **typed)
    assert answer.status_code == 422
    back = fields(answer, "removed")
    assert {name: back[name] for name in typed} == typed
    assert "some screws" in words(answer)
    assert 'aria-invalid="true"' in answer.text
    assert not workshop.journal(job.id)


def _order(browser: Browser, first: str, then: str) -> None:
    browser.fill(STRIP, "ordered", first=first, then=then, reason="covers its screws", is_new="yes")


def test_a_refusal_lists_every_reason_and_a_stated_reason_overrules_it(
    browser: Browser, workshop: Workshop, job: Job
) -> None:
    _order(browser, "dial", "top plate")
    _order(browser, "rewind knob", "top plate")
    refused = browser.fill(STRIP, "removed", part="top plate", fasteners="3 x M1.7 x 4 cheese")
    assert refused.status_code == 422
    assert "dial comes off before top plate: covers its screws" in words(refused)
    assert "rewind knob comes off before top plate" in words(refused)
    assert 'role="alert"' in refused.text
    assert 'name="overruled" form="f-removed"' in refused.text
    again = fields(refused, "removed")
    assert again["fasteners"] == "3 x M1.7 x 4 cheese"
    assert browser.send("POST", STRIP, data={**again, "overruled": " "}).status_code == 422
    assert browser.send("POST", STRIP, data={**again, "overruled": "both were missing"}).status_code == 303
    assert workshop.journal(job.id)[-1].overruled == "both were missing"


def test_what_would_break_the_record_offers_no_overruling(browser: Browser, job: Job) -> None:
    browser.fill(STRIP, "removed", part="dial")
    refused = browser.fill(STRIP, "removed", part="dial")
    assert "dial is already off" in words(refused)
    assert 'name="overruled"' not in refused.text


def test_the_last_entry_is_undone_once_however_often_it_is_sent(browser: Browser, workshop: Workshop, job: Job) -> None:
    browser.fill(STRIP, "removed", part="dial")
    browser.fill(STRIP, "removed", part="top plate")
    sent = browser.form(STRIP, "undo")
    for _ in range(2):
        assert browser.send("POST", STRIP, data=sent).status_code == 303
    assert [part.name for part in fold(workshop.journal(job.id)).off] == ["dial"]


def test_a_reminder_takes_the_place_of_the_button_until_it_is_answered(
    browser: Browser, workshop: Workshop, job: Job
) -> None:
    browser.fill(STRIP, "removed", part="slow train", fasteners="2 x M1.2 x 3 cheese", shims="1 x 0.10 left foot")
    browser.fill(STRIP, "reminded", part="slow train", todo="hook the spring outside the stud")
    page = browser.get(REFIT)
    assert "1 thing to answer first" in words(page)
    assert 'id="f-refitted"' not in page.text
    reminder = workshop.journal(job.id)[-1]
    browser.fill(REFIT, f"answered-{reminder.id}", answer="hooked")
    assert "Back, with all of it" in words(browser.get(REFIT))
    assert browser.fill(REFIT, "refitted").status_code == 303
    back = workshop.journal(job.id)[-1]
    assert isinstance(back, Refitted)
    assert [(each.count, each.size) for each in back.fasteners] == [(2, "M1.2")]
    assert [each.place for each in back.shims] == ["left foot"]
    assert fold(workshop.journal(job.id)).n_out == 0


def test_what_differs_is_refused_with_both_counts(browser: Browser, job: Job) -> None:
    browser.fill(STRIP, "removed", part="top plate", fasteners="3 x M1.7 x 4 cheese")
    refused = browser.fill(REFIT, "differs", fasteners="2 x M1.7 x 4 cheese")
    assert "3 × screw M1.7 × 4 mm cheese came out, 2 going back" in words(refused)
    assert fields(refused, "differs")["fasteners"] == "2 x M1.7 x 4 cheese"


def _taught(workshop: Workshop, browser: Browser, job: Job) -> None:
    """J1 teaches: dial, then slow train with a hazard and a mark, then blades. J2 is its sister."""
    browser.fill(STRIP, "removed", part="dial")
    browser.fill(STRIP, "marked", part="slow train", mark="dot at twelve")
    browser.fill(STRIP, "cautioned", part="slow train", hazard="spring jumps", escapes="yes")
    browser.fill(STRIP, "removed", part="slow train", fasteners="2 x M1.2 x 3 cheese", shims="1 x 0.10 left foot")
    browser.fill(STRIP, "removed", part="blades")
    sister = Camera(maker=job.camera.maker, model=job.camera.model, variant=job.camera.variant, serial="2")
    workshop.take_in(Owner(name="Tobias Fenn"), sister, Visit(taken_in=date(2026, 3, 5)))


def test_the_next_camera_of_the_variant_is_shown_the_hazard_one_step_early(
    browser: Browser, workshop: Workshop, job: Job
) -> None:
    _taught(workshop, browser, job)
    strip = "/jobs/J2/bench/strip"
    page = words(browser.get(strip))
    assert "Comes off next, as in J1" in page
    assert "Will get loose, next step: slow train — spring jumps" in page
    browser.fill(strip, "removed", part="dial")
    page = words(browser.get(strip))
    assert "First note the mark. Asked for: dot at twelve" in page
    assert "Look beneath 1 × 0.10 mm, left foot" in page
    refused = browser.fill(strip, "removed", part="slow train")
    assert "the reference mark of slow train is not noted: dot at twelve" in words(refused)
    assert "did you look beneath slow train?" in words(refused)


def test_in_the_refit_the_hazard_is_shown_one_step_early_too(browser: Browser, workshop: Workshop, job: Job) -> None:
    _taught(workshop, browser, job)
    page = words(browser.get(REFIT))
    assert "Will get loose, next step: slow train — spring jumps" in page
    browser.fill(REFIT, "refitted")
    page = words(browser.get(REFIT))
    assert "Something gets loose spring jumps" in page
    assert "Mark dot at twelve" in page


def test_a_caution_about_a_part_that_is_still_on_is_shown_before_anything_is_known_of_the_order(
    browser: Browser, job: Job
) -> None:
    browser.fill(STRIP, "cautioned", part="detent ball", hazard="rolls away")
    assert "Next hazard, later: detent ball — rolls away" in words(browser.get(STRIP))
    browser.fill(STRIP, "removed", part="detent ball")
    assert "No hazard has been recorded for the next steps." in words(browser.get(STRIP))


def test_a_film_inside_stands_in_the_state_line_until_it_is_noted_as_out(browser: Browser, workshop: Workshop) -> None:
    camera = Camera(maker="Tessbury", model="Mark 35", serial="7")
    workshop.take_in(Owner(name="Ines Marrow"), camera, Visit(taken_in=date(2026, 3, 5), film_inside=True))
    assert "film inside" in words(browser.get(STRIP))
    browser.fill(STRIP, "set", settings="film = out")
    assert "film inside" not in words(browser.get(STRIP))


def test_the_bench_opens_on_the_face_that_was_worked_on_last(browser: Browser, job: Job) -> None:
    def face() -> str:
        return browser.get("/jobs/J1/bench").headers["location"].rpartition("/")[2]

    assert face() == "strip"
    browser.fill(STRIP, "removed", part="dial")
    browser.fill(STRIP, "removed", part="top plate")
    assert face() == "strip"
    browser.fill(REFIT, "refitted")
    assert face() == "refit"


def test_a_part_that_waits_stands_aside_with_its_reason_until_it_arrives(browser: Browser, job: Job) -> None:
    browser.fill(STRIP, "removed", part="spring")
    browser.fill(REFIT, "awaited", awaiting="a spring on order")
    page = browser.get(REFIT)
    assert "Nothing can go back now" in words(page)
    assert "spring : a spring on order" in words(page)
    browser.fill(REFIT, "arrived-1")
    assert "Goes back now" in words(browser.get(REFIT))


def test_the_tray_fills_cell_by_cell_and_uses_a_cell_again_when_it_is_free() -> None:
    clock = Clock()
    journal: list[Removed | Refitted] = []
    assert free_cell(fold(journal)) == "A1"
    for i_cell, cell in enumerate(TRAY_CELLS):
        assert free_cell(fold(journal)) == cell
        journal.append(Removed(at=clock(), part=f"part {i_cell}", cell=cell.lower()))
    assert free_cell(fold(journal)) == ""
    journal.append(Refitted(at=clock(), part="part 7"))
    assert free_cell(fold(journal)) == TRAY_CELLS[7]


def test_a_cell_that_was_emptied_is_not_proposed_again() -> None:
    clock = Clock()
    no_tray = Removed(at=clock(), part="top cover")
    assert free_cell(fold([no_tray])) == ""
    assert free_cell(fold([no_tray, Removed(at=clock(), part="dial", cell="B2")])) == "B3"


def test_on_the_very_step_whose_spring_escapes_the_page_says_now(browser: Browser, job: Job) -> None:
    browser.fill(STRIP, "cautioned", part="slow train", hazard="spring jumps", escapes="yes", frees="click spring")
    said = words(browser.get(f"{STRIP}?part=slow+train"))
    assert "NOW, this gets loose: slow train — spring jumps; catch click spring" in said
    assert "NOW" not in words(browser.get(f"{STRIP}?part=dial"))
    browser.fill(STRIP, "removed", part="slow train", loose="1 x click spring")
    assert "NOW, this gets loose: slow train" in words(browser.get(REFIT)), "it is put in again under the same hazard"


def test_a_closed_job_is_read_only_until_it_is_reopened(browser: Browser, workshop: Workshop, job: Job) -> None:
    browser.fill(STRIP, "removed", part="dial")
    sent = {**browser.form(STRIP, "noted"), "note": "one more thing"}
    browser.fill(REFIT, "refitted")
    browser.fill("/jobs/J1", "closed")
    for address in (STRIP, REFIT):
        page = browser.get(address)
        assert "The job is closed" in words(page)
        forms = [line for line in page.text.splitlines() if "<form" in line]
        assert [line for line in forms if 'method="post"' in line and "f-reopened" not in line] == []
    assert 'id="f-undo' not in browser.get("/jobs/J1/journal").text
    assert "the job is closed" in words(browser.send("POST", STRIP, data=sent))
    browser.fill("/jobs/J1", "handed back")
    assert "Handed back to Ines Marrow" in words(browser.get(STRIP))
    assert browser.fill(STRIP, "reopened", reason="").status_code == 422
    browser.fill(STRIP, "reopened", reason="it came right back")
    assert browser.send("POST", STRIP, data=sent).status_code == 303


def test_an_undo_that_takes_the_ground_from_a_later_entry_is_refused_or_takes_it_along(
    browser: Browser, workshop: Workshop, job: Job
) -> None:
    _order(browser, "dial", "top plate")
    browser.fill(STRIP, "removed", part="dial")
    browser.fill(STRIP, "removed", part="top plate")
    journal = "/jobs/J1/journal"
    refused = browser.fill(journal, f"undo-{workshop.journal(job.id)[1].id}")
    said = words(refused)
    assert "then “top plate came off” would not stand: dial comes off before top plate: covers its screws" in said
    assert "Or undo together, the newest first: Top plate came off" in said
    for _ in range(2):
        assert browser.send("POST", journal, data=fields(refused, "undo-together")).status_code == 303
    state = fold(workshop.journal(job.id))
    assert (state.off, len(state.struck)) == ((), 2)


_KILLS = "A flash capacitor may hold 300 V or more for days, and that can kill."


@pytest.mark.parametrize("part", ["flash capacitor", "flash condenser", "Flash tube"])
def test_a_flash_is_warned_of_before_it_comes_off_and_at_its_removal(browser: Browser, job: Job, part: str) -> None:
    """Also on the first strip-down, where nobody spoke of it before (common practice)."""
    refused = browser.fill(STRIP, "removed", part=part)
    assert refused.status_code == 422
    assert f"caution with {part}: {_KILLS}" in words(refused)
    assert "No hazard has been recorded" not in words(refused)
    entered = browser.fill(STRIP, "removed", part=part, overruled="let down through 1 kΩ: 0 V measured")
    assert entered.status_code == 303
    said = words(browser.get(STRIP))
    assert f"In your hand, {part}: {_KILLS}" in said
    assert "No hazard has been recorded" not in said


def test_a_flash_in_sight_is_a_hazard_to_come(browser: Browser, workshop: Workshop, job: Job) -> None:
    assert "No hazard has been recorded" in words(browser.get(STRIP))
    browser.fill(STRIP, "removed", part="top cover", leads="red to the flash board")
    said = words(browser.get(STRIP))
    assert "Next hazard, later: the flash board" in said or "Next hazard, later: flash board" in said
    assert _KILLS in said
    flash = workshop.take_in(
        job.owner, Camera(maker="Orlmann", model="Falter 66 Flash", variant="", serial="5"), job.visit
    )
    assert _KILLS in words(browser.get(f"/jobs/{flash.id}/bench/strip"))
    sync = workshop.take_in(
        job.owner, Camera(maker="Orlmann", model="Flash-sync 35", variant="", serial="6"), job.visit
    )
    assert _KILLS not in words(browser.get(f"/jobs/{sync.id}/bench/strip"))


@pytest.mark.parametrize(
    ("part", "caution"),
    [("selenium cell", "Selenium dust and fumes are poisonous"), ("main spring", "A spring under load flies out")],
)
def test_a_part_with_a_danger_is_warned_of_in_the_hand(browser: Browser, job: Job, part: str, caution: str) -> None:
    assert browser.fill(STRIP, "removed", part=part).status_code == 303
    said = words(browser.get(STRIP))
    assert f"In your hand, {part}: {caution}" in said
    assert "No hazard has been recorded" not in said
