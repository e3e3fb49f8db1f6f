"""The engine at the tablet: refused in the wrong state, let down, reached, drawn, refitted with its check, closed."""

from collections.abc import Iterator, Mapping
from pathlib import Path
from types import MappingProxyType

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page, expect

from camerawright.journal.state import fold
from camerawright.store.workshop import create_workshop
from tests.browser.conftest import Served, serving, tablet
from tests.browser.test_bench import _job, _say
from tests.browser.test_whole_job import _act, _remove


@pytest.fixture
def served(tmp_path: Path) -> Iterator[Served]:
    """J1 was stripped before; J2 is the next of its kind."""
    with create_workshop(tmp_path / "workshop") as workshop, serving(workshop) as address:
        first = _job(workshop, "41877")
        for part, under in (("cover", []), ("train", ["cover"]), ("blades", ["train"])):
            _say(workshop, first, "removed", part=part, under=under)
        _job(workshop, "41960")
        yield address


@pytest.fixture
def page(chromium: Browser, served: Served) -> Iterator[Page]:
    """A tablet on it."""
    with tablet(chromium, served) as opened:
        yield opened


def _more(
    page: Page, name: str, button: str, fields: Mapping[str, str], chosen: Mapping[str, str] = MappingProxyType({})
) -> None:
    """An entry that stands behind "More"."""
    if not page.locator("details.more[open]").count():
        page.get_by_text("More…", exact=True).click()
    act = page.locator(".more .act").filter(has=page.get_by_text(name, exact=True))
    act.locator("summary").first.click()
    for label, value in chosen.items():
        act.get_by_label(label).select_option(value)
    for label, text in fields.items():
        act.get_by_label(label).fill(text)
    act.get_by_role("button", name=button).click()
    page.wait_for_load_state()


def _clean(page: Page) -> None:
    found = Axe().run(page)
    assert found.violations_count == 0, found.generate_report()


def test_from_a_refusal_in_the_wrong_state_to_the_closing(page: Page, served: Served) -> None:
    page.goto("/jobs/J2/bench/strip")
    needed = {"Part": "cover", "State that it needs": "main spring = let down", "Reason": "the drum flies"}
    _more(page, "Needs a state", "It needs that state", needed)
    _remove(page, "cover", "3 x M1.7 x 4 cheese")
    expect(page.get_by_role("alert")).to_contain_text("cover moves only with main spring let down")
    _clean(page)
    turned = {"Turned": "anticlockwise"}
    _more(page, "Spring", "Enter the turns", {"Spring": "main spring", "Turns (needed)": "2 1/2"}, turned)
    expect(page.locator(".settings")).to_contain_text("main spring let down, 2.5 turns clockwise to put back")
    page.get_by_placeholder("To reach which part?").fill("blades")
    page.get_by_role("button", name="What comes off?").click()
    expect(page.locator("main")).to_contain_text("2 parts before it: 2 certainly, 0 assumed.")
    page.get_by_role("link", name="Bench", exact=True).click()
    for part in ("cover", "train", "blades"):
        _remove(page, part, "2 x M1.2 x 3 cheese")
    hold = {"Check that": "blades snap", "Needs in place": "blades"}
    _more(page, "Hold point", "Set the hold point", hold)
    page.get_by_role("link", name="Order", exact=True).click()
    names = page.locator("a.node .name")
    expect(names).to_have_text(["blades", "blades snap", "train", "cover"])
    tops = [box["y"] for each in page.locator("a.node rect").all() if (box := each.bounding_box())]
    assert tops == sorted(tops)
    page.get_by_role("link", name="Bench", exact=True).click()
    page.get_by_role("link", name="Refit", exact=True).click()
    page.get_by_role("button", name="Back, with all of it").click()
    expect(page.locator(".first")).to_contain_text("Check: blades snap")
    expect(page.get_by_role("button", name="Back, with all of it")).to_have_count(0)
    page.locator(".first").get_by_role("button", name="Passed").click()
    for _ in ("train", "cover"):
        page.get_by_role("button", name="Back, with all of it").click()
        page.wait_for_load_state()
    page.get_by_role("link", name="Job", exact=True).click()
    page.get_by_role("button", name="Close the job").click()
    expect(page.get_by_role("alert")).to_contain_text("main spring: 2.5 turns anticlockwise not put back")
    page.get_by_role("link", name="Bench", exact=True).click()
    back = {"It was": "tensioned", "Turned": "clockwise"}
    _more(page, "Spring", "Enter the turns", {"Spring": "main spring", "Turns (needed)": "2 1/2"}, back)
    _act(page, "Note", "Keep the note", Note="closed up")
    page.get_by_role("link", name="Job", exact=True).click()
    page.get_by_role("button", name="Close the job").click()
    expect(page.locator("#closing")).to_contain_text("the job is closed")
    assert fold(served.workshop.journal("J2")).is_closed
