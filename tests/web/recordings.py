"""Recordings to send, as files, and how they are sent and entered."""

import re
import time
from io import BytesIO
from typing import Any

import httpx
import numpy as np
import soundfile
from numpy.typing import NDArray

from camerawright.bench.catalogue import CATALOGUE
from tests.web.conftest import Browser, fields

TEST = CATALOGUE[0]
MEASURE = "/jobs/J1/measure"
WAITING = "/jobs/J1/waiting"


def recording(seed: int = 1) -> bytes:
    """What the test's simulator makes, as a WAV file."""
    waveform = TEST.simulate(seed)
    return wav(waveform.samples, int(waveform.rate_hz))


def silence() -> bytes:
    """Readable, and nothing in it."""
    return wav(np.zeros(48000, dtype=np.float32), 48000)


def wav(samples: NDArray[np.floating[Any]], rate_hz: int) -> bytes:
    """Samples as a WAV file."""
    out = BytesIO()
    soundfile.write(out, samples, rate_hz, format="WAV", subtype="PCM_16")
    return out.getvalue()


def send(browser: Browser, *files: bytes | tuple[str, bytes], **typed: str) -> httpx.Response:
    """Send recordings by the form of the measure page; the page once they are measured, or the refusal."""
    named = (each if isinstance(each, tuple) else (f"fire {n}.wav", each) for n, each in enumerate(files, 1))
    sent = [("recordings", each) for each in named]
    answer = browser.fill(MEASURE, "measure", files=sent or None, **{"phase": "as found", **typed})
    return settled(browser) if answer.status_code == 303 else answer


def settled(browser: Browser) -> httpx.Response:
    """The measure page once everything that waits is measured."""
    end = time.monotonic() + 30
    while time.monotonic() < end:
        state = browser.get(f"{WAITING}.json").json()
        if all(each["status"] != "measuring" for each in state["waiting"]):
            return browser.get(MEASURE)
        time.sleep(0.02)
    raise AssertionError(f"still measuring: {state}")


def waiting(page: httpx.Response) -> list[tuple[str, str]]:
    """The file and the status of everything that waits, by the page."""
    return re.findall(r'data-file="([^"]+)" data-status="(\w+)"', page.text)


def answer(browser: Browser, file: str, act: str, **typed: str) -> httpx.Response:
    """Press a button of something that waits; the page once it is measured."""
    form = fields(browser.get(MEASURE), f"waiting-{file.rpartition('.')[0] or file}")
    given = browser.send("POST", WAITING, data={**form, "act": act, **typed})
    assert given.status_code == 303
    return settled(browser)


def measure(browser: Browser, data: bytes, marked: str, **typed: str) -> httpx.Response:
    """Send a recording and enter it with a mark."""
    (file, _), *_ = waiting(send(browser, data, **typed))
    return answer(browser, file, "enter", marked=marked)
