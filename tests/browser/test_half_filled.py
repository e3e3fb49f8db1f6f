"""A form half filled in: what the Enter key, another entry and a refusal do to it."""

from collections.abc import Iterator
from datetime import date
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, expect

from camerawright.journal.state import fold
from camerawright.store.workshop import Workshop, create_workshop
from camerawright.workshop.rows import Camera, Owner, Visit
from tests.browser.conftest import serving, tablet

STRIP = "/jobs/J1/bench/strip"


@pytest.fixture
def workshop(tmp_path: Path) -> Iterator[Workshop]:
    """A camera that nobody touched yet."""
    with create_workshop(tmp_path / "workshop") as made:
        camera = Camera(maker="Orlmann", model="Falter 6x6", serial="41877")
        made.take_in(Owner(name="Tobias Fenn"), camera, Visit(taken_in=date(2026, 3, 2)))
        yield made


@pytest.fixture
def page(chromium: Browser, workshop: Workshop) -> Iterator[Page]:
    """A tablet on its bench."""
    with serving(workshop) as served, tablet(chromium, served) as opened:
        opened.goto(STRIP)
        yield opened


def _entries(workshop: Workshop) -> list[str]:
    return [entry.kind for entry in workshop.journal(workshop.jobs()[0].id)]


def _note(page: Page, words: str) -> None:
    page.locator("#act-noted summary").click()
    page.locator("#noted-note").fill(words)
    page.locator("#f-noted button").click()
    expect(page.locator(".last")).to_contain_text(words)


def test_the_enter_key_never_files_a_half_filled_removal(page: Page, workshop: Workshop) -> None:
    for field in ("part", "cell", "part"):
        page.locator(f"#removed-{field}").fill("dial")
        page.locator(f"#removed-{field}").press("Enter")
    _note(page, "the page still answers")
    assert _entries(workshop) == ["noted"]


def test_the_enter_key_never_files_it_after_a_refusal_either(page: Page, workshop: Workshop) -> None:
    page.locator("#removed-part").fill("dial")
    page.locator("#removed-under").evaluate("field => { field.closest('details').open = true; field.value = 'cover' }")
    page.locator("#f-removed button.big").click()
    page.locator("#overruled").fill("it is cut away")
    page.locator("#removed-part").press("Enter")
    _note(page, "the page still answers")
    assert _entries(workshop) == ["noted"]


def test_a_half_typed_form_survives_another_entry(page: Page, workshop: Workshop) -> None:
    page.locator("#removed-part").fill("dial")
    page.locator("#removed-fasteners").fill("3 x M1.7")
    page.get_by_label("Looked beneath").check()
    _note(page, "tea")
    expect(page.locator("#removed-part")).to_have_value("dial")
    expect(page.locator("#removed-fasteners")).to_have_value("3 x M1.7")
    expect(page.get_by_label("Looked beneath")).to_be_checked()
    page.locator("#f-removed button.big").click()
    expect(page.locator(".last")).to_contain_text("Dial came off")
    expect(page.locator("#removed-part")).to_have_value("")
    expect(page.locator("#removed-fasteners")).to_have_value("")
    (off,) = fold(workshop.journal(workshop.jobs()[0].id)).off
    assert off.removed is not None
    assert (off.removed.looked_beneath, len(off.removed.fasteners)) == (True, 1)


def test_a_refused_form_survives_another_entry(page: Page) -> None:
    page.locator("#removed-part").fill("dial")
    page.locator("#removed-fasteners").fill("3 x M1.7")
    page.locator("#removed-under").evaluate("field => { field.closest('details').open = true; field.value = 'cover' }")
    page.locator("#f-removed button.big").click()
    expect(page.locator("#refused")).to_contain_text("dial lies under cover")
    _note(page, "looked again")
    expect(page.locator("#removed-part")).to_have_value("dial")
    expect(page.locator("#removed-fasteners")).to_have_value("3 x M1.7")


def test_a_draft_of_one_part_does_not_come_back_in_the_form_of_another(page: Page) -> None:
    page.goto(f"{STRIP}?part=dial")
    page.locator("#removed-fasteners").fill("3 x M1.7")
    page.goto(f"{STRIP}?part=ring")
    expect(page.locator("#removed-fasteners")).to_have_value("")
    page.goto(f"{STRIP}?part=dial")
    expect(page.locator("#removed-fasteners")).to_have_value("3 x M1.7")


def test_a_refused_form_is_cleared_at_a_touch_and_stays_empty(page: Page, workshop: Workshop) -> None:
    """The facts of one part do not go to another that is typed over it."""
    for _ in range(2):
        page.locator("#removed-part").fill("front cell")
        page.locator("#removed-shims").fill("1 x 0.10 beneath")
        page.locator("#f-removed button.big").click()
    expect(page.locator("#refused")).to_contain_text("is already off")
    page.get_by_role("link", name="Clear the form").click()
    expect(page.locator("#removed-part")).to_have_value("")
    expect(page.locator("#removed-shims")).to_have_value("")
    _note(page, "another entry")
    expect(page.locator("#removed-shims")).to_have_value("")
