"""Recording through a real sound server: what was played is what is kept and told, in the terminal and on the page."""

import re
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import soundfile
from numpy.typing import NDArray

from camerawright.bench.shutter import TEST, simulate
from camerawright.bench.shutter.record import ShutterRecord
from camerawright.journal.state import fold
from camerawright.recordings.inputs import NoInput, SoundCard, Wanted, inputs
from camerawright.recordings.sound import read_sound
from camerawright.store.workshop import Workshop
from camerawright.workshop.rows import Job
from tests.cli.conftest import Shell
from tests.recordings.sound_server import INPUT, MISSING, is_there, played, sound_server
from tests.web.conftest import Browser, words
from tests.web.recordings import settled
from tests.web.test_record import RECORD, start, until

RATE_HZ = 48_000
START = RATE_HZ // 10  # the server may swallow so many samples when something begins to play


@pytest.fixture(autouse=True)
def _server(tmp_path: Path) -> Iterator[None]:
    if not is_there():
        pytest.skip(MISSING)
    (tmp_path / "server").mkdir()
    with sound_server(tmp_path / "server"):
        yield


@pytest.fixture
def fired(tmp_path: Path) -> Path:
    """Two firings in the right channel; the left one, to which nothing is plugged, only hisses."""
    scene = simulate.with_noise_db(simulate.example((1 / 60,), 1, firings=2), 50)
    light, _ = simulate.recording(scene, 1)
    hiss = np.random.default_rng(2).normal(0, 1e-3, len(light))
    soundfile.write(tmp_path / "fired.wav", np.column_stack([hiss, light]), RATE_HZ, subtype="PCM_16")
    return tmp_path / "fired.wav"


def codes(path: Path) -> NDArray[np.int16]:
    """Every sample of a file."""
    return np.asarray(soundfile.read(path, dtype="int16", always_2d=True)[0])


def assert_kept(kept: Path, of: Path) -> None:
    """Every sample that was played is in a recording, in order and unchanged, but for the server's own start."""
    found, given = codes(kept), codes(of)[START:]
    assert found.shape[1] == given.shape[1] == 2
    first = (found[: -len(given) + 1 or None] == given[0]).all(axis=1)
    assert any(np.array_equal(found[i : i + len(given)], given) for i in np.flatnonzero(first))


def alone(path: Path) -> ShutterRecord:
    """The reading of the file that is played."""
    return TEST.run(read_sound(path), "1/60")


def test_an_input_is_taken_as_it_is_and_what_it_does_not_have_is_refused_with_what_it_has() -> None:
    """The server would convert two channels to one, and 48 kHz to 44.1, without a word."""
    (there,) = inputs()
    assert (there.name, there.own) == (INPUT, ("2 channels at 48 kHz",))
    card = SoundCard(INPUT, Wanted())
    assert (card.rate_hz, card.n_channels, card.bits) == (RATE_HZ, 2, 16)
    card.stop()
    for wanted in (Wanted(n_channels=1), Wanted(rate_hz=44_100), Wanted(n_least=3)):
        with pytest.raises(NoInput, match="it supports 2 channels at 48 kHz: choose that"):
            SoundCard(INPUT, wanted)


def test_the_terminal_keeps_what_was_played_and_says_which_channel_has_the_light(fired: Path, tmp_path: Path) -> None:
    out, long_s = tmp_path / "out.flac", soundfile.info(fired).duration
    with played(fired, tmp_path):
        seconds = f"{long_s + 3:.0f}"
        told = Shell(tmp_path / "w").run(
            "record", "shutter", str(out), "--input", "Bench", "--marked", "1/60", "--seconds", seconds
        )
    assert_kept(out, fired)
    assert f"Recording {INPUT}: 2 channels at 48000 Hz, 16 bits" in told.stdout
    assert "2 firings; light on channel 2;" in told.stdout
    live = [float(ms) for ms in re.findall(r"at \d+\.\d+ s: ([\d.]+) ± [\d.]+ ms", told.stdout)]
    expected = [1e3 * one.effective.value for one in alone(fired).firings]
    assert live == pytest.approx(expected, rel=2e-3)  # while it is recorded, from its last seconds alone
    kept = [1e3 * one.effective.value for one in TEST.run(read_sound(out), "1/60").firings]
    assert kept == pytest.approx(expected, abs=1e-3)  # a microsecond


def test_the_page_takes_the_input_as_it_is(fired: Path, browser: Browser, workshop: Workshop, job: Job) -> None:
    assert "2 channels at 48 kHz" in words(browser.get(RECORD))
    with played(fired, workshop.folder / "live"):
        assert start(browser, input=INPUT, marked="1/60").status_code == 303
        state = until(browser, lambda state: len(state["firings"]) == 2, within_s=60)
    time.sleep(1)
    browser.fill(RECORD, "stop")
    settled(browser)
    (reading,) = fold(workshop.journal(job.id)).measured
    assert_kept(workshop.media(reading.recording), fired)
    result: Any = reading.result
    assert result["input"]["channel"] == 2
    expected = [1e3 * one.effective.value for one in alone(fired).firings]
    assert [1e3 * one["effective_s"] for one in result["firings"]] == pytest.approx(expected, abs=1e-3)
    assert [float(one["time"].split()[0]) for one in state["firings"]] == pytest.approx(expected, rel=2e-3)


def test_the_page_says_what_the_input_has_where_something_else_is_chosen(
    browser: Browser, workshop: Workshop, job: Job
) -> None:
    refused = start(browser, input=INPUT, channels="1", rate="44100")
    assert refused.status_code == 422
    assert "it does not itself support 1 channel at 44100 Hz" in words(refused)
    assert "It supports 2 channels at 48 kHz" in words(refused)
    assert not list((workshop.folder / "live").glob("*"))
