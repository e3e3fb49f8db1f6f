"""Readings of tables on the papers: as found beside as left, with what is allowed, also where a table goes overleaf."""

from collections.abc import Sequence
from io import BytesIO
from pathlib import Path
from typing import Any

import pytest
from pypdf import PageObject, PdfReader

from camerawright.bench.catalogue import CATALOGUE
from camerawright.bench.contract import BenchTest
from camerawright.bench.register import TEST as REGISTER
from camerawright.papers.catalogue import render_paper
from camerawright.readings.measuring import MeasuredAlready, measured
from camerawright.readings.set_up import SetUp
from camerawright.recordings.table import written
from camerawright.store.workshop import Workshop
from camerawright.workshop.rows import Job

TABLES = [test for test in CATALOGUE if test.medium.kind == "table"]


def test_the_certificate_shows_the_register_as_found_and_as_left(workshop: Workshop, job: Job, tmp_path: Path) -> None:
    """Of a draft, whose mark lies across a table that goes overleaf: PDF/UA takes it."""
    setup = SetUp(options={"nominal_mm": "28.80"})
    for phase, seed, less_mm in (("as found", 3, 0.0), ("as left", 4, 0.045)):
        table = REGISTER.simulate(seed)
        table.columns["depth_mm"][:] -= less_mm
        path = tmp_path / f"{seed}.csv"
        path.write_bytes(written(table))
        record, _ = measured(workshop, job.id, REGISTER, path, marked=None, phase=phase, setup=setup)  # type: ignore[arg-type]
        assert record.refused is None
    pages = _certificate(workshop, job)
    first = " ".join(pages[0].extract_text().split())
    for text in ("Register by depth readings", "28.780 to 28.820 mm", "slope x", "mrad", "outside", "within"):
        assert text in first
    behind = " ".join(" ".join(page.extract_text() for page in pages[1:]).split())
    for text in (
        "nominal 28.8 mm",
        "28.820 mm (a third of the depth of focus",
        "Uncertainty budget",
        "slope x [mrad]",
    ):
        assert text in behind


def test_limits_that_one_phase_was_told_are_not_said_of_the_other(workshop: Workshop, job: Job, tmp_path: Path) -> None:
    for phase, seed, options in (("as found", 3, {"nominal_mm": "28,80"}), ("as left", 4, {})):
        path = tmp_path / f"{seed}.csv"
        path.write_bytes(written(REGISTER.simulate(seed)))
        measured(workshop, job.id, REGISTER, path, marked=None, phase=phase, setup=SetUp(options=options))  # type: ignore[arg-type]
    pages = _certificate(workshop, job)
    assert "no limits told" in " ".join(pages[0].extract_text().split())
    behind = " ".join(" ".join(page.extract_text() for page in pages[1:]).split())
    assert "as found: nominal 28.8 mm. as left: nothing told" in behind


def _certificate(workshop: Workshop, job: Job) -> Sequence[PageObject]:
    return PdfReader(BytesIO(render_paper(workshop, job.id, "certificate"))).pages


@pytest.mark.parametrize("test", TABLES, ids=lambda test: test.name)
def test_a_gauge_may_show_the_same_numbers_before_and_after_the_work(
    test: BenchTest[Any], workshop: Workshop, job: Job, tmp_path: Path
) -> None:
    path = tmp_path / "same.csv"
    path.write_bytes(written(test.simulate(1)))
    measured(workshop, job.id, test, path, marked=None, phase="as found")
    _, here = measured(workshop, job.id, test, path, marked=None, phase="as left")
    assert [entry.phase for entry in here.state.measured] == ["as found", "as left"]
    with pytest.raises(MeasuredAlready):
        measured(workshop, job.id, test, path, marked=None, phase="as left")
