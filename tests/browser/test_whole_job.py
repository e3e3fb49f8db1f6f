"""One camera through the whole job, as a repairer does it on the tablet."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, expect

from camerawright.journal.state import fold
from camerawright.store.workshop import create_workshop
from tests.browser.conftest import Served, serving, tablet
from tests.web.recordings import recording


def _take_in(page: Page) -> None:
    page.goto("/")
    page.get_by_role("link", name="Take a camera in").click()
    page.get_by_label("Name", exact=False).first.fill("Ines Marrow")
    page.get_by_label("Maker").fill("Orlmann")
    page.get_by_label("Model").fill("Falter 6x6")
    page.get_by_label("Serial number").fill("41877")
    page.get_by_label("Variant").fill("second pattern")
    page.get_by_label("The owner’s words").fill("The slow speeds hang.")
    page.get_by_role("button", name="Take it in").click()
    expect(page.get_by_role("alert")).to_contain_text("Not entered")  # nobody asked about the film yet
    expect(page.get_by_label("The owner’s words")).to_have_value("The slow speeds hang.")
    page.get_by_text("No, the owner says it is empty").click()
    page.get_by_role("button", name="Take it in").click()
    expect(page.get_by_role("heading", level=1)).to_contain_text("Orlmann Falter 6x6")


def _measure(page: Page, file: Path, phase: str) -> None:
    page.get_by_role("link", name="Measure", exact=True).click()
    if not page.locator("#recordings").is_visible():
        page.get_by_text("Send recordings").click()
    page.get_by_text(phase, exact=True).first.click()
    page.locator("#recordings").set_input_files(file)
    page.get_by_role("button", name="Send and measure").click()
    page.get_by_label("Marked").fill("1/60")
    page.get_by_role("button", name="Enter", exact=True).click()
    expect(page.locator(f"#readings .main > td.gives:not(.quiet)[data-phase='{phase}']")).to_be_visible()


def _act(page: Page, name: str, button: str, **fields: str) -> None:
    act = page.locator(".act").filter(has=page.get_by_text(name, exact=True))
    act.locator("summary").first.click()
    for label, text in fields.items():
        act.get_by_label(label).fill(text)
    act.get_by_role("button", name=button).click()
    page.wait_for_load_state()


def _remove(page: Page, part: str, fasteners: str = "", shims: str = "") -> None:
    page.get_by_label("Came off").fill(part)
    page.locator("#f-removed").get_by_label("Fasteners, one kind a line").fill(fasteners)
    page.locator("#f-removed").get_by_label("Shims, one place a line").fill(shims)
    page.get_by_role("button", name="It is off").click()
    page.wait_for_load_state()


def _strip(page: Page) -> None:
    page.get_by_role("link", name="Bench", exact=True).click()
    _act(page, "State", "Set it", **{"State of the machine": "shutter = released, focus = infinity"})
    expect(page.locator(".settings")).to_contain_text("shutter released")
    page.get_by_text("More…", exact=True).click()
    _act(
        page,
        "Order",
        "Enter the order",
        **{"Comes off first": "dial", "Comes off after it": "top plate", "Reason": "covers a screw"},
    )
    _remove(page, "top plate", "3 x M1.7 x 4 cheese", "1 x 0.10 NE corner")
    refusal = page.get_by_role("alert")
    expect(refusal).to_contain_text("dial comes off before top plate: covers a screw")
    expect(refusal).to_be_focused()
    expect(page.locator("#f-removed").get_by_label("Fasteners, one kind a line")).to_have_value("3 x M1.7 x 4 cheese")
    page.get_by_label("Your reason to enter it").fill("the dial was missing")
    page.get_by_role("button", name="Enter it despite the refusal").click()
    expect(page.locator(".counts")).to_contain_text("3 screws out")
    _act(page, "Caution", "Enter the caution", Part="slow train", **{"What can happen": "spring jumps"})
    expect(page.get_by_role("alert")).to_contain_text("no part was called “slow train” before")
    page.get_by_role("button", name="“slow train” is new").click()
    expect(page.get_by_role("alert")).to_have_count(0)
    _act(
        page, "Reminder", "Remind me then", **{"When this goes back": "slow train", "Do this first": "hook the spring"}
    )
    _act(page, "Aid in", "The aid is in", **{"Temporary aid": "wedge", "Where it sits": "behind the blades"})
    _remove(page, "slow train", "2 x M1.2 x 3 cheese")
    expect(page.locator(".counts")).to_contain_text("1 aid in")


def _refit(page: Page) -> None:
    page.get_by_role("link", name="Refit", exact=True).click()
    expect(page.get_by_role("heading", level=1)).to_have_text("slow train")
    expect(page.locator(".step .hazard")).to_contain_text("spring jumps")
    expect(page.get_by_role("button", name="Back, with all of it")).to_have_count(0)
    page.locator(".first").get_by_role("button", name="Answer").click()
    page.get_by_role("button", name="Back, with all of it").click()
    expect(page.get_by_role("alert")).to_contain_text("wedge")  # it would be shut in
    page.get_by_role("link", name="Bench", exact=True).click()
    page.get_by_role("button", name="wedge is out again").click()
    page.get_by_role("link", name="Refit", exact=True).click()
    page.get_by_role("button", name="Back, with all of it").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("top plate")
    page.get_by_role("button", name="Back, with all of it").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("Everything is back")


def _close(page: Page) -> None:
    page.get_by_role("link", name="Job", exact=True).click()
    page.get_by_label("What you worked on").fill("strip and set")
    page.get_by_label("Minutes").fill("90")
    page.get_by_role("button", name="Enter the time").click()
    page.get_by_role("button", name="Close the job").click()
    page.get_by_role("button", name="Hand it back").click()
    expect(page.locator("#closing")).to_contain_text("Handed back to Ines Marrow")


@pytest.fixture
def served(tmp_path: Path) -> Iterator[Served]:
    """An empty workshop, served."""
    with create_workshop(tmp_path / "workshop") as workshop, serving(workshop) as address:
        yield address


@pytest.fixture
def page(chromium: Browser, served: Served) -> Iterator[Page]:
    """A tablet on it."""
    with tablet(chromium, served) as opened:
        yield opened


def test_a_camera_goes_in_and_comes_out(page: Page, served: Served, tmp_path: Path) -> None:
    found, left = tmp_path / "found.wav", tmp_path / "left.wav"
    found.write_bytes(recording(1))
    left.write_bytes(recording(2))
    _take_in(page)
    _measure(page, found, "as found")
    _strip(page)
    _refit(page)
    _measure(page, left, "as left")
    _close(page)
    for which in ("certificate", "refit", "bill"):
        paper = page.request.get(f"/jobs/J1/papers/{which}.pdf")
        assert paper.ok
        assert paper.body().startswith(b"%PDF-")
    card = page.locator("img.plot")
    card.scroll_into_view_if_needed()
    page.wait_for_function("() => document.querySelector('img.plot').naturalWidth > 100")
    state = fold(served.workshop.journal("J1"))
    assert state.handed_back is not None
    assert {reading.phase for reading in state.measured} == {"as found", "as left"}
