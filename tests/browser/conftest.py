"""Debian's Chromium on a workshop that is really served; skipped, with the reason, where there is none."""

import shutil
import socket
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import pytest
import uvicorn
from playwright.sync_api import Browser, Page, ViewportSize, sync_playwright

from camerawright.store.workshop import Workshop
from camerawright.web.app import create_app

TABLET: ViewportSize = {"width": 1280, "height": 800}
PHONE: ViewportSize = {"width": 360, "height": 800}
TABLET_AT_200_PERCENT: ViewportSize = {"width": 640, "height": 400}


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Everything here drives a browser."""
    for item in items:
        if Path(__file__).parent in item.path.parents:
            item.add_marker(pytest.mark.browser)


@pytest.fixture(scope="session")
def chromium() -> Iterator[Browser]:
    """One Chromium for all tests."""
    path = shutil.which("chromium") or shutil.which("chromium-browser")
    if path is None:
        pytest.skip("no chromium on this machine: sudo apt-get install chromium chromium-driver")
    flags = ["--no-sandbox", "--disable-background-networking", "--disable-component-update"]
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=path, args=flags)
        yield browser
        browser.close()


@dataclass(frozen=True)
class Served:
    """A workshop and the address of its pages."""

    workshop: Workshop
    address: str


@contextmanager
def serving(workshop: Workshop) -> Iterator[Served]:
    """Serve a workshop on a free port of the loopback."""
    with socket.socket() as listener:
        listener.bind(("127.0.0.1", 0))
        server = uvicorn.Server(uvicorn.Config(create_app(workshop), log_level="error", lifespan="off"))
        thread = threading.Thread(target=server.run, kwargs={"sockets": [listener]})
        thread.start()
        while not server.started:
            time.sleep(0.01)
        yield Served(workshop, f"http://127.0.0.1:{listener.getsockname()[1]}")
        server.should_exit = True
        thread.join()


@contextmanager
def tablet(chromium: Browser, served: Served) -> Iterator[Page]:
    """A tablet on the bench. Whatever leaves the workshop, and whatever the browser complains of, fails the test."""
    context = chromium.new_context(base_url=served.address, viewport=TABLET, has_touch=True)
    context.set_default_timeout(10_000)
    page = context.new_page()
    amiss: list[str] = []
    page.on("request", lambda request: None if request.url.startswith(served.address) else amiss.append(request.url))
    page.on("pageerror", lambda error: amiss.append(f"script: {error}"))
    page.on("console", lambda said: amiss.append(said.text) if "Content Security Policy" in said.text else None)
    yield page
    context.close()
    assert not amiss
