"""Whom the pages answer, and whose forms they take."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from camerawright.store.workshop import Workshop
from camerawright.web.app import create_app
from camerawright.web.render import _environment
from camerawright.workshop.rows import Job
from tests.web.conftest import Browser

STRIP = "/jobs/J1/bench/strip"


@pytest.mark.parametrize("host", ["localhost:8470", "127.0.0.1", "[::1]:8470", "LOCALHOST"])
def test_this_machine_is_answered(browser: Browser, host: str) -> None:
    assert browser.get("/", headers={"Host": host}).status_code == 200


@pytest.mark.parametrize(
    "host", ["evil.example", "localhost.evil.example:8470", "192.0.2.7", "", "[::1", "127.0.0.1@x"]
)
def test_a_site_that_renames_itself_to_our_address_is_not_answered(browser: Browser, host: str) -> None:
    assert browser.get("/", headers={"Host": host}).status_code == 421


def test_a_host_it_was_made_to_listen_on_is_answered(workshop: Workshop) -> None:
    browser = Browser(create_app(workshop, hosts=["bench.local"]))
    assert browser.get("/", headers={"Host": "bench.local:8470"}).status_code == 200


# [rfc-6454] 4 and 6.1: the port belongs to the origin, and one that is not told is "null"
@pytest.mark.parametrize(
    "headers",
    [
        {"Origin": "https://evil.example"},
        {"Origin": "null"},
        {"Origin": "http://localhost:9999"},
        {"Sec-Fetch-Site": "cross-site"},
        {"Sec-Fetch-Site": "same-site", "Origin": "http://localhost:8470"},
    ],
)
def test_another_sites_form_enters_nothing(
    browser: Browser, workshop: Workshop, job: Job, headers: dict[str, str]
) -> None:
    sent = {**browser.form(STRIP, "noted"), "note": "planted"}
    assert browser.send("POST", STRIP, data=sent, headers=headers).status_code == 403
    assert not workshop.journal(job.id)


@pytest.mark.parametrize("headers", [{"Origin": "http://localhost:8470"}, {"Sec-Fetch-Site": "same-origin"}, {}])
def test_our_own_form_is_taken(browser: Browser, job: Job, headers: dict[str, str]) -> None:
    sent = {**browser.form(STRIP, "noted"), "note": "mine"}
    assert browser.send("POST", STRIP, data=sent, headers=headers).status_code == 303


@pytest.mark.parametrize("path", ["/", "/take-in", "/nowhere", "/static/house.css", "/jobs/J1/journal.jsonl"])
def test_every_answer_forbids_what_a_page_does_not_need(browser: Browser, job: Job, path: str) -> None:
    headers = browser.get(path).headers
    assert headers["content-security-policy"].startswith("default-src 'self'")
    assert headers["x-content-type-options"] == "nosniff"


def _templates() -> Iterator[tuple[str, str]]:
    """Every template and its text."""
    environment = _environment()
    assert environment.loader is not None
    for name in environment.list_templates(extensions=["html"]):
        yield name, environment.loader.get_source(environment, name)[0]


def test_no_page_loads_anything_from_elsewhere_or_holds_a_script_or_style_of_its_own() -> None:
    for name, text in _templates():
        assert "http://" not in text, name
        assert "https://" not in text, name
        assert "<script>" not in text, name
        assert "<style" not in text, name
        assert " style=" not in text, name
        assert " onclick" not in text, name
        assert "|safe" not in text.replace(" ", ""), name
    static = Path(__file__).parents[2] / "src" / "camerawright" / "web" / "static"
    for file in static.iterdir():
        text = file.read_text(encoding="utf-8").replace("http://www.w3.org/2000/svg", "")
        assert "//" not in text.replace("// ", "") or "http" not in text, file.name
        assert "@import" not in text, file.name
