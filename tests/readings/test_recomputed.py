"""Readings computed again from their recordings."""

import json
from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest

from camerawright.bench import codec
from camerawright.bench.catalogue import CATALOGUE, find_test
from camerawright.handbook.tolerances import DEFAULT, find_profile
from camerawright.journal.entries import Measured
from camerawright.readings import recomputed
from camerawright.store.workshop import Workshop, create_workshop
from camerawright.trouble import Trouble
from tests.store.invented import FALTER, INES, VISIT
from tests.web.recordings import recording

MORNING = datetime(2026, 3, 2, 9, 0, tzinfo=UTC)


@pytest.fixture
def workshop(tmp_path: Path) -> Iterator[Workshop]:
    """A workshop with a job."""
    with create_workshop(tmp_path / "workshop") as opened:
        opened.take_in(INES, FALTER, replace(VISIT, profile="user"))
        yield opened


def _reading(workshop: Workshop, **changed: Any) -> Measured:
    """A reading of the first test, measured just now from a simulated recording; some of its figures changed."""
    test = find_test(CATALOGUE[0].name)
    kept = workshop.keep(recording(), suffix=".wav")
    record = test.run(test.medium.read(workshop.media(kept)), "1/60", find_profile(DEFAULT))
    result = json.loads(json.dumps(codec.written(record)))
    for figure in result["figures"]:
        figure["value"] = changed.get("value", figure["value"])
    return Measured(
        at=MORNING, test=test.name, phase="as found", method=changed.get("method", test.method),
        setup={"marked": "1/60", "profile": "user"}, result=result, recording=changed.get("recording", kept),
    )  # fmt: skip


def _found(workshop: Workshop) -> list[tuple[Trouble, bool]]:
    return list(recomputed.changed(workshop, lambda _n, _of: None))


def test_a_reading_that_was_left_alone_gives_the_same(workshop: Workshop) -> None:
    workshop.append("J1", _reading(workshop))
    assert _found(workshop) == []


@pytest.mark.parametrize(("method", "is_newer"), [(CATALOGUE[0].method, False), ("an older one, version 0", True)])
def test_a_reading_that_gives_something_else_is_told_with_its_method(
    workshop: Workshop, method: str, is_newer: bool
) -> None:
    entry = _reading(workshop, value=0.25, method=method)
    workshop.append("J1", entry)
    [(trouble, found_newer)] = _found(workshop)
    assert trouble.where == f"the reading {entry.id[:8]} of J1 ({entry.test})"
    assert "was 250" in trouble.what
    assert method in trouble.what
    assert CATALOGUE[0].method in trouble.what
    assert found_newer is is_newer


def test_a_reading_whose_recording_is_gone_or_another_is_told(workshop: Workshop) -> None:
    workshop.append("J1", _reading(workshop, recording="0" * 64))
    other = workshop.keep(recording(2), suffix=".wav")
    workshop.append("J1", _reading(workshop, recording=other))
    found = _found(workshop)
    assert len(found) == 2
    assert any("it is not kept here" in trouble.what for trouble, _ in found)
    assert any("by the same" in trouble.what for trouble, _ in found)
    assert all(not is_newer and trouble.mend for trouble, is_newer in found)


def test_a_reading_that_cannot_be_read_is_told(workshop: Workshop) -> None:
    entry = _reading(workshop)
    workshop.append("J1", entry.model_copy(update={"result": {"test": entry.test}}))
    [(trouble, _)] = _found(workshop)
    assert "cannot be read" in trouble.what
