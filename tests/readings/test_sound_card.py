"""The memory of a sound card's input, folded from the records of a workshop's readings."""

from collections.abc import Iterator
from datetime import date, timedelta
from pathlib import Path

import numpy as np
import pytest
import soundfile

from camerawright.bench.catalogue import find_test
from camerawright.bench.record import Record
from camerawright.bench.shutter.record import Input, ShutterRecord
from camerawright.bench.shutter.simulate import SoundCard, Truth
from camerawright.job.entering import enter, undo
from camerawright.journal.entries import Removed
from camerawright.numeric.instrument import Instrument
from camerawright.readings.measuring import measured, tried
from camerawright.readings.set_up import Label, SetUp
from camerawright.readings.sound_card import folded, known, names
from camerawright.store.workshop import Workshop, create_workshop
from camerawright.workshop.rows import Camera, Job, Owner, Visit
from tests.bench.scenes import recorded, scene

TEST = find_test("shutter")
CARD = SoundCard(corners_hz=(9.0, 1.2))
NAME = "Line In"


@pytest.fixture
def workshop(tmp_path: Path) -> Iterator[Workshop]:
    """An empty workshop."""
    with create_workshop(tmp_path / "workshop") as opened:
        yield opened


def take_in(workshop: Workshop, serial: str = "41877") -> Job:
    """A camera."""
    camera = Camera(maker="Orlmann", model="Falter 6x6", serial=serial)
    return workshop.take_in(Owner(name="Ines Marrow"), camera, Visit(taken_in=date(2026, 3, 2)))


def fired(path: Path, time_s: float, seed: int, card: SoundCard = CARD) -> tuple[Truth, ...]:
    """Three firings at 50 dB, as a file."""
    waveform, truths = recorded(scene(time_s, n=3, snr_db=50, card=card), seed)
    soundfile.write(path, waveform.samples, 48_000, subtype="PCM_16")
    return truths


def read(workshop: Workshop, job: Job, path: Path) -> Record:
    """A reading by the input."""
    return measured(workshop, job.id, TEST, path, marked=None, phase="as found", setup=SetUp(input=NAME))[0]


def made(record: Record) -> Input:
    """How its recording was made."""
    assert isinstance(record, ShutterRecord)
    assert record.input
    return record.input


def ac_model(record: Record) -> float:
    """The largest line of the coupling in the budgets of a record. [s]"""
    assert isinstance(record, ShutterRecord)
    return max(line.u for firing in record.firings for line in firing.effective.budget if line.name == "AC model")


@pytest.fixture
def remembering(workshop: Workshop, tmp_path: Path) -> Workshop:
    """A workshop with five readings at 1/30, from two cameras."""
    jobs = take_in(workshop), take_in(workshop, "41878")
    for seed in range(5):
        fired(tmp_path / f"{seed}.wav", 1 / 30, seed)
        read(workshop, jobs[seed % 2], tmp_path / f"{seed}.wav")
    return workshop


def test_five_earlier_readings_narrow_the_slow_speeds_and_the_truth_is_held(
    remembering: Workshop, tmp_path: Path
) -> None:
    job = take_in(remembering, "41879")
    for time_s in (1 / 8, 1 / 4):
        truths = fired(tmp_path / "slow.wav", time_s, 77)
        alone, record = (
            tried(remembering, tmp_path / "slow.wav", Label(job=job.id, test=TEST.name, phase="as found", input=name))
            for name in (None, NAME)
        )
        remembered = made(record).remembered
        assert remembered
        assert remembered.n_recordings == 5
        assert isinstance(record, ShutterRecord)
        assert ac_model(record) < 0.7 * ac_model(alone)
        for firing, truth in zip(record.firings, truths, strict=True):
            assert abs(firing.effective.value - truth.effective_s) < firing.effective.expanded_u
        assert "known from 5 earlier recordings" in " ".join(TEST.lines(record))
        assert "earlier recording" not in " ".join(TEST.lines(alone))


def test_the_corners_that_the_card_has_are_remembered(remembering: Workshop) -> None:
    told = known(remembering, "line  in")
    assert told is not None
    a = 2 * np.pi * sum(CARD.corners_hz)
    assert told.a_per_s == pytest.approx(a, rel=0.002)
    assert known(remembering, "Mic In") is None
    assert names(remembering) == (NAME,)


def test_another_card_of_that_name_is_flagged_and_what_was_known_is_not_used(
    remembering: Workshop, tmp_path: Path
) -> None:
    job = take_in(remembering, "41879")
    truths = fired(tmp_path / "other.wav", 1 / 8, 5, SoundCard(corners_hz=(20.0, 2.0)))
    record = read(remembering, job, tmp_path / "other.wav")
    assert any("another input" in flag for flag in record.flags)
    assert made(record).remembered is None
    assert isinstance(record, ShutterRecord)
    assert record.firings[0].effective.value == pytest.approx(truths[0].effective_s, rel=0.001)
    told = known(remembering, NAME)
    assert told is not None
    assert told.n_recordings == 5


def test_a_recording_measured_again_neither_counts_twice_nor_for_itself(workshop: Workshop, tmp_path: Path) -> None:
    job = take_in(workshop)
    fired(tmp_path / "a.wav", 1 / 30, 1)
    for marked in (None, "1/30"):
        outcome, _ = measured(
            workshop,
            job.id,
            TEST,
            tmp_path / "a.wav",
            marked=marked,
            phase="as found",
            setup=SetUp(input=NAME),
        )
        assert made(outcome).remembered is None
    told = known(workshop, NAME)
    assert told is not None
    assert told.n_recordings == 1


def test_a_reading_that_was_struck_out_or_is_void_is_forgotten(workshop: Workshop, tmp_path: Path) -> None:
    job = take_in(workshop)
    fired(tmp_path / "a.wav", 1 / 30, 1)
    read(workshop, job, tmp_path / "a.wav")
    undo(workshop, job.id)
    assert known(workshop, NAME) is None
    _, here = measured(
        workshop, job.id, TEST, tmp_path / "a.wav", marked=None, phase="as left", setup=SetUp(input=NAME)
    )
    assert known(workshop, NAME) is not None
    later = here.now + timedelta(minutes=1)
    enter(workshop, job.id, Removed(at=later, part="front plate"), now=later)
    assert known(workshop, NAME) is None


def test_folding_reads_no_recording(remembering: Workshop) -> None:
    for path in (remembering.folder / "media").rglob("*"):
        if path.is_file():
            path.unlink()
    assert known(remembering, NAME) is not None


def _told(a: float) -> Instrument:
    return Instrument(a, 400.0, np.diag([0.01, 25.0]), 1)


def test_one_that_contradicts_is_left_out_and_two_that_agree_take_over() -> None:
    """The rule as docs/recording.md states it."""
    once = folded(map(_told, (60.0, 60.1, 80.0, 59.9)))
    assert once is not None
    assert once.n_recordings == 3
    assert once.a_per_s == pytest.approx(60.0)
    swapped = folded(map(_told, (60.0, 60.1, 80.0, 80.1, 79.9)))
    assert swapped is not None
    assert swapped.n_recordings == 3
    assert swapped.a_per_s == pytest.approx(80.0)
    assert folded(()) is None
