"""A workshop behind the application, and a browser without a window: requests go through the whole ASGI stack."""

import asyncio
import re
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from datetime import date
from html import unescape
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import httpx
import pytest
from starlette.applications import Starlette

from camerawright.store.workshop import Workshop, create_workshop
from camerawright.web.app import create_app
from camerawright.workshop.rows import Camera, Job, Owner, Visit

ADDRESS = "http://localhost:8470"


class _Fields(HTMLParser):
    """The fields of one form, as a browser would send them."""

    def __init__(self, name: str) -> None:
        super().__init__()
        self.name, self.inside, self.fields = name, False, dict[str, str]()
        self._area: str | None = None
        self._choice: str | None = None

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = dict(attrs)
        if tag == "form":
            self.inside = given.get("id") == f"f-{self.name}"
        if tag == "option" and self._choice and ("selected" in given or self._choice not in self.fields):
            self.fields[self._choice] = given.get("value") or ""
        name = given.get("name")
        if not name or not (self.inside or given.get("form") == f"f-{self.name}"):
            return
        if tag == "textarea":
            self._area = name
            self.fields[name] = ""
        elif tag == "select":
            self._choice = name
        elif tag == "input" and given.get("type") not in {"file", "checkbox", "radio"}:
            self.fields[name] = given.get("value") or ""
        elif tag == "input" and "checked" in given:
            self.fields[name] = given.get("value") or "on"

    def handle_data(self, data: str) -> None:
        if self._area is not None:
            self.fields[self._area] += data.removeprefix("\n") if not self.fields[self._area] else data

    def handle_endtag(self, tag: str) -> None:
        if tag == "textarea":
            self._area = None
        elif tag == "select":
            self._choice = None
        elif tag == "form":
            self.inside = False


@dataclass
class Browser:
    """Sends requests to the application."""

    app: Starlette
    headers: dict[str, str] = field(default_factory=dict)

    def send(self, method: str, path: str, **more: Any) -> httpx.Response:
        """One request."""

        async def sent() -> httpx.Response:
            transport = httpx.ASGITransport(app=self.app, raise_app_exceptions=False)
            async with httpx.AsyncClient(transport=transport, base_url=ADDRESS, headers=self.headers) as client:
                return await client.request(method, path, **more)

        # In a thread of its own: the browser tests leave a running loop in this one.
        with ThreadPoolExecutor(1) as pool:
            return pool.submit(lambda: asyncio.run(sent())).result()

    def get(self, path: str, **more: Any) -> httpx.Response:
        """Open a page."""
        return self.send("GET", path, **more)

    def form(self, path: str, name: str) -> dict[str, str]:
        """What a form on a page holds."""
        return fields(self.get(path), name)

    def fill(self, path: str, form: str, files: Any = None, **typed: str) -> httpx.Response:
        """Open a page, fill a form in, and send it."""
        return self.send("POST", path, data={**self.form(path, form), **typed}, files=files)


def fields(page: httpx.Response, name: str) -> dict[str, str]:
    """The fields of a form on a page."""
    parser = _Fields(name)
    parser.feed(page.text)
    assert parser.fields, f"no form f-{name} on {page.url}"
    return parser.fields


def words(page: httpx.Response) -> str:
    """The words of a page, without its marks."""
    return " ".join(unescape(re.sub(r"<[^>]+>", " ", page.text)).split())


@pytest.fixture
def workshop(tmp_path: Path) -> Iterator[Workshop]:
    """An empty workshop."""
    with create_workshop(tmp_path / "workshop") as opened:
        yield opened


@pytest.fixture
def browser(workshop: Workshop) -> Browser:
    """A browser on it."""
    return Browser(create_app(workshop))


@pytest.fixture
def job(workshop: Workshop) -> Job:
    """A camera that was taken in."""
    return workshop.take_in(
        Owner(name="Ines Marrow", contact="+00 555 0199"),
        Camera(maker="Orlmann", model="Falter 6x6", variant="second pattern", serial="41877"),
        Visit(taken_in=date(2026, 3, 2), owners_words="Slow speeds hang."),
    )
