"""Requests that mean harm, or that a broken program sends: each is answered in words, and costs little."""

import json
import resource
import sqlite3
import sys
from collections.abc import Iterator
from contextlib import closing, contextmanager
from dataclasses import replace
from pathlib import Path
from urllib.parse import quote

import pytest
from PIL import Image

from camerawright.store.workshop import Workshop, create_workshop, open_workshop
from camerawright.web.app import create_app
from camerawright.workshop.rows import Job
from tests.recordings.test_stills import saved
from tests.store.invented import note
from tests.web.conftest import Browser, fields, words
from tests.web.recordings import recording

STRIP = "/jobs/J1/bench/strip"
NAMES = (
    "..",
    ".",
    "\0",
    "a\0b",
    "../../etc/passwd",
    "..\\..",
    "n" * 300,
    "n" * 5000,
    "\u2028",
    "1e999999999",
    "9" * 5000,
)
"""What no file system takes, or takes for another place; and numbers that no computer holds."""


@contextmanager
def at_most(more_bytes: int) -> Iterator[None]:
    """Give this process so much more memory, and no more: what wants more fails at once."""
    used = int(Path("/proc/self/statm").read_text(encoding="ascii").split()[0]) * resource.getpagesize()
    before = resource.getrlimit(resource.RLIMIT_AS)
    resource.setrlimit(resource.RLIMIT_AS, (used + more_bytes, before[1]))
    try:
        yield
    finally:
        resource.setrlimit(resource.RLIMIT_AS, before)


needs_limits = pytest.mark.skipif(sys.platform != "linux", reason="reads how much memory is used as Linux tells it")


@needs_limits
@pytest.mark.parametrize("rate", ["4000000000", "1048576", "0", "9" * 5000, "-1", "", "48000.5"])
@pytest.mark.parametrize("act", ["start", "check"])
def test_no_sampling_rate_takes_memory(browser: Browser, job: Job, rate: str, act: str) -> None:
    typed = {**browser.form("/jobs/J1/record", "record"), "input": "Line In", "test": "shutter", "phase": "as found"}
    with at_most(400_000_000):
        answered = browser.send("POST", "/jobs/J1/record", data={**typed, "act": act, "rate": rate})
    assert answered.status_code == 422


@needs_limits
@pytest.mark.parametrize("row", ["999999999", "9" * 5000, "٣", "-1", "1e9"])
def test_no_name_of_a_cell_takes_memory(browser: Browser, job: Job, row: str) -> None:
    typed = {**browser.form("/jobs/J1/measure", "measure"), "test": "register", "phase": "as found"}
    with at_most(400_000_000):
        answered = browser.send("POST", "/jobs/J1/measure", data={**typed, f"register.{row}.depth_mm": "1"})
    assert answered.status_code == 422


@pytest.mark.parametrize(
    "origin", ["http://[evil", "http://]", "//", "\t", "http://[::1", "null", "http://evil\\@localhost:8470"]
)
def test_an_origin_that_is_no_address_is_another_sites(
    browser: Browser, workshop: Workshop, job: Job, origin: str
) -> None:
    sent = {**browser.form(STRIP, "noted"), "note": "planted"}
    assert browser.send("POST", STRIP, data=sent, headers={"Origin": origin}).status_code == 403
    assert not workshop.journal(job.id)


@pytest.mark.parametrize("told", ["9" * 5000, "99999999999"])
def test_a_size_without_end_is_too_large(browser: Browser, job: Job, told: str) -> None:
    answered = browser.send("POST", STRIP, content=b"kind=noted", headers={"Content-Length": told})
    assert answered.status_code == 413


@pytest.mark.parametrize("charset", ["unicode_escape", "utf-7", "punycode", "utf-16", "zlib", "\xff"])
def test_a_form_in_another_spelling_than_ours_enters_nothing(
    browser: Browser, workshop: Workshop, job: Job, charset: str
) -> None:
    field = b'--x\r\nContent-Disposition: form-data; name="note"\r\n\r\n\\ud800\r\n'
    kind = b'--x\r\nContent-Disposition: form-data; name="kind"\r\n\r\nnoted\r\n--x--\r\n'
    headers = {"Content-Type": f"multipart/form-data; boundary=x; charset={charset}".encode("latin-1")}
    assert browser.send("POST", STRIP, content=field + kind, headers=headers).status_code == 415
    assert not workshop.journal(job.id)


@pytest.mark.parametrize("price", ["1e999999999", "-1e999999999", "1e-999999999", "inf", "nan", "9" * 3000, "0x10"])
def test_no_price_is_too_much_to_be_refused(browser: Browser, workshop: Workshop, job: Job, price: str) -> None:
    answered = browser.fill("/jobs/J1", "supplied", item="a screw", price_minor=price)
    assert answered.status_code == 422
    assert "is not a price" in words(answered)
    assert not workshop.journal(job.id)


@pytest.mark.parametrize("name", NAMES)
def test_no_name_of_a_file_leads_astray(browser: Browser, workshop: Workshop, job: Job, name: str) -> None:
    photo = saved(Image.new("RGB", (9, 9)), "JPEG")
    sent = browser.send(
        "POST", STRIP, data={**browser.form(STRIP, "noted"), "note": "seen"}, files={"photo_file": (name, photo)}
    )
    assert sent.status_code == (303 if len(name) < 4000 else 400)  # the heading of a part of a form has its bounds
    typed = {**browser.form("/jobs/J1/measure", "measure"), "test": "shutter", "phase": "as found"}
    taken = browser.send("POST", "/jobs/J1/measure", data=typed, files={"recordings": (name, recording())})
    assert taken.status_code == sent.status_code
    lines = browser.send("POST", "/jobs/J1/journal/import", files={"journal_file": (name, b"{}")})
    assert lines.status_code == (422 if len(name) < 4000 else 400)
    assert browser.get("/jobs/J1/measure").status_code == 200
    ours = {"camerawright.sqlite", "camerawright.sqlite-shm", "camerawright.sqlite-wal", "live", "media", "profiles"}
    assert {path.name for path in workshop.folder.iterdir()} <= ours | {"workshop.toml"}


_ROUTES = (
    "/{}", "/photos/{}", "/photos/{}/original", "/jobs/{}", "/jobs/{}/measure", "/jobs/{}/bench/strip",
    "/jobs/J1/reach?part={}", "/recordings/{}", "/recordings/{}/about", "/recordings/{}?job={}&reading={}",
    "/recordings/{}/envelope?start={}&stop={}&width={}", "/jobs/J1/waiting/{}", "/jobs/J1/waiting/{}/about",
    "/jobs/J1/readings/{}/{}.svg", "/jobs/J1/cards/{}.png", "/jobs/J1/journal/{}", "/jobs/J1/papers/{}.pdf",
    "/static/{}", "/variant?key={}&name={}", "/variant/differences?key={}&other={}", "/jobs/J1/measure?test={}",
    "/jobs/J1/journal?new={}&known={}",
)  # fmt: skip


@pytest.mark.parametrize("route", _ROUTES)
def test_every_address_has_an_answer(browser: Browser, workshop: Workshop, job: Job, route: str) -> None:
    for name in NAMES:
        answered = browser.get(route.replace("{}", quote(name, safe="")))
        assert answered.status_code < 500, name
        assert str(workshop.folder) not in answered.text, name


def test_no_page_tells_where_the_workshop_is(browser: Browser, workshop: Workshop, job: Job) -> None:
    (workshop.folder / "workshop.toml").write_text("name = 7", encoding="utf-8")
    (workshop.folder / "profiles" / "user.toml").write_text("no = table", encoding="utf-8")
    for path in ("/", "/take-in", "/jobs/J1", "/jobs/J1/papers/bill.pdf", "/jobs/J1/papers/certificate.pdf"):
        assert str(workshop.folder) not in browser.get(path).text
    shown = browser.send(
        "POST", "/jobs/J1/record",
        data={**browser.form("/jobs/J1/record", "record"), "act": "start", "test": "shutter", "phase": "as found",
              "rate": "48000", "input": f"try:{'0' * 64}"},
    )  # fmt: skip
    assert str(workshop.folder) not in shown.text
    workshop.close()
    (workshop.folder / "camerawright.sqlite").write_bytes(b"SQLite format 3\0" + b"\xff" * 5000)
    broken = browser.get("/jobs/J1")
    assert broken.status_code == 503
    assert "camerawright.sqlite" in broken.text
    assert str(workshop.folder) not in broken.text


def test_a_line_separator_within_a_note_goes_out_and_comes_in_again(
    browser: Browser, workshop: Workshop, job: Job, tmp_path: Path
) -> None:
    for n, sign in enumerate("\u2028\u2029\x85\x0b\x0c\x1c"):
        workshop.append(job.id, note(n, f"one{sign}two"))
    file = browser.get("/jobs/J1/journal.jsonl").content
    with create_workshop(tmp_path / "other") as other:
        other.take_in(job.owner, job.camera, job.visit)
        elsewhere = Browser(type(browser)(browser.app).app)
        elsewhere.app.state.workshop = other
        done = elsewhere.send("POST", "/jobs/J1/journal/import", files={"journal_file": ("J1.jsonl", file)})
        assert done.status_code == 303
        assert other.journal("J1") == workshop.journal("J1")


def test_what_is_typed_into_any_field_of_any_page_is_answered(browser: Browser, workshop: Workshop, job: Job) -> None:
    workshop.append(job.id, note(1))
    for path in ("/take-in", STRIP, "/jobs/J1/bench/refit", "/jobs/J1/seized", "/jobs/J1/ledger", "/jobs/J1/record"):
        shown = browser.get(path)
        for form in {part.split('"')[0] for part in shown.text.split('id="f-')[1:]}:
            filled = fields(shown, form)
            for sign in ("\0", "1e999999999", "9" * 5000):
                typed = {name: text if name in {"kind", "act", "form"} else sign for name, text in filled.items()}
                assert browser.send("POST", path, data=typed).status_code < 500, (path, form, sign[:9])
    assert json.loads(browser.get("/jobs/J1/waiting.json").text)["waiting"] == []


def test_a_journal_that_cannot_be_read_stops_no_other_job(workshop: Workshop, job: Job) -> None:
    """The other job is of the same variant, so it would learn from the damaged one."""
    workshop.append(job.id, note(1))
    other = workshop.take_in(job.owner, replace(job.camera, serial="2"), job.visit)
    workshop.append(other.id, note(2, "as it came"))
    workshop.close()
    with closing(sqlite3.connect(workshop.folder / "camerawright.sqlite")) as stranger, stranger:
        stranger.execute("DROP TRIGGER entry_keeps_its_content")
        stranger.execute("UPDATE entry SET body = '{}' WHERE job = 1")
    with open_workshop(workshop.folder) as opened:
        browser = Browser(create_app(opened))
        front = words(browser.get("/"))
        assert "damaged" in front
        assert "camerawright verify" in front
        for page in ("", "/bench/strip", "/measure", "/journal", "/order", "/ledger"):
            assert browser.get(f"/jobs/{other.id}{page}").status_code == 200, page
        shown = browser.get(f"/jobs/{job.id}")
        assert shown.status_code == 503
        assert "an entry cannot be read" in words(shown)
