"""The other pages of a job, and what may go wrong on the way."""

import json
import re
from collections.abc import AsyncIterator
from datetime import UTC, date, datetime, timedelta
from html import unescape
from io import BytesIO

import pytest
from PIL import Image

from camerawright.journal.entries import ENTRY, Entry, Noted, Removed
from camerawright.journal.state import fold
from camerawright.refit.routes import route_of
from camerawright.store.workshop import Workshop
from camerawright.trouble import Refused
from camerawright.workshop.rows import Camera, Job, Owner, Visit
from tests.store.invented import INES, MARK, VISIT
from tests.web.conftest import Browser, fields, words

STRIP = "/jobs/J1/bench/strip"
HOSTILE = "<script>alert(1)</script>\"'><b>&amp;{{ 777*777 }}"


def a_photo(kind: str = "PNG", size: tuple[int, int] = (40, 30)) -> bytes:
    """A picture of the kind."""
    out = BytesIO()
    Image.new("RGB", size, "white").save(out, kind)
    return out.getvalue()


def test_hours_and_parts_add_up_on_the_job_page(browser: Browser, workshop: Workshop, job: Job) -> None:
    (workshop.folder / "workshop.toml").write_text('hourly_rate_minor = 6000\ncurrency = "EUR"\n', encoding="utf-8")
    browser.fill("/jobs/J1", "worked", task="strip and clean", minutes="90")
    browser.fill("/jobs/J1", "supplied", item="spring", count="2", price_minor="3,25")
    page = words(browser.get("/jobs/J1"))
    assert "strip and clean 1 h 30 min 90.00 EUR" in page
    assert "To pay 96.50 EUR" in page


def test_a_price_that_is_none_comes_back_with_what_was_typed(browser: Browser, workshop: Workshop, job: Job) -> None:
    answer = browser.fill("/jobs/J1", "supplied", item="spring", count="2", price_minor="3.2555")
    assert "“3.2555” is not a price" in words(answer)
    assert not workshop.journal(job.id)


def test_closing_is_refused_with_everything_that_stands_against_it_at_once(browser: Browser, job: Job) -> None:
    browser.fill(STRIP, "removed", part="dial", fasteners="1 x M1.4 grub")
    browser.fill(STRIP, "aid fitted", aid="wedge", place="at the hinge")
    browser.fill(STRIP, "reminded", part="closing", todo="lacquer the screws")
    refused = browser.fill("/jobs/J1", "closed")
    assert refused.status_code == 422
    for reason in ("dial is still off", "the aid wedge is still in", "owed: lacquer the screws"):
        assert reason in words(refused)


def test_a_job_whose_balance_is_zero_closes_and_is_handed_back(browser: Browser, workshop: Workshop, job: Job) -> None:
    browser.fill(STRIP, "removed", part="dial")
    browser.fill("/jobs/J1/bench/refit", "refitted")
    assert browser.fill("/jobs/J1", "closed").status_code == 303
    assert browser.fill("/jobs/J1", "handed back").status_code == 303
    assert fold(workshop.journal(job.id)).handed_back is not None
    assert "Handed back to Ines Marrow" in words(browser.get("/jobs/J1"))


def test_the_cleaning_plan_shows_the_computed_route_with_its_reasons(
    browser: Browser, workshop: Workshop, job: Job
) -> None:
    browser.fill(STRIP, "removed", part="retaining ring", material="brass", finish="nickel plated", soil="old oil")
    route = route_of(fold(workshop.journal(job.id)).off[0])
    page = words(browser.get("/jobs/J1/cleaning"))
    assert route.name in page
    assert all(reason.text in page for reason in route.reasons)
    browser.fill("/jobs/J1/cleaning", "done-1")
    assert "Everything that is off is clean" in words(browser.get("/jobs/J1/cleaning"))


def test_the_journal_shows_what_was_struck_out_as_struck(browser: Browser, job: Job) -> None:
    browser.fill(STRIP, "noted", note="tea break")
    browser.fill(STRIP, "undo")
    page = browser.get("/jobs/J1/journal")
    assert "<s>Note: tea break</s>" in page.text
    assert "Struck out “note: tea break”" in words(page)


def test_a_journal_taken_out_goes_in_again_and_twice_is_once(browser: Browser, workshop: Workshop, job: Job) -> None:
    browser.fill(STRIP, "removed", part="dial")
    browser.fill(STRIP, "noted", note="tea break")
    file = browser.get("/jobs/J1/journal.jsonl").content
    assert [json.loads(line)["kind"] for line in file.splitlines()] == ["removed", "noted"]
    answer = browser.send("POST", "/jobs/J1/journal/import", files={"journal_file": ("j.jsonl", file)})
    assert answer.headers["location"] == "/jobs/J1/journal?new=0&known=2"
    assert len(workshop.journal(job.id)) == 2


def test_a_broken_journal_file_is_refused_whole_with_its_line_numbers(
    browser: Browser, workshop: Workshop, job: Job
) -> None:
    good = ENTRY.validate_python({"kind": "noted", "at": "2026-03-02T09:00:00Z", "note": "x"}).model_dump_json()
    file = f"{good}\nnot json\n\n{good[:-1]}\n".encode()
    answer = browser.send("POST", "/jobs/J1/journal/import", files={"journal_file": ("j.jsonl", file)})
    assert answer.status_code == 422
    assert "line 2" in words(answer)
    assert "line 4" in words(answer)
    latin = browser.send("POST", "/jobs/J1/journal/import", files={"journal_file": ("j.jsonl", b"\n\xe9")})
    assert "line 2: it is not text in UTF-8" in words(latin)
    assert not workshop.journal(job.id)


@pytest.mark.parametrize("kind", ["PNG", "JPEG", "TIFF", "WEBP"])
def test_a_photo_is_kept_as_it_came_and_goes_out_as_a_picture_alone(
    browser: Browser, workshop: Workshop, job: Job, kind: str
) -> None:
    data = a_photo(kind)
    browser.fill(STRIP, "removed", part="dial", files={"photo_file": ("dial.any", data)})
    sha256 = getattr(workshop.journal(job.id)[0], "photo")  # noqa: B009 any kind of entry
    assert workshop.media(sha256).read_bytes() == data
    shown = browser.get(f"/photos/{sha256}")
    assert shown.headers["content-type"] == "image/jpeg"
    assert Image.open(BytesIO(shown.content)).size == (40, 30)
    original = browser.get(f"/photos/{sha256}/original")
    with Image.open(BytesIO(original.content)) as sent, Image.open(BytesIO(data)) as came:
        assert (sent.size, sent.format) == (came.size, came.format)
    assert original.headers["x-content-type-options"] == "nosniff"


@pytest.mark.parametrize(
    "data", [b"no photo at all", b"", a_photo()[:60], b"<svg xmlns='http://www.w3.org/2000/svg'/>"]
)
def test_a_photo_that_is_none_is_refused_and_the_rest_of_the_form_is_kept(
    browser: Browser, workshop: Workshop, job: Job, data: bytes
) -> None:
    answer = browser.fill(STRIP, "removed", part="dial", place="under it", files={"photo_file": ("d.jpg", data)})
    assert answer.status_code == 422
    assert "d.jpg" in words(answer)
    assert 'value="under it"' in answer.text
    assert not workshop.journal(job.id)


def test_a_photo_of_a_refused_form_need_not_be_chosen_again(browser: Browser, workshop: Workshop, job: Job) -> None:
    refused = browser.fill(STRIP, "removed", part="", files={"photo_file": ("d.png", a_photo())})
    assert "The photo you sent is kept" in words(refused)
    browser.send("POST", STRIP, data={**fields(refused, "removed"), "part": "dial"})
    assert getattr(workshop.journal(job.id)[0], "photo", None) is not None


def test_a_kept_recording_does_not_go_out_as_a_photo(browser: Browser, workshop: Workshop) -> None:
    sha256 = workshop.keep(b"RIFF" + bytes(40), suffix=".wav")
    assert browser.get(f"/photos/{sha256}").status_code == 404
    assert browser.get(f"/photos/{sha256}/original").status_code == 404


@pytest.mark.parametrize(
    "path", ["/jobs/J9", "/jobs/J9/bench/strip", "/jobs/J9/journal", "/jobs/xyz", "/jobs/J9/papers/bill.pdf"]
)
def test_a_job_that_does_not_exist_is_named_with_those_near_it(browser: Browser, job: Job, path: str) -> None:
    page = browser.get(path)
    assert page.status_code == 404
    assert "J1" in words(page)


def test_a_form_for_a_job_that_does_not_exist_enters_nothing(browser: Browser, workshop: Workshop, job: Job) -> None:
    sent = {**browser.form(STRIP, "noted"), "note": "lost"}
    answer = browser.send("POST", "/jobs/J9/bench/strip", data=sent)
    assert answer.status_code == 404
    assert "J1" in words(answer)
    assert not workshop.journal(job.id)


def test_a_workshop_that_cannot_be_written_says_so_and_keeps_what_was_typed(
    browser: Browser, job: Job, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(*_: object, **__: object) -> bool:
        raise Refused("the disk is full, nothing was written", "free some space", "the workshop")

    sent = {**browser.form(STRIP, "noted"), "note": "nearly lost"}
    monkeypatch.setattr(Workshop, "append", full)
    answer = browser.send("POST", STRIP, data=sent)
    assert answer.status_code == 422
    assert "the disk is full" in words(answer)
    assert fields(answer, "noted")["note"] == "nearly lost"


def test_another_process_that_was_faster_makes_the_page_look_again(
    browser: Browser, workshop: Workshop, job: Job, monkeypatch: pytest.MonkeyPatch
) -> None:
    append, raced = Workshop.append, list[bool]()

    def faster(self: Workshop, job_id: str, entry: Entry, *, expected: int | None = None) -> bool:
        if not raced:
            raced.append(append(self, job_id, Removed(at=entry.at, part="dial")))
        return append(self, job_id, entry, expected=expected)

    sent = {**browser.form(STRIP, "removed"), "part": "dial"}
    monkeypatch.setattr(Workshop, "append", faster)
    answer = browser.send("POST", STRIP, data=sent)
    assert "dial is already off" in words(answer)
    assert len(workshop.journal(job.id)) == 1


def test_a_page_that_does_not_exist_is_named_with_those_near_it(browser: Browser) -> None:
    page = browser.get("/take-out")
    assert page.status_code == 404
    assert "There is no page /take-out." in words(page)
    assert 'href="/take-in"' in page.text


def test_a_paper_that_has_nothing_to_say_yet_says_what_is_missing(browser: Browser, job: Job) -> None:
    page = browser.get("/jobs/J1/papers/bill.pdf")
    assert page.status_code == 409
    assert 'href="/jobs/J1">Back to J1</a>' in page.text
    assert "enter what was worked and supplied" in words(page)


def test_the_refit_sheet_downloads_as_a_pdf(browser: Browser, job: Job) -> None:
    browser.fill(STRIP, "removed", part="dial")
    paper = browser.get("/jobs/J1/papers/refit.pdf")
    assert paper.headers["content-type"] == "application/pdf"
    assert paper.content.startswith(b"%PDF-")


def test_more_than_was_agreed_is_refused_before_it_fills_the_disk(
    browser: Browser, job: Job, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("camerawright.web.taking.FORM_MAX_BYTES", 5000)
    answer = browser.fill(STRIP, "removed", part="dial", files={"photo_file": ("d.png", bytes(6000))})
    assert answer.status_code == 413
    assert "MB" in words(answer)

    async def untold_length() -> AsyncIterator[bytes]:
        yield b'--x\r\nContent-Disposition: form-data; name="photo_file"; filename="d"\r\n\r\n'
        for _ in range(10):
            yield bytes(1000)

    untold = browser.send(
        "POST", STRIP, content=untold_length(), headers={"Content-Type": "multipart/form-data; boundary=x"}
    )
    assert untold.status_code == 413


def test_names_full_of_markup_stay_literal_on_every_page(browser: Browser, workshop: Workshop) -> None:
    job = workshop.take_in(
        Owner(name=HOSTILE, contact=HOSTILE),
        Camera(maker=HOSTILE, model=HOSTILE, variant=HOSTILE, serial=HOSTILE),
        Visit(taken_in=date(2026, 3, 2), owners_words=HOSTILE, accessories=(HOSTILE,), wanted=HOSTILE),
    )
    browser.fill(STRIP, "marked", part=HOSTILE, mark=HOSTILE)
    browser.fill(STRIP, "cautioned", part=HOSTILE, hazard=HOSTILE)
    browser.fill(STRIP, "removed", part=HOSTILE, material=HOSTILE, soil=HOSTILE, cell=HOSTILE, looked_beneath="yes")
    browser.fill(STRIP, "removed", part=HOSTILE, fasteners=HOSTILE)
    assert fold(workshop.journal(job.id)).off
    key = job.camera.variant_key
    browser.fill(STRIP, "needs state", part=HOSTILE, settings=f"{HOSTILE}=x", moves="refit", reason=HOSTILE)
    browser.fill(STRIP, "tension", spring=HOSTILE, turns="1", direction="clockwise")
    pages = ["/", "/take-in", "/variants", "/jobs/J1", STRIP, "/jobs/J1/bench/refit", "/jobs/J1/cleaning"]
    pages += [f"/jobs/J1/{name}" for name in ("order", "ledger", "resume", "seized", "lubrication", "reach")]
    pages += [f"/jobs/J1/reach?part={HOSTILE}", f"/jobs/J1/journal/{workshop.journal(job.id)[0].id}"]
    pages += ["/jobs/J1/journal", "/jobs/J1/measure", f"/jobs/{HOSTILE}", f"{STRIP}?part={HOSTILE}"]
    shown = [browser.get(path) for path in pages] + [browser.get("/variant", params={"key": key})]
    for page in shown:
        assert "<script>alert" not in page.text
        assert "&amp;{{ 777*777 }}" not in page.text
        assert "603729" not in words(page)
    assert sum(HOSTILE in words(page) for page in shown) >= 8


def test_a_job_is_found_and_what_was_worked_on_last_stands_on_top(
    browser: Browser, workshop: Workshop, job: Job
) -> None:
    assert 'role="search"' in browser.get("/").text
    newer = workshop.take_in(INES, MARK, VISIT)
    workshop.append(newer.id, Noted(at=datetime(2031, 5, 4, 12, tzinfo=UTC), note="a word"))
    workshop.append(job.id, Noted(at=datetime(2031, 5, 4, 13, tzinfo=UTC), note="a word"))
    assert re.findall(r'class="job-link" href="/jobs/(J\d+)"', browser.get("/").text) == [job.id, newer.id]


def test_a_long_list_of_jobs_comes_in_pages_and_can_be_searched(browser: Browser, workshop: Workshop) -> None:
    for n in range(121):
        workshop.take_in(
            Owner(name=f"Owner {n}"),
            Camera(maker="Orlmann", model="Falter", serial=f"S{n}"),
            Visit(taken_in=date(2031, 5, 4)),
        )
    ids: list[str] = []
    path = "/"
    while path:
        text = browser.get(path).text
        ids += re.findall(r'class="job-link" href="/jobs/(J\d+)"', text)
        older = re.search(r'rel="next" href="([^"]*)"', text)
        path = f"/{unescape(older[1])}" if older else ""
    assert ids == [f"J{n}" for n in range(121, 0, -1)]
    assert re.findall(r'class="job-link" href="/jobs/(J\d+)"', browser.get("/?find=s77").text) == ["J78"]
    assert "No job has “nobody”" in browser.get("/?find=nobody").text
    assert browser.get("/?bench=99999").status_code == browser.get("/?bench=-1").status_code == 200


def test_a_long_list_of_variants_comes_in_pages(browser: Browser, workshop: Workshop) -> None:
    for n in range(130):
        camera = Camera(maker="Orlmann", model=f"Falter {n // 2:03}", serial=f"S{n}")
        workshop.take_in(Owner(name="Ines Marrow"), camera, Visit(taken_in=date(2031, 5, 4)))
    for n in range(70):
        camera = Camera(maker="Tessbury", model=f"Mark {n:03}", serial=f"S{n}")
        workshop.take_in(Owner(name="Ines Marrow"), camera, Visit(taken_in=date(2031, 5, 4)))
    pages = [browser.get(f"/variants?page={n}").text for n in (1, 2)]
    found = re.findall(r">([^<]*)</a> <span class=\"quiet\">(\d+) job", "".join(pages))
    expected = [(f"Orlmann Falter {n:03}", "2") for n in range(65)] + [
        (f"Tessbury Mark {n:03}", "1") for n in range(70)
    ]
    assert found == expected


def test_a_long_journal_comes_in_pages(browser: Browser, workshop: Workshop, job: Job) -> None:
    at = datetime(2031, 5, 4, tzinfo=UTC)
    workshop.append_all(job.id, [Noted(at=at + timedelta(minutes=n), note=f"word {n};") for n in range(450)])
    pages = [browser.get(f"/jobs/{job.id}/journal?page={n}").text for n in range(1, 6)]
    found = [int(n) for text in pages for n in dict.fromkeys(re.findall(r"<p>Note: word (\d+);", text))]
    assert found == list(range(449, -1, -1))


def test_where_the_rate_is_set_is_said_and_that_it_is_not(browser: Browser, job: Job) -> None:
    browser.fill("/jobs/J1", "worked", task="serviced", minutes="4,5 h")
    page = words(browser.get("/jobs/J1"))
    assert "No hourly rate is set: the hours stand at 0.00. The bench has no name yet." in page
    assert "4 h 30 min" in page
    assert "in the file workshop.toml in the workshop folder" in page
