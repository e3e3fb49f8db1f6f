"""The bench page in a browser: what fits, what is legible, what a foot or a doubled tap does."""

import re
import shutil
from collections.abc import Iterator
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page, expect

from camerawright.job.entering import enter, moment_after
from camerawright.job.now import job_now
from camerawright.journal.entries import ENTRY
from camerawright.store.workshop import Workshop, create_workshop, open_workshop
from camerawright.workshop.rows import Camera, Owner, Visit
from tests.browser.conftest import PHONE, TABLET, TABLET_AT_200_PERCENT, Served, serving, tablet

CAP_HEIGHT_EM = 0.7  # of the sans faces that systems bring along, from memory
TABLET_PX_PER_MM = 1280 / 217  # a tablet of ten inches, 16:10, 1280 pixels on its longer side
STRIP, REFIT = "/jobs/J2/bench/strip", "/jobs/J2/bench/refit"


def _say(workshop: Workshop, job: str, kind: str, **fields: object) -> None:
    at = moment_after(job_now(workshop, job))
    enter(workshop, job, ENTRY.validate_python({"kind": kind, "at": at, **fields}))


def _job(workshop: Workshop, serial: str, model: str = "Falter 6x6") -> str:
    camera = Camera(maker="Orlmann", model=model, variant="second pattern", serial=serial)
    visit = Visit(taken_in=date(2026, 3, 2), owners_words="Slow speeds hang.")
    return workshop.take_in(Owner(name="Tobias Fenn"), camera, visit).id


def _make_busy(workshop: Workshop) -> None:
    """J1 taught; J2 is half way down, with something of everything."""
    screws = [{"count": 3, "size": "M1.7", "length_mm": 4, "head": "cheese"}]
    shims = [{"count": 1, "thickness_mm": 0.1, "place": "NE corner"}]
    for serial in ("41877", "41960"):
        job = _job(workshop, serial)
        _say(workshop, job, "set", settings={"shutter": "released", "focus": "infinity"})
        _say(workshop, job, "marked", part="focus ring", mark="infinity against the dot")
        _say(workshop, job, "removed", part="focus ring", fasteners=screws, cell="A1", material="brass")
        _say(workshop, job, "removed", part="front standard", shims=shims, under=["focus ring"], soil=["old oil"])
        _say(workshop, job, "reminded", part="front standard", todo="centre the bellows before the screws")
        if serial == "41877":
            _say(workshop, job, "marked", part="speed ring", mark="notch at B")
            _say(workshop, job, "cautioned", part="slow train", hazard="its spring jumps", escapes=True, is_new=True)
            _say(workshop, job, "removed", part="speed ring", fasteners=screws)
            _say(workshop, job, "removed", part="slow train")
    _say(workshop, "J2", "found", part="speed ring", defect="chewed slot", todo="dress it")
    _say(workshop, "J2", "aid fitted", aid="wedge", place="under the wind lever")
    _say(workshop, "J2", "tension", spring="main spring", act="let down", turns=2.5, direction="clockwise")
    tried = {"part": "speed ring", "fastener": "grub screw", "materials": ["steel", "brass"]}
    _say(workshop, "J2", "tried", rung="clean the slot", outcome="no change", **tried)
    _say(workshop, "J2", "lubricated", part="focus ring", point="focusing thread", amount="film", lubricant="grease")
    _say(workshop, "J2", "hold point", part="focus ring", check="the bellows fold freely", needs=["front standard"])
    _say(workshop, "J2", "awaited", part="focus ring", awaiting="paint dries", until=_in_minutes(5))
    _contradict(workshop, _job(workshop, "42001", "Falter 9x12"))


def _in_minutes(minutes: float) -> datetime:
    return datetime.now(UTC) + timedelta(minutes=minutes)


def _contradict(workshop: Workshop, job: str) -> None:
    """Two journals put together that tell different things, and an order that runs in a ring."""
    at = datetime.now(UTC)
    told: list[dict[str, object]] = [{"kind": "removed", "part": part} for part in ("a", "b", "c", "a")]
    told += [{"kind": "ordered", "first": a, "then": b, "reason": "covers it"} for a, b in ("ab", "bc", "ca")]
    entries = [ENTRY.validate_python({**fields, "at": at + timedelta(milliseconds=n)}) for n, fields in enumerate(told)]
    workshop.append_all(job, entries)


@pytest.fixture(scope="session")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The folder of a busy workshop, to be copied."""
    folder = tmp_path_factory.mktemp("made") / "workshop"
    with create_workshop(folder) as workshop:
        _make_busy(workshop)
    return folder


@pytest.fixture(scope="module")
def looked_at(made: Path, chromium: Browser) -> Iterator[Page]:
    """A tablet on a busy workshop that these tests only look at."""
    with open_workshop(made) as workshop, serving(workshop) as served, tablet(chromium, served) as opened:
        yield opened


@pytest.fixture
def busy(made: Path, tmp_path: Path) -> Iterator[Served]:
    """A busy workshop, served."""
    shutil.copytree(made, tmp_path / "busy")
    with open_workshop(tmp_path / "busy") as workshop, serving(workshop) as served:
        yield served


@pytest.fixture
def page(chromium: Browser, busy: Served) -> Iterator[Page]:
    """A tablet on it."""
    with tablet(chromium, busy) as opened:
        yield opened


# A target is as large as the label around it, where it has one.
TOUCHED = """() => [...document.querySelectorAll(
  "button, summary, nav a, .button, input:not([type=hidden]), select, textarea")]
  .filter((each) => each.checkVisibility())
  .map((each) => [each.outerHTML, (each.closest("label") ?? each).getBoundingClientRect()])
  .map(([html, box]) => [html, box.width, box.height])"""

PAGES = ["/", "/take-in", "/variants", "/variant?key=orlmann / falter 6x6 / second pattern", "/jobs/J2"]
PAGES += [STRIP, REFIT, "/jobs/J2/cleaning", "/jobs/J2/measure", "/jobs/J2/journal", "/nowhere"]
PAGES += [f"/jobs/J2/{name}" for name in ("order", "order?side=strip", "ledger", "lubrication", "seized", "resume")]
PAGES += ["/jobs/J2/reach?part=slow train", "/variant/differences?a=J1&b=J2", "/jobs/J3/order", "/jobs/J3/journal"]


@pytest.mark.parametrize("path", PAGES)
def test_axe_finds_nothing_and_nothing_is_wider_than_the_screen(looked_at: Page, path: str) -> None:
    looked_at.set_viewport_size(TABLET)
    looked_at.goto(path)
    found = Axe().run(looked_at)
    assert found.violations_count == 0, found.generate_report()
    for size in (TABLET, TABLET_AT_200_PERCENT, PHONE):
        looked_at.set_viewport_size(size)
        assert looked_at.evaluate("document.documentElement.scrollWidth") <= size["width"]


def test_axe_finds_nothing_on_a_refusal(page: Page, busy: Served) -> None:
    page.goto(STRIP)
    page.locator("#f-removed").get_by_label("Fasteners, one kind a line").fill("some screws")
    page.get_by_role("button", name="It is off").click()
    expect(page.get_by_role("alert")).to_contain_text("some screws")
    found = Axe().run(page)
    assert found.violations_count == 0, found.generate_report()
    page.locator("#f-removed").get_by_label("Fasteners, one kind a line").fill("")
    page.get_by_role("button", name="It is off").click()
    expect(page.get_by_role("alert")).to_contain_text("reference mark of speed ring is not noted")
    found = Axe().run(page)
    assert found.violations_count == 0, found.generate_report()


@pytest.mark.parametrize("path", [STRIP, REFIT])
def test_the_step_is_read_at_arms_length_and_needs_no_scrolling(looked_at: Page, path: str) -> None:
    looked_at.set_viewport_size(TABLET)
    looked_at.goto(path)
    name = looked_at.get_by_role("heading", level=1)
    size_px = float(name.evaluate("each => parseFloat(getComputedStyle(each).fontSize)"))
    assert size_px * CAP_HEIGHT_EM / TABLET_PX_PER_MM >= 12
    for what in (".state", ".next-hazard", ".step", ".owed-side .tally >> nth=0"):
        box = looked_at.locator(what).bounding_box()
        assert box is not None
        assert box["y"] + box["height"] <= TABLET["height"], what


def test_a_phone_cuts_neither_the_ledger_nor_the_serial_number(looked_at: Page) -> None:
    looked_at.set_viewport_size({"width": 390, "height": 844})
    for path in ("/jobs/J2/ledger", "/jobs/J2/ledger?by=cell"):
        looked_at.goto(path)
        assert looked_at.evaluate("[...document.querySelectorAll('.scroll, .job-name .serial')]"
                                  ".every((each) => each.scrollWidth <= each.clientWidth)")  # fmt: skip


@pytest.mark.parametrize("path", [STRIP, REFIT, "/jobs/J2", "/take-in", "/jobs/J2/cleaning", "/jobs/J2/lubrication"])
def test_what_is_touched_is_large_enough_for_a_gloved_finger(looked_at: Page, path: str) -> None:
    looked_at.set_viewport_size(TABLET)
    looked_at.goto(path)
    found = looked_at.evaluate(TOUCHED)
    assert len(found) > 10
    small = [what for what, width, height in found if width < 47.9 or height < 47.9]
    assert not small


def test_a_hazard_is_black_on_paper_where_no_ground_is_printed(page: Page, busy: Served) -> None:
    page.goto("/jobs/J2")
    page.emulate_media(media="print")
    color = page.locator(".hazard").first.evaluate("(each) => getComputedStyle(each).color")
    assert color == "rgb(22, 21, 15)"


def test_one_press_of_the_pedal_enters_nothing_and_the_second_enters(page: Page, busy: Served) -> None:
    page.goto(REFIT)
    answer = page.locator(".first").get_by_role("button", name="Answer")
    n_before = len(busy.workshop.journal("J2"))
    page.keyboard.press("PageDown")
    page.keyboard.press("PageDown")  # a contact that bounces, at once
    expect(answer).to_be_focused()
    expect(answer).to_have_class("primary armed")
    expect(page.locator("#said")).to_contain_text("Press again: Answer")
    page.wait_for_timeout(400)
    page.keyboard.press("PageUp")
    expect(answer).not_to_be_focused()
    assert len(busy.workshop.journal("J2")) == n_before
    page.wait_for_timeout(400)
    page.keyboard.press("PageDown")
    page.wait_for_timeout(400)
    page.keyboard.press("PageDown")
    expect(page.get_by_role("button", name="Back, with all of it")).to_be_visible()
    assert len(busy.workshop.journal("J2")) == n_before + 1


def test_the_pedal_walks_from_field_to_button_in_the_strip_down(page: Page, busy: Served) -> None:
    page.goto(STRIP)
    walked = []
    for _ in range(2):
        page.keyboard.press("PageDown")
        walked.append(page.evaluate("document.activeElement.name || document.activeElement.textContent"))
        page.wait_for_timeout(400)
    assert walked == ["mark", "Note the mark"]


def test_a_doubled_tap_enters_once(page: Page, busy: Served) -> None:
    page.goto(STRIP)
    n_before = len(busy.workshop.journal("J2"))
    page.get_by_placeholder("The mark as it stands now").fill("notch at B, one tooth late")
    page.get_by_role("button", name="Note the mark").dblclick()
    page.wait_for_load_state()
    expect(page.locator(".first")).to_have_count(0)
    assert len(busy.workshop.journal("J2")) == n_before + 1


def test_a_field_is_filled_with_what_the_last_camera_had_only_when_asked(page: Page, busy: Served) -> None:
    page.goto(STRIP)
    fasteners = page.locator("#f-removed").get_by_label("Fasteners, one kind a line")
    expect(fasteners).to_have_value("")
    page.get_by_role("button", name="Fill in: 3 × M1.7").click()
    expect(fasteners).to_have_value("3 × M1.7 × 4 cheese")


def test_the_bench_works_without_scripts(chromium: Browser, busy: Served) -> None:
    context = chromium.new_context(base_url=busy.address, viewport=TABLET, java_script_enabled=False)
    page = context.new_page()
    page.goto(STRIP)
    page.get_by_placeholder("The mark as it stands now").fill("notch at B")
    page.get_by_role("button", name="Note the mark").click()
    page.locator("#f-removed").get_by_label("Fasteners, one kind a line").fill("3 x M1.7 x 4 cheese")
    page.get_by_role("button", name="It is off").click()
    page.get_by_label("Your reason to enter it despite the refusal").fill("the grub came out with the ring")
    page.get_by_role("button", name="Enter it despite the refusal").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("slow train")
    context.close()


def test_the_picture_is_walked_with_the_keyboard_and_says_why(page: Page, busy: Served) -> None:
    page.goto("/jobs/J2/order")
    expect(page.locator("a.node")).to_have_count(3)  # two parts and the check
    page.locator("#picture").focus()
    page.keyboard.press("Tab")
    first = page.locator("a.node").first
    expect(first).to_be_focused()
    expect(page.locator("#why")).to_have_text(first.get_attribute("aria-label") or "")
    page.keyboard.press("Enter")
    expect(page.locator(".in-words li").first).to_be_focused()


def test_a_timer_runs_down_by_the_servers_clock_and_says_loudly_when_it_is_over(page: Page, busy: Served) -> None:
    page.clock.install(time=datetime(2000, 1, 1, tzinfo=UTC))  # this tablet's clock is far off
    page.goto("/jobs/J2/cleaning")
    left = page.locator("time.left").first
    page.clock.run_for(2000)
    expect(left).to_have_text(re.compile(r"\([0-4]:\d\d left\)"))
    page.clock.run_for(5 * 60_000)
    expect(left).to_have_text("⚠ TIME IS UP")
    expect(page.locator("#said")).to_contain_text("Time is up: focus ring, paint dries")
    expect(page).to_have_title(re.compile("Time is up"))
