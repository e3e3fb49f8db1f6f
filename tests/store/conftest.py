"""A workshop to try things in."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from camerawright.store.workshop import Workshop, create_workshop
from tests.store.invented import FALTER, INES, VISIT


@pytest.fixture
def workshop(tmp_path: Path) -> Iterator[Workshop]:
    """An empty workshop."""
    with create_workshop(tmp_path / "workshop") as made:
        yield made


@pytest.fixture
def job(workshop: Workshop) -> str:
    """The id of a job in it."""
    return workshop.take_in(INES, FALTER, VISIT).id
