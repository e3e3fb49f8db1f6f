"""What is told about a set-up: kept with the reading, found again for the next, refused before anything is recorded."""

from collections.abc import Iterator
from datetime import date
from pathlib import Path

import pytest
import soundfile

from camerawright.bench import codec
from camerawright.bench.catalogue import find_test
from camerawright.handbook.tolerances import DEFAULT, find_profile
from camerawright.papers.annex import annex
from camerawright.papers.paper import Line
from camerawright.readings.apertures import widest_f_number
from camerawright.readings.measuring import measured, recording_of, refuse_unfit
from camerawright.readings.set_up import SetUp, told_before, told_of, told_options
from camerawright.store.workshop import Workshop, create_workshop
from camerawright.trouble import NotUnderstood, Refused
from camerawright.workshop.rows import Camera, Job, Owner, Visit

CURTAINS = find_test("curtains")


@pytest.fixture
def workshop(tmp_path: Path) -> Iterator[Workshop]:
    """An empty workshop."""
    with create_workshop(tmp_path / "workshop") as opened:
        yield opened


def take_in(workshop: Workshop, serial: str) -> Job:
    """A camera."""
    camera = Camera(maker="Tessbury", model="Mark 35", serial=serial)
    return workshop.take_in(Owner(name="Ines Marrow"), camera, Visit(taken_in=date(2026, 3, 2)))


@pytest.fixture
def fired(tmp_path: Path) -> Path:
    """The simulator's example of the curtains."""
    waveform = CURTAINS.simulate(1)
    soundfile.write(tmp_path / "fired.wav", waveform.samples, int(waveform.rate_hz), subtype="PCM_16")
    return tmp_path / "fired.wav"


def test_what_was_told_is_said_with_its_unit_as_the_trade_writes_it() -> None:
    """Symbols of units: [iso-80000]-1, and [si-brochure], table 4 (ohm: Ω)."""
    told = SetUp(options={"contact": "X", "series_ohm": "220", "skew_us": "4", "flash_ms": "1"})
    assert told.in_words("sync") == "contact X; series 220 Ω; skew 4 µs; flash 1 ms"
    assert SetUp(options={"gate": "24", "at": "2,18,34"}).in_words("curtains") == "gate 24 mm; at 2,18,34 mm"
    assert [option.example for option in find_test("sync").options if option.name.endswith("ohm")] == ["Ω", "Ω"]
    assert SetUp(options={"of_long_ago": "3"}).in_words("no longer there") == "of long ago 3"


def test_what_was_told_is_kept_and_the_reading_can_be_computed_again_from_what_is_kept(
    workshop: Workshop, fired: Path
) -> None:
    job = take_in(workshop, "1")
    told = SetUp(options={"diameter": "1.2", "gate": " 36 ", "placed": ""}, input="Line In")
    outcome, here = measured(workshop, job.id, CURTAINS, fired, marked="1/500", phase="as found", setup=told)
    (reading,) = here.state.measured
    assert told_of(reading) == SetUp(options={"diameter": "1.2", "gate": "36"}, input="Line In")
    recording, profile = recording_of(workshop, reading), find_profile("user")
    again = CURTAINS.run(recording, "1/500", profile, **told_of(reading).options)
    as_usual = CURTAINS.run(recording, "1/500", profile)
    assert codec.written(again)["firings"] == codec.written(outcome)["firings"]
    assert codec.written(as_usual)["firings"] != codec.written(outcome)["firings"]


def test_the_next_recording_is_set_up_as_the_last_of_this_job_else_of_the_workshop(
    workshop: Workshop, fired: Path
) -> None:
    first, second, third = (take_in(workshop, serial) for serial in "123")
    for job, placed in ((second, "0.2"), (first, "0.5")):
        told = SetUp(options={"placed": placed, "gate": "36"})
        measured(workshop, job.id, CURTAINS, fired, marked=None, phase="as found", setup=told)
    assert told_before(workshop, second.id)["curtains"].options == {"placed": "0.2", "gate": "36"}
    assert told_before(workshop, third.id)["curtains"].options == {"placed": "0.5"}
    assert "shutter" not in told_before(workshop, third.id)


def test_the_rest_of_the_set_up_goes_on_the_certificate_and_tells_the_widest_aperture(
    workshop: Workshop, fired: Path
) -> None:
    job = take_in(workshop, "1")
    told = SetUp(options={"gate": "36"}, words="lens f/3.5, wide open")
    _, here = measured(workshop, job.id, CURTAINS, fired, marked="1/500", phase="as found", setup=told)
    (shown,) = annex(workshop, here)[0].tests
    assert Line(label="Set-up", words="lens f/3.5, wide open; gate 36 mm") in shown.facts
    assert widest_f_number(job.camera, here.state.measured) == 3.5


@pytest.mark.parametrize("typed", ["500", "1/500", " 1/500 "])
def test_a_mark_is_kept_as_it_is_written_however_it_was_typed(workshop: Workshop, fired: Path, typed: str) -> None:
    job = take_in(workshop, "B 20418")
    _, here = measured(workshop, job.id, CURTAINS, fired, marked=typed, phase="as found")
    assert here.state.measured[-1].setup["marked"] == "1/500"


def test_an_option_that_the_test_does_not_have_is_refused_and_nothing_kept(workshop: Workshop, fired: Path) -> None:
    job = take_in(workshop, "1")
    with pytest.raises(NotUnderstood, match="the test curtains has no such option; it has at, gate, diameter, placed"):
        measured(
            workshop, job.id, CURTAINS, fired, marked=None, phase="as found", setup=SetUp(options={"contact": "X"})
        )
    assert not workshop.journal(job.id)


def test_a_dash_is_an_underscore() -> None:
    assert told_options(find_test("sync"), {"sensor-at": "end"}) == {"sensor_at": "end"}


@pytest.mark.parametrize(
    ("name", "told", "n_channels", "option"),
    [
        ("curtains", {"gate": "wide"}, 2, "gate"),
        ("curtains", {"at": "2,18,34"}, 2, "at"),
        ("sync", {"contact": "Y"}, 2, "contact"),
        ("sync", {"skew_us": "much"}, 2, "skew-us"),
        ("shutter", {"sensor": "eye"}, 1, "sensor"),
        ("escapement", {"sensor": "ear"}, 1, "sensor"),
    ],
)
def test_what_cannot_be_understood_is_said_before_anything_is_recorded(
    name: str, told: dict[str, str], n_channels: int, option: str
) -> None:
    profile = find_profile(DEFAULT)
    with pytest.raises(NotUnderstood) as bad:
        refuse_unfit(find_test(name), "1/60", profile, options=told, n_channels=n_channels, rate_hz=48_000)
    assert bad.value.where == option
    assert "--" not in str(bad.value)


@pytest.mark.parametrize("name", ["curtains", "sync"])
def test_too_few_channels_are_said_before_anything_is_recorded(name: str) -> None:
    test, profile = find_test(name), find_profile(DEFAULT)
    with pytest.raises(Refused, match="record 2 or more"):
        refuse_unfit(test, "1/60", profile, options={}, n_channels=1, rate_hz=48_000)
    refuse_unfit(test, "1/60", profile, options={}, n_channels=2, rate_hz=48_000)


def test_every_word_that_can_be_chosen_is_understood() -> None:
    for test in (find_test("shutter"), find_test("sync")):
        for option in test.options:
            for word in option.choices:
                refuse_unfit(
                    test, None, find_profile(DEFAULT), options={option.name: word}, n_channels=2, rate_hz=48_000
                )
