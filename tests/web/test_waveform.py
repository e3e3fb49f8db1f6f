"""The waveform page and what its canvas asks for, against the samples themselves."""

import io
from typing import Any

import numpy as np
import pytest
import soundfile
from numpy.typing import NDArray

from camerawright.journal.entries import Measured
from camerawright.journal.state import fold
from camerawright.store.workshop import Workshop
from camerawright.workshop.rows import Job
from tests.web.conftest import Browser, words
from tests.web.recordings import measure, recording


@pytest.fixture
def reading(browser: Browser, workshop: Workshop, job: Job) -> Measured:
    """A reading of six firings."""
    measure(browser, recording(), "1/60")
    (entry,) = fold(workshop.journal(job.id)).measured
    return entry


def _at(reading: Measured, what: str = "") -> str:
    return f"/recordings/{reading.recording}{what}?job=J1&reading={reading.id}"


def _shots(reading: Measured) -> list[dict[str, Any]]:
    """Its firings."""
    firings: Any = reading.result["firings"]
    return list(firings)


def _samples() -> NDArray[np.float32]:
    return np.asarray(soundfile.read(io.BytesIO(recording()), dtype="float32")[0])


def test_the_page_holds_the_firings_in_words_and_the_measure_page_leads_to_it(
    browser: Browser, reading: Measured
) -> None:
    assert _at(reading).replace("&", "&amp;") in browser.get("/jobs/J1/measure").text
    page = browser.get(_at(reading))
    assert page.status_code == 200
    for shot in _shots(reading):
        assert f"{shot['at_s']:.2f}" in words(page)
    assert "marked 1/60" in words(page)


@pytest.mark.parametrize(("start", "stop", "width"), [(0, 10**7, 500), (40_000, 41_000, 600), (50_001, 90_007, 800)])
def test_every_column_is_the_lowest_and_highest_of_its_samples(
    browser: Browser, reading: Measured, start: int, stop: int, width: int
) -> None:
    path = _at(reading, "/envelope") + f"&start={start}&stop={stop}&width={width}"
    told = browser.get(path).json()
    samples = _samples()
    for i, (low, high) in enumerate(zip(told["lanes"][0]["low"], told["lanes"][0]["high"], strict=True)):
        column = samples[told["start"] + i * told["step"] : told["start"] + (i + 1) * told["step"]]
        assert low == pytest.approx(column.min(), abs=1e-6)
        assert high == pytest.approx(column.max(), abs=1e-6)
    assert told["start"] <= start
    assert told["start"] + told["step"] * len(told["lanes"][0]["low"]) >= min(stop, len(samples))


def test_the_light_about_a_firing_stands_at_one_when_open_and_at_zero_when_shut(
    browser: Browser, reading: Measured
) -> None:
    shot = _shots(reading)[2]
    rate_hz = 48_000
    first, last = round((shot["at_s"] - 5e-3) * rate_hz), round((shot["at_s"] + shot["half_peak_s"] + 5e-3) * rate_hz)
    told = browser.get(_at(reading, "/envelope") + f"&start={first}&stop={last}&width=4000").json()
    assert told["step"] == 1
    light = np.array(told["lanes"][1]["low"], float)
    at_s = (told["start"] + np.arange(len(light))) / rate_hz - shot["at_s"]
    middle = (at_s > 0.4 * shot["half_peak_s"]) & (at_s < 0.6 * shot["half_peak_s"])
    assert light[middle].mean() == pytest.approx(1, abs=0.02)
    assert light[at_s < -3e-3].mean() == pytest.approx(0, abs=0.02)
    between = browser.get(_at(reading, "/envelope") + "&start=0&stop=2000&width=100").json()
    assert set(between["lanes"][1]["low"]) == {None}


def test_overlaid_firings_pass_half_their_level_at_zero(browser: Browser, reading: Measured) -> None:
    curves = browser.get(_at(reading, "/overlaid")).json()["curves"]
    assert [each["n"] for each in curves] == [1, 2, 3, 4, 5, 6]
    for each in curves:
        assert np.interp(0, each["ms"], each["light"]) == pytest.approx(0.5, abs=0.1)


def test_what_is_drawn_of_a_firing_is_what_its_record_says(browser: Browser, reading: Measured) -> None:
    told = browser.get(_at(reading, "/about")).json()
    assert told["n_samples"] == len(_samples())
    for drawn, shot in zip(told["firings"], _shots(reading), strict=True):
        assert drawn["effective_s"] == shot["effective_s"]
        assert drawn["expanded_s"] == pytest.approx(shot["k95_effective"] * shot["u_effective_s"])


def test_a_recording_without_a_reading_is_drawn_as_recorded(browser: Browser, reading: Measured) -> None:
    page = browser.get(f"/recordings/{reading.recording}")
    assert page.status_code == 200
    told = browser.get(f"/recordings/{reading.recording}/envelope?start=0&stop=1000&width=100").json()
    assert len(told["lanes"]) == 1


@pytest.mark.parametrize(
    ("path", "status"),
    [
        ("/recordings/" + "0" * 64, 404),
        ("/recordings/..%2f..%2fworkshop.toml", 404),
        ("/recordings/nothing/envelope?start=0&stop=1&width=1", 404),
    ],
)
def test_what_is_not_kept_is_not_there(browser: Browser, job: Job, path: str, status: int) -> None:
    assert browser.get(path).status_code == status


@pytest.mark.parametrize("query", ["start=0&stop=9", "start=-1&stop=9&width=5", "start=0&stop=9&width=5000", "start=x"])
def test_a_stretch_that_is_none_is_refused(browser: Browser, reading: Measured, query: str) -> None:
    assert browser.get(f"/recordings/{reading.recording}/envelope?{query}").status_code == 422


def test_another_jobs_reading_is_not_shown(browser: Browser, reading: Measured) -> None:
    assert browser.get(f"/recordings/{reading.recording}?job=J1&reading=nothing").status_code == 404


def test_what_is_kept_and_no_sound_has_no_waveform(browser: Browser, workshop: Workshop) -> None:
    sha256 = workshop.keep(b"no sound", suffix=".txt")
    answer = browser.get(f"/recordings/{sha256}")
    assert answer.status_code == 404
    assert "no waveform can be drawn" in words(answer)
