"""Who is let in where other machines can reach the pages."""

import re
import subprocess
import sys
from pathlib import Path

import httpx
import pytest

from camerawright.store.workshop import Workshop
from camerawright.web.app import create_app
from camerawright.web.token import COOKIE, new_token
from camerawright.workshop.rows import Job
from tests.web.conftest import Browser, words

TOKEN = "k7mq-2xha-9dfr"
STRIP = "/jobs/J1/bench/strip"


@pytest.fixture
def stranger(workshop: Workshop, job: Job) -> Browser:
    """A browser that brings no token to a workshop that asks for one."""
    return Browser(create_app(workshop, hosts=["bench.local"], token=TOKEN))


@pytest.mark.parametrize(
    "path", ["/", "/take-in", "/jobs/J1", "/jobs/J1/journal.jsonl", "/static/house.css", "/nowhere"]
)
@pytest.mark.parametrize("token", ["", "wrong", "\u017f", "%ff%00", "k7mq-2xha-9df", TOKEN + "x"])
def test_nothing_is_shown_without_the_token(stranger: Browser, job: Job, path: str, token: str) -> None:
    for answered in (
        stranger.get(path),
        stranger.get(f"{path}?token={token}"),
        stranger.get(path, headers={"Cookie": f"{COOKIE}={token}; [=;".encode()}),
    ):
        assert answered.status_code == 401
        assert job.owner.name not in answered.text
        assert "Type the token" in words(answered)
        assert "set-cookie" not in answered.headers


def test_nothing_is_entered_without_the_token(stranger: Browser, workshop: Workshop, job: Job) -> None:
    form = {"kind": "noted", "note": "planted", "id": "0" * 32}
    for path in (STRIP, f"{STRIP}?token={TOKEN}"):
        assert stranger.send("POST", path, data=form).status_code == 401
    assert not workshop.journal(job.id)


def test_the_printed_address_lets_a_browser_in_and_leaves_no_token_in_sight(stranger: Browser, job: Job) -> None:
    first = stranger.get(f"/jobs/J1?test=shutter&token={TOKEN}")
    assert (first.status_code, first.headers["location"]) == (303, "/jobs/J1?test=shutter")
    cookie = first.headers["set-cookie"]
    assert "HttpOnly" in cookie
    assert "SameSite=lax" in cookie
    stranger.headers["Cookie"] = cookie.split(";")[0]
    assert job.owner.name in stranger.get("/jobs/J1").text
    assert stranger.fill(STRIP, "noted", note="mine").status_code == 303


@pytest.mark.parametrize("typed", [TOKEN.upper(), f" {TOKEN} ", TOKEN.replace("-", "+")])
def test_the_token_may_be_typed_as_a_telephone_types(stranger: Browser, typed: str) -> None:
    assert stranger.get("/", params={"token": typed.replace("+", " ")}).status_code == 303


@pytest.mark.parametrize("path", ["//evil.example", "/\\evil.example", "///evil.example/x"])
def test_the_token_leads_to_no_other_site(stranger: Browser, path: str) -> None:
    to = stranger.get(f"{path}?token={TOKEN}").headers.get("location", "/")
    assert re.match(r"/[^/\\]|/$", to)


def test_tokens_are_many_and_easy_to_type() -> None:
    made = {new_token() for _ in range(200)}
    assert len(made) == 200
    assert all(re.fullmatch(r"[a-hjkmnp-z2-9]{4}(-[a-hjkmnp-z2-9]{4}){2}", each) for each in made)


@pytest.mark.parametrize(("host", "status"), [("0.0.0.0", 401), ("127.0.0.1", 200)])
def test_the_command_prints_a_token_only_where_others_can_reach_it(
    workshop: Workshop, tmp_path: Path, host: str, status: int
) -> None:
    program = "import sys; from camerawright.cli.app import main; main()"
    command = [sys.executable, "-c", program, "--workshop", str(workshop.folder)]
    serving = subprocess.Popen([*command, "serve", "--host", host, "--port", "0"], stdout=subprocess.PIPE, text=True)
    try:
        assert serving.stdout is not None
        line = serving.stdout.readline()
        port = int(re.findall(r":([0-9]+)/", line)[0])
        token = re.findall(r"token=(\S+)", line)
        assert bool(token) == (status == 401)
        with httpx.Client(base_url=f"http://127.0.0.1:{port}", trust_env=False, timeout=30) as client:
            assert client.get("/").status_code == status
            if token:
                assert client.get("/", params={"token": token[0]}, follow_redirects=True).status_code == 200
                assert client.get("/take-in").status_code == 200
    finally:
        serving.terminate()
        serving.wait()
        assert serving.stdout is not None
        serving.stdout.close()
