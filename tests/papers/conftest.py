"""A workshop, a camera that was just taken in, and a catalogue of two bench tests."""

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from camerawright.bench.catalogue import find_test
from camerawright.bench.contract import BenchTest
from camerawright.papers import annex, certificate, speeds
from camerawright.readings import recorded, set_up, side_by_side
from camerawright.store.workshop import Workshop, create_workshop
from camerawright.workshop.rows import Job
from tests.papers.readings_examples import take_in


@pytest.fixture
def workshop(tmp_path: Path) -> Iterator[Workshop]:
    """An empty workshop."""
    with create_workshop(tmp_path / "workshop") as opened:
        yield opened


@pytest.fixture
def job(workshop: Workshop) -> Job:
    """A camera that was just taken in."""
    return take_in(workshop)


@pytest.fixture
def second_test(monkeypatch: pytest.MonkeyPatch) -> BenchTest[Any]:
    """A bench test called “other”, of the same kind of record."""
    other = replace(find_test("shutter"), name="other", title="Other test")
    tests = (find_test("shutter"), other)
    for module in (annex, certificate, speeds, side_by_side, set_up):
        monkeypatch.setattr(module, "CATALOGUE", tests)
    monkeypatch.setattr(recorded, "BY_NAME", {test.name: test for test in tests})
    return other
