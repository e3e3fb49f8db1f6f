"""The measure page at the tablet and on a phone: files dropped, marks proposed and asked about, one table."""

from base64 import b64encode
from collections.abc import Iterator
from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Locator, Page, expect

from camerawright.bench.catalogue import find_test
from camerawright.bench.shutter import simulate
from camerawright.journal.entries import Phase
from camerawright.journal.state import fold
from camerawright.readings.measuring import measured
from camerawright.store.workshop import create_workshop
from camerawright.trouble import Refused
from tests.browser.conftest import PHONE, TABLET, Served, serving, tablet
from tests.browser.test_bench import _job
from tests.web.recordings import recording, wav

MEASURE = "/jobs/J1/measure"
DIAL_S = (1 / 4, 1 / 8, 1 / 16, 1 / 32, 1 / 64, 1 / 128)
DIAL = "1/4, 1/8, 1/15, 1/30, 1/60, 1/125"


@pytest.fixture
def served(tmp_path: Path) -> Iterator[Served]:
    """A job without a reading."""
    with create_workshop(tmp_path / "workshop") as workshop, serving(workshop) as address:
        _job(workshop, "41877")
        yield address


@pytest.fixture
def page(chromium: Browser, served: Served) -> Iterator[Page]:
    """A tablet on it."""
    with tablet(chromium, served) as opened:
        yield opened


def _marks(served: Served) -> list[object]:
    return [entry.setup["marked"] for entry in fold(served.workshop.journal("J1")).measured]


def _row(page: Page, name: str) -> Locator:
    return page.locator("#waiting article").filter(has_text=name)


def _drop(page: Page, *names: str) -> None:
    """Drop recordings on the page, as a file manager does."""
    given = [(name, b64encode(recording(seed)).decode()) for seed, name in enumerate(names, start=1)]
    page.evaluate(
        """(given) => { const held = new DataTransfer();
        for (const [name, text] of given)
          held.items.add(new File([Uint8Array.from(atob(text), (c) => c.charCodeAt(0))], name));
        for (const kind of ["dragover", "drop"])
          document.getElementById("main").dispatchEvent(
            new DragEvent(kind, { dataTransfer: held, bubbles: true, cancelable: true })); }""",
        given,
    )


def test_two_files_are_dropped_and_each_is_entered_with_its_own_mark(page: Page, served: Served) -> None:
    page.goto(MEASURE)
    _drop(page, "slow.wav", "fast.wav")
    expect(page.locator("#chosen li")).to_have_text(["slow.wav, 0.8 MB", "fast.wav, 0.8 MB"])
    button = page.get_by_role("button", name="Send and measure")
    expect(button).to_be_focused()
    button.click()
    expect(_row(page, "fast.wav")).to_have_attribute("data-status", "proposed", timeout=20_000)
    expect(_row(page, "slow.wav").get_by_label("Marked")).to_have_value("1/50")
    assert Axe().run(page).violations_count == 0
    _row(page, "slow.wav").get_by_label("Marked").fill("1/60")  # stays while the other is entered
    _row(page, "fast.wav").get_by_role("button", name="Enter", exact=True).click()
    expect(page.locator("#waiting article")).to_have_count(1, timeout=20_000)
    expect(_row(page, "slow.wav").get_by_label("Marked")).to_have_value("1/60")
    _row(page, "slow.wav").get_by_role("button", name="Enter", exact=True).click()
    expect(page.locator("#waiting article")).to_have_count(0, timeout=20_000)
    expect(page.locator("#readings .main")).to_have_count(2)
    assert _marks(served) == ["1/50", "1/60"]


def test_a_wrong_mark_is_asked_about_and_can_be_mended(page: Page, served: Served) -> None:
    page.goto(MEASURE)
    _drop(page, "fire.wav")
    page.get_by_role("button", name="Send and measure").click()
    row = _row(page, "fire.wav")
    row.get_by_label("Marked").fill("1/250")
    row.get_by_role("button", name="Enter", exact=True).click()
    expect(row).to_contain_text("Is the mark right?", timeout=20_000)
    assert Axe().run(page).violations_count == 0
    assert not _marks(served)
    row.get_by_role("button", name="Enter with this mark").click()
    expect(page.locator("#waiting article")).to_have_count(0, timeout=20_000)
    assert _marks(served) == ["1/50"]


def test_all_are_entered_by_one_press(page: Page, served: Served) -> None:
    page.goto(MEASURE)
    _drop(page, "a.wav", "b.wav", "c.wav")
    page.get_by_role("button", name="Send and measure").click()
    expect(page.locator("#waiting [data-status=proposed]")).to_have_count(3, timeout=30_000)
    page.get_by_role("button", name="Enter all as they stand").click()
    expect(page.locator("#waiting article")).to_have_count(0, timeout=30_000)
    assert len(_marks(served)) == 3


def test_what_is_refused_says_why_and_the_files_stay_chosen(
    page: Page, served: Served, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(*_: object) -> None:
        raise Refused("the disk is full", "free some space, and send it again", "fire.wav")

    page.goto(MEASURE)
    _drop(page, "fire.wav")
    with monkeypatch.context() as patched:
        patched.setattr("camerawright.readings.inbox.Inbox.put", full)
        page.get_by_role("button", name="Send and measure").click()
        expect(page.get_by_role("alert")).to_contain_text("fire.wav: the disk is full. Free some space")
    page.get_by_role("button", name="Send again").click()
    expect(_row(page, "fire.wav")).to_have_attribute("data-status", "proposed", timeout=20_000)
    expect(page.get_by_role("alert")).to_have_count(0)


def test_without_a_script_a_recording_goes_in_too(chromium: Browser, served: Served, tmp_path: Path) -> None:
    (tmp_path / "fire.wav").write_bytes(recording())
    context = chromium.new_context(base_url=served.address, java_script_enabled=False)
    page = context.new_page()
    page.goto(MEASURE)
    page.locator("#recordings").set_input_files(tmp_path / "fire.wav")
    page.get_by_role("button", name="Send and measure").click()
    for _ in range(50):
        if not page.locator("#waiting [data-status=measuring]").count():
            break
        page.get_by_role("link", name="Look again").click()
    page.get_by_label("Marked").fill("1/60")
    page.get_by_role("button", name="Enter", exact=True).click()
    for _ in range(50):
        if not page.locator("#waiting article").count():
            break
        page.goto(MEASURE)
    expect(page.locator("#readings .main")).to_contain_text("1/60")
    context.close()
    assert _marks(served) == ["1/60"]


def test_readings_are_typed_into_a_table_with_enter_from_cell_to_cell(page: Page, served: Served) -> None:
    """A gauge that types like a keyboard ends each figure with Enter."""
    page.goto(f"{MEASURE}?test=register")
    cells = page.locator(".typed input:visible")
    n_columns = page.locator(".typed th:visible").count()
    n_cells = cells.count()
    cells.last.focus()
    page.keyboard.type("31.50")
    page.keyboard.press("Enter")
    expect(cells).to_have_count(n_cells + n_columns)
    expect(cells.nth(n_cells)).to_be_focused()
    page.keyboard.type("1")
    page.keyboard.press("Enter")
    expect(cells.nth(n_cells + 1)).to_be_focused()
    assert cells.nth(n_cells).get_attribute("name") != cells.nth(n_cells - n_columns).get_attribute("name")


def test_a_whole_dial_as_found_and_as_left_is_short_and_no_wider_than_a_phone(
    page: Page, served: Served, tmp_path: Path
) -> None:
    """Two recordings of six speeds: what twelve readings took 6400 px for."""
    phases: tuple[Phase, ...] = ("as found", "as left")
    for seed, phase in enumerate(phases):
        scene = simulate.with_noise_db(simulate.example(DIAL_S, seed, error_stops=0.4 - 0.3 * seed, firings=3), 48)
        path = tmp_path / f"{phase}.wav"
        path.write_bytes(wav(simulate.recording(scene, seed)[0], int(scene.card.rate_hz)))
        measured(served.workshop, "J1", find_test("shutter"), path, marked=DIAL, phase=phase)
    page.goto(MEASURE)
    expect(page.locator("#readings .main")).to_have_count(6)
    assert page.evaluate("document.documentElement.scrollHeight") < 2000
    assert page.evaluate("document.documentElement.scrollWidth") <= TABLET["width"]
    page.set_viewport_size(PHONE)
    assert page.evaluate("document.documentElement.scrollWidth") <= PHONE["width"]
    assert page.evaluate("document.documentElement.scrollHeight") < 3500
    assert Axe().run(page).violations_count == 0
