"""The waveform and the record page at the tablet: without a mouse, with two fingers, in words, and live."""

from collections.abc import Iterator
from pathlib import Path

import pypdfium2
import pytest
import soundfile
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page, expect

from camerawright.bench.catalogue import CATALOGUE
from camerawright.readings.live import Desk, Devices
from camerawright.readings.measuring import measured
from camerawright.store.workshop import Workshop, create_workshop
from camerawright.web import desk
from tests.browser.conftest import PHONE, Served, serving, tablet
from tests.browser.test_bench import _job
from tests.web.recordings import TEST, recording
from tests.web.test_record import LINE_IN, Card


@pytest.fixture
def served(tmp_path: Path) -> Iterator[Served]:
    """A job with a reading."""
    with create_workshop(tmp_path / "workshop") as workshop, serving(workshop) as address:
        job = _job(workshop, "41877")
        (tmp_path / "fire.wav").write_bytes(recording())
        measured(workshop, job, TEST, tmp_path / "fire.wav", marked="1/60", phase="as found")
        yield address


@pytest.fixture
def page(chromium: Browser, served: Served) -> Iterator[Page]:
    """A tablet on it."""
    with tablet(chromium, served) as opened:
        yield opened


def _clean(page: Page) -> None:
    found = Axe().run(page)
    assert found.violations_count == 0, found.generate_report()


def _to_the_waveform(page: Page) -> None:
    """From the reading's row to its waveform."""
    page.goto("/jobs/J1/measure")
    page.get_by_text("Details of 1/60").click()
    page.get_by_role("link", name="waveform of recording").click()


def _drawn(page: Page) -> int:
    """How many pixels of the canvas are not white."""
    return int(
        page.evaluate(
            """() => { const c = document.querySelector('#wave canvas');
            const d = c.getContext('2d').getImageData(0, 0, c.width, c.height).data; let n = 0;
            for (let i = 0; i < d.length; i += 4) if (d[i] + d[i+1] + d[i+2] < 500) n++; return n; }"""
        )
    )


def test_the_waveform_is_seen_from_the_whole_to_the_sample_by_keys_and_buttons_alone(page: Page) -> None:
    _to_the_waveform(page)
    words = page.locator("#wave-words")
    expect(words).to_contain_text("firings 1 to 6")
    assert _drawn(page) > 1000
    page.locator("#wave").focus()
    page.keyboard.press("n")
    expect(words).to_contain_text("firing 1, effective")
    expect(words).to_contain_text("±")
    page.keyboard.press("n")
    expect(words).to_contain_text("firing 2, effective")
    for _ in range(12):
        page.keyboard.press("+")
    expect(words).to_contain_text("12 samples")
    page.keyboard.press("ArrowRight")
    expect(words).to_contain_text("12 samples")
    page.keyboard.press("Home")
    expect(words).to_contain_text("firings 1 to 6")
    page.get_by_role("button", name="Next firing").click()
    page.get_by_role("button", name="Farther").click()
    page.get_by_role("button", name="Firings overlaid").click()
    expect(words).to_contain_text("6 firings overlaid")
    _clean(page)


def test_wheel_and_two_fingers_zoom_where_they_are(page: Page) -> None:
    _to_the_waveform(page)
    words = page.locator("#wave-words")
    expect(words).to_contain_text("firings 1 to 6")
    before = words.text_content()
    box = page.locator("#wave").bounding_box()
    assert box is not None
    page.mouse.move(box["x"] + box["width"] / 2, box["y"] + 50)
    page.mouse.wheel(0, -600)
    expect(words).not_to_have_text(before or "")
    near = words.text_content()
    page.evaluate(
        """() => { const wave = document.getElementById('wave');
        wave.setPointerCapture = () => {};
        const send = (kind, id, x) => wave.dispatchEvent(
          new PointerEvent(kind, { pointerId: id, clientX: x, bubbles: true }));
        send('pointerdown', 7, 300); send('pointerdown', 8, 700);
        send('pointermove', 7, 100); send('pointermove', 8, 900);
        send('pointerup', 7, 100); send('pointerup', 8, 900); }"""
    )
    expect(words).not_to_have_text(near or "")


def test_firings_appear_while_recording_and_stop_leads_to_the_reading(
    chromium: Browser, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "heard.wav").write_bytes(recording(2))

    class CardDesk(Desk):
        """Records from a card that hears a file, eight times as fast."""

        def __init__(self, workshop: Workshop) -> None:
            devices = Devices(inputs=lambda: (LINE_IN,), opened=lambda *_: Card(tmp_path / "heard.wav", 8))
            super().__init__(workshop, devices)

    monkeypatch.setattr(desk, "Desk", CardDesk)
    with create_workshop(tmp_path / "workshop") as workshop, serving(workshop) as served:
        _job(workshop, "41877")
        with tablet(chromium, served) as page:
            page.goto("/jobs/J1/record")
            _clean(page)
            page.get_by_label("Marked").fill("1/60")
            page.get_by_label("as found").check()
            page.get_by_role("button", name="Record", exact=True).click()
            expect(page.locator("#live-count")).not_to_have_text("0")
            expect(page.locator("#live-firings tr").first).to_contain_text("±")
            _clean(page)
            expect(page.locator("#live-flags")).to_contain_text("press STOP")
            page.get_by_role("button", name="STOP").click()
            page.wait_for_url("**/jobs/J1/measure*")
            expect(page.locator("#readings table.speeds")).to_contain_text("1/60", timeout=15_000)


def test_a_reading_in_full_is_clean_and_no_wider_than_a_phone(page: Page) -> None:
    page.set_viewport_size(PHONE)
    page.goto("/jobs/J1/measure")
    page.evaluate("document.querySelectorAll('#readings details').forEach((each) => { each.open = true; })")
    first = page.locator("#readings .drawn img").first
    first.scroll_into_view_if_needed()
    expect(first).to_have_js_property("complete", value=True)
    assert first.evaluate("(each) => each.naturalWidth") > 0
    assert page.evaluate("document.documentElement.scrollWidth") <= PHONE["width"]
    _clean(page)


def test_the_words_of_the_waveform_tell_the_extremes_of_its_samples(page: Page, tmp_path: Path) -> None:
    samples, _ = soundfile.read(tmp_path / "fire.wav")
    low, high = (f"{100 * each:.1f}".replace("-", "−") for each in (samples.min(), samples.max()))
    _to_the_waveform(page)
    expect(page.locator("#wave-words")).to_contain_text(f"recorded within {low} % and {high} % of full scale")


def test_paper_says_whose_camera_it_is_and_holds_what_is_folded(page: Page) -> None:
    page.goto("/jobs/J1/measure")
    budget = page.get_by_text("Uncertainty of the mean, line by line").first
    expect(budget).to_be_hidden()
    page.emulate_media(media="print")
    expect(page.locator(".job-name")).to_contain_text("no. 41877 ·")
    expect(page.locator(".job-name .printed")).to_be_visible()
    expect(page.locator(".job-nav")).to_be_hidden()
    assert page.evaluate("e => e.getBoundingClientRect().height", budget.element_handle()) > 0


def test_every_sheet_of_paper_is_headed_and_none_shows_a_button(page: Page) -> None:
    page.goto("/jobs/J1/measure")
    sheets = [sheet.get_textpage().get_text_range() for sheet in pypdfium2.PdfDocument(page.pdf(format="A4"))]
    assert len(sheets) > 1
    for sheet in sheets:
        assert sheet.startswith("J1 Orlmann")
        assert "no. 41877 · Tobias Fenn" in sheet
    _to_the_waveform(page)
    expect(page.get_by_role("button", name="Nearer")).to_be_visible()
    page.emulate_media(media="print")
    expect(page.get_by_role("button", name="Nearer")).to_be_hidden()
    expect(page.locator(".job-name .printed")).to_be_visible()


def test_the_test_chosen_by_arrow_keys_stays_in_sight_on_a_phone(page: Page) -> None:
    page.set_viewport_size(PHONE)
    page.goto("/jobs/J1/measure")
    page.get_by_text("Send recordings").click()
    page.locator("input[name=test]:checked").focus()
    for _ in CATALOGUE:
        page.keyboard.press("ArrowDown")
        expect(page.locator("input[name=test]:focus")).to_be_in_viewport(ratio=1)


def test_a_verdict_is_read_on_a_phone_without_moving_the_table(page: Page) -> None:
    page.set_viewport_size(PHONE)
    page.goto("/jobs/J1/measure")
    ends = page.evaluate(  # the widest mark, error and verdict that a row may hold
        """() => { const row = document.querySelector("table.speeds .main");
        const [mark, gives, error, verdict] = row.children;
        mark.textContent = "1/1000"; gives.textContent = "1/1234 s (0.8104 ms)"; error.textContent = "−0.35 ± 0.12";
        verdict.innerHTML = '<span class="verdict verdict-undecided">? undecided</span>';
        return [verdict.firstChild, row.closest(".scroll")].map((each) => each.getBoundingClientRect().right); }"""
    )
    assert ends[0] <= ends[1]
