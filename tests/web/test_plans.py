"""The pages that look ahead: order, reach, baths, lubrication; and those that add up: ledger, variant, differences."""

import re
from datetime import date, timedelta

import pytest

from camerawright.journal.entries import Awaited, Cleaned, Described, Lubricated
from camerawright.journal.state import fold
from camerawright.papers.catalogue import PAPERS
from camerawright.refit.routes import route_of
from camerawright.store.workshop import Workshop
from camerawright.web.pages.order import AT_FIRST
from camerawright.workshop.rows import Camera, Job, Owner, Visit
from tests.web.conftest import Browser, fields, words
from tests.web.recordings import TEST, measure, recording
from tests.web.test_engine import NOW, REFIT, STRIP, put

ORDER, CLEANING = "/jobs/J1/order", "/jobs/J1/cleaning"


def _boxes(page: str) -> dict[str, tuple[float, float]]:
    """Left edge and top of each box of the picture, by what it says."""
    found = re.findall(r'aria-label="([^"]*?): .*?<rect x="([\d.]+)" y="([\d.]+)"', page, re.S)
    return {name: (float(x), float(y)) for name, x, y in found}


def test_the_picture_has_every_part_that_is_off_each_below_what_goes_back_before_it(
    browser: Browser, workshop: Workshop, job: Job
) -> None:
    for part in ("cover", "train", "blades"):
        put(workshop, job, "removed", part=part)
    put(workshop, job, "removed", part="lever")
    for other in ("cover", "train", "blades"):
        put(workshop, job, "independent", part="lever", other=other, reason="seen")
    page = browser.get(ORDER)
    boxes = _boxes(page.text)
    assert boxes.keys() == {"cover", "train", "blades", "lever"}
    assert boxes["blades"][1] == boxes["lever"][1] < boxes["train"][1] < boxes["cover"][1]
    assert boxes["blades"][0] != boxes["lever"][0]
    assert "After blades : train came off before blades (assumed)" in words(page)


def test_what_is_certain_and_what_is_assumed_is_drawn_and_said(browser: Browser, workshop: Workshop, job: Job) -> None:
    put(workshop, job, "removed", part="cover")
    put(workshop, job, "removed", part="train", under=["cover"])
    put(workshop, job, "removed", part="blades")
    page = browser.get(ORDER)
    assert len(re.findall(r'class="bond"', page.text)) == 1
    assert len(re.findall(r'class="bond assumed"', page.text)) == 1
    assert "After train : cover covers train (certain)" in words(page)


def test_the_picture_says_what_waits_what_it_holds_and_what_a_check_costs(
    browser: Browser, workshop: Workshop, job: Job
) -> None:
    for part in ("cover", "train", "blades"):
        put(workshop, job, "removed", part=part)
    put(workshop, job, "awaited", part="train", awaiting="spring on order")
    put(workshop, job, "hold point", check="blades snap", needs=["blades"])
    page = words(browser.get(ORDER))
    assert "waits: spring on order" in page
    assert "Holds up: cover" in page
    assert "held: train must be back first" in page
    assert "Check: blades snap failure costs 0 parts" in page
    assert "at the end, 2 parts would." in page


def test_each_sub_assembly_has_its_heading_on_the_order_page_and_on_the_bench(
    browser: Browser, workshop: Workshop, job: Job
) -> None:
    for part in ("shutter", "bellows", "blade ring", "blades"):
        put(workshop, job, "removed", part=part)
    assert 'class="assembly"' not in browser.get(ORDER).text, "nobody named a sub-assembly"
    put(workshop, job, "contains", part="shutter", parts=["blades", "blade ring"])
    page = browser.get(ORDER)
    headings = re.findall(r'<p class="assembly">([^<]*)</p>\s*<h3>([^<]*?) <', page.text)
    assert headings == [("Shutter, on the bench", "blades"), ("Rest of the camera", "bellows")]
    assert "Built on the bench, steps 1 to 2" in words(page)
    bench = words(browser.get(REFIT))
    assert "Goes back now · shutter, on the bench · 4 parts to go" in bench
    assert "blade ring Rest of the camera bellows" in bench


def test_a_contradiction_is_shown_as_the_smallest_set_that_clashes(
    browser: Browser, workshop: Workshop, job: Job
) -> None:
    for part in ("a", "b", "c", "d"):
        put(workshop, job, "removed", part=part)
    for first, then in (("a", "b"), ("b", "c"), ("c", "a"), ("a", "d")):
        put(workshop, job, "ordered", first=first, then=then, reason=f"{first} covers {then}")
    page = browser.get(ORDER)
    said = words(page)
    assert "These cannot all be true" in said
    for first, then in (("a", "b"), ("b", "c"), ("c", "a")):
        assert f"{first} comes off before {then} : {first} covers {then}" in said
    assert len(re.findall(r'class="bond ring"', page.text)) == 3
    assert len(re.findall(r'class="node part stopped ring"', page.text)) == 3


def test_the_picture_grows_with_its_zoom_and_survives_a_strange_one(
    browser: Browser, workshop: Workshop, job: Job
) -> None:
    put(workshop, job, "removed", part="dial")
    widths = [
        int(re.search(r'<svg width="(\d+)" height="\d+" viewBox="0 0', browser.get(f"{ORDER}?zoom={zoom}").text)[1])  # type: ignore[index]
        for zoom in ("50", "100", "200", "9" * 30)
    ]
    assert widths[0] * 2 == pytest.approx(widths[1], abs=1)
    assert widths[2] == 2 * widths[1]
    assert widths[3] == pytest.approx(widths[1] * AT_FIRST / 100, abs=1)


def _taught(workshop: Workshop, job: Job) -> Job:
    """J1 was stripped; J2 is the next of its kind."""
    put(workshop, job, "removed", part="dial", fasteners=[{"count": 3, "size": "M1.4"}])
    put(workshop, job, "removed", part="cover", at=NOW + timedelta(minutes=6))
    put(workshop, job, "marked", part="train", mark="dot at twelve")
    put(workshop, job, "cautioned", part="train", hazard="spring jumps", frees=["spring"], escapes=True)
    put(workshop, job, "removed", part="train", under=["cover"], at=NOW + timedelta(minutes=18))
    return _sister(workshop, job, job.camera.variant, "2")


def _sister(workshop: Workshop, job: Job, variant: str, serial: str) -> Job:
    camera = Camera(maker=job.camera.maker, model=job.camera.model, variant=variant, serial=serial)
    return workshop.take_in(Owner(name="Tobias Fenn"), camera, Visit(taken_in=date(2026, 3, 5)))


def test_before_anything_is_off_the_picture_is_what_earlier_strip_downs_taught(
    browser: Browser, workshop: Workshop, job: Job
) -> None:
    _taught(workshop, job)
    page = browser.get("/jobs/J2/order")
    boxes = _boxes(page.text)
    assert boxes["dial"][1] < boxes["cover"][1] < boxes["train"][1]
    said = words(page)
    assert "After cover : cover covers train (certain)" in said
    assert "After dial : the usual order of removal (assumed)" in said
    assert "Hazard: spring jumps" in said


def test_what_must_come_off_to_reach_a_part_is_told_with_its_hazards_and_marks(
    browser: Browser, workshop: Workshop, job: Job
) -> None:
    _taught(workshop, job)
    page = words(browser.get("/jobs/J2/reach?part=Train"))
    assert "2 parts before it: 1 certainly, 1 assumed." in page
    assert "1. cover certain" not in page
    assert page.index("dial assumed") < page.index("cover certain") < page.index("train the part itself")
    assert "Hazard spring jumps" in page
    assert "Catch spring" in page
    assert "Note first dot at twelve" in page
    assert "timed once only, so the spread is not known" in page


def test_a_part_that_nobody_had_off_is_named_with_those_near_it(browser: Browser, workshop: Workshop, job: Job) -> None:
    _taught(workshop, job)
    page = words(browser.get("/jobs/J2/reach?part=trian"))
    assert "No earlier strip-down of this variant had a “trian” off. Near it: train" in page


def test_the_ledger_counts_out_back_accounted_and_open(browser: Browser, workshop: Workshop, job: Job) -> None:
    screws = [{"count": 3, "size": "M1.7", "length_mm": 4}]
    put(workshop, job, "removed", part="dial", fasteners=screws, cell="B1", shims=[{"place": "rim", "count": 1}])
    put(workshop, job, "removed", part="cover", fasteners=screws, cell="A2")
    put(workshop, job, "refitted", part="dial", fasteners=[{"count": 2, "size": "M1.7", "length_mm": 4}])
    page = words(browser.get("/jobs/J1/ledger"))
    assert "Still out: 4 screws , 1 shim , 0 loose parts" in page
    assert "screw M1.7 × 4 mm B1 1 3 2" in page
    put(workshop, job, "accounted for", part="dial", reason="fell down the drain")
    only_open = words(browser.get("/jobs/J1/ledger?open=1"))
    assert "cover" in only_open
    assert "dial" not in only_open
    by_cell = words(browser.get("/jobs/J1/ledger?by=cell"))
    assert by_cell.index("cell A2") < by_cell.index("cell B1")


def _to_wash(workshop: Workshop, job: Job) -> str:
    """Two parts that go through the same bath, and its name."""
    for part in ("ring", "plate"):
        put(workshop, job, "removed", part=part, material="brass", finish="nickel plated", soil=["old oil"])
    return route_of(fold(workshop.journal(job.id)).off[0]).name


def test_a_bath_begins_for_all_its_parts_at_once_and_ends_with_each_cleaned(
    browser: Browser, workshop: Workshop, job: Job
) -> None:
    route = _to_wash(workshop, job)
    sent = browser.form(CLEANING, "in-1")
    for _ in range(2):
        assert browser.send("POST", CLEANING, data=sent).status_code == 303
    begun = [entry for entry in workshop.journal(job.id) if isinstance(entry, Awaited)]
    assert {entry.part for entry in begun} == {"ring", "plate"}
    assert len(begun) == 2
    page = browser.get(CLEANING)
    assert page.text.count('class="left"') >= 2
    assert "min left)" in words(page)
    sent = browser.form(CLEANING, "out-1")
    early = browser.send("POST", CLEANING, data=sent)
    assert early.status_code == 422
    assert "min in the bath so far" in words(early)
    sent["overruled"] = "the dirt is off"
    for _ in range(2):
        assert browser.send("POST", CLEANING, data=sent).status_code == 303
    cleaned = [entry for entry in workshop.journal(job.id) if isinstance(entry, Cleaned)]
    assert sorted((entry.part, entry.route) for entry in cleaned) == [("plate", route), ("ring", route)]
    assert all(part.awaiting is None for part in fold(workshop.journal(job.id)).off)
    assert "Everything that is off is clean" in words(browser.get(CLEANING))


def test_a_part_that_is_never_wetted_stands_in_a_list_of_its_own(
    browser: Browser, workshop: Workshop, job: Job
) -> None:
    put(workshop, job, "removed", part="meter cell", material="selenium cell", finish="none", soil=["dust"])
    page = words(browser.get(CLEANING))
    assert route_of(fold(workshop.journal(job.id)).off[0]).never_wet
    assert "Never wet meter cell" in page


def test_what_nobody_described_is_asked_once_on_the_page_and_planned_as_likely(
    browser: Browser, workshop: Workshop, job: Job
) -> None:
    """Common practice: trains are brass with steel in them, and greasy."""
    for part in ("gear train", "speed train"):
        put(workshop, job, "removed", part=part, assembly="shutter")
    page = browser.get(CLEANING)
    said = words(page)
    assert "Not known yet 2" in said
    assert "soft dry brush" not in said
    assert "Likely: ultrasonic bath, neutral detergent" in said
    assert "In the bath now" not in said
    sent = browser.form(CLEANING, "question-0")
    assert (sent["material"], sent["finish"], sent["soil"]) == ("riveted brass, steel", "none", "dried grease")
    assert page.text.count('name="parts" value="gear train" checked') == 1
    ticked = {**sent, "parts": ["gear train", "speed train"]}
    assert browser.send("POST", CLEANING, data=ticked).status_code == 303
    (described,) = (entry for entry in workshop.journal(job.id) if isinstance(entry, Described))
    assert described.parts == ("gear train", "speed train")
    said = words(browser.get(CLEANING))
    assert "Not known yet" not in said
    assert "In the bath now" in said
    assert "then isopropyl alcohol to take the water out" in said


def test_parts_that_went_with_no_sub_assembly_are_asked_about_too(
    browser: Browser, workshop: Workshop, job: Job
) -> None:
    for part in ("gear train", "top cover", "gubbins"):
        put(workshop, job, "removed", part=part)
    page = words(browser.get(CLEANING))
    assert "No sub-assembly noted" in page
    assert page.count("So it is") == 3
    assert "Nobody has any idea yet" in page


def test_every_page_of_a_job_says_that_the_products_sheet_comes_first(browser: Browser, job: Job) -> None:
    """Common practice: safety data sheet, local rules, licensed practice."""
    for page in (
        "",
        "/bench/strip",
        "/bench/refit",
        "/order",
        "/ledger",
        "/cleaning",
        "/seized",
        "/lubrication",
        "/resume",
    ):
        assert words(browser.get(f"/jobs/{job.id}{page}")).count("local rules and licensed practice come first") == 1, (
            page
        )


def test_a_form_of_the_cleaning_plan_without_parts_is_refused(browser: Browser, workshop: Workshop, job: Job) -> None:
    sent = {"kind": "several", "id": "a" * 32, "form": "in-1", "act": "begun", "route": "x"}
    answer = browser.send("POST", CLEANING, data=sent)
    assert answer.status_code == 422
    assert "choose which parts went where" in words(answer)


def test_a_point_of_the_lubrication_chart_is_done_with_one_button(
    browser: Browser, workshop: Workshop, job: Job
) -> None:
    put(workshop, job, "removed", part="slow train")
    path = "/jobs/J1/lubrication"
    page = browser.get(path)
    assert "Stays dry" in words(page)
    offered = fields(page, "lubricated-1")
    browser.fill(path, "lubricated-1", lubricant=f"{offered['lubricant']}, batch 12")
    entry = workshop.journal(job.id)[-1]
    assert isinstance(entry, Lubricated)
    assert (entry.part, entry.point, entry.amount) == ("slow train", offered["point"], offered["amount"])
    assert "Done 1" in words(browser.get(path))


def test_a_variant_shows_where_its_bodies_differ_and_what_a_sister_carries_over(
    browser: Browser, workshop: Workshop, job: Job
) -> None:
    second = _taught(workshop, job)
    lead = [{"colour": "red"}]
    put(workshop, second, "removed", part="dial", fasteners=[{"count": 2, "size": "M1.4"}], leads=lead)
    third = _sister(workshop, job, "third pattern", "3")
    put(workshop, third, "removed", part="flash shoe")
    page = words(browser.get("/variant", params={"key": job.camera.variant_key}))
    assert "2 to 3 × screw M1.4 differs 3 in 1, 2 in 1" in page
    assert "1 × lead red, but not on every body" in page
    assert "flash shoe 1 time carried over from third pattern" in page
    assert "J3 (a sister variant)" in page
    differ = words(browser.get("/variant/differences?a=J1&b=J2"))
    assert "dial screw 3 × M1.4 2 × M1.4" in differ
    assert "train part came off not in the journal" in differ


def test_differences_of_a_job_that_is_not_there_name_it(browser: Browser, job: Job) -> None:
    page = browser.get("/variant/differences?a=J1&b=J9")
    assert page.status_code == 404
    assert "J9" in words(page)


def test_every_paper_that_can_be_printed_is_linked(browser: Browser, job: Job) -> None:
    page = browser.get("/jobs/J1").text
    for name in PAPERS:
        assert f'href="/jobs/J1/papers/{name}.pdf"' in page


def test_a_reading_is_a_table_of_its_firings_with_their_doubt(browser: Browser, workshop: Workshop, job: Job) -> None:
    measure(browser, recording(1), "1/60", test=TEST.name)
    entry = fold(workshop.journal(job.id)).measured[0]
    record: dict[str, list[dict[str, float]]] = dict(entry.result)  # type: ignore[arg-type]
    page = browser.get("/jobs/J1/measure")
    rows = re.findall(r'<tr><th scope="row" class="number">', page.text)
    assert len(rows) == len(record["firings"])
    told = [(float(value), float(u)) for value, u in re.findall(r"([\d.]+) ± ([\d.]+)", words(page))]
    for shot in record["firings"]:
        expanded_ms = 1e3 * shot["u_effective_s"] * shot["k95_effective"]
        value_ms = pytest.approx(1e3 * shot["effective_s"], abs=0.05 * expanded_ms + 0.0006)
        assert any(value == value_ms and u == pytest.approx(expanded_ms, rel=0.05, abs=0.0006) for value, u in told)


def test_the_refit_page_names_the_check_that_bars_a_part(browser: Browser, workshop: Workshop, job: Job) -> None:
    for part in ("cover", "blades"):
        put(workshop, job, "removed", part=part)
    put(workshop, job, "refitted", part="blades")
    put(workshop, job, "hold point", part="cover", check="blades snap", needs=["blades"])
    assert "1 thing to answer first Check: blades snap" in words(browser.get(REFIT))
    refused = browser.send("POST", REFIT, data={"kind": "refitted", "form": "differs", "id": "b" * 32, "part": "cover"})
    assert "blades snap" in words(refused)
    assert browser.get(STRIP).status_code == 200
