"""Readings of a table on the measure page: typed in rows, or sent as a CSV file."""

import pytest

from camerawright.bench.register import TEST as REGISTER
from camerawright.journal.entries import Measured
from camerawright.journal.state import fold
from camerawright.recordings.table import table_of, written
from camerawright.store.workshop import Workshop
from camerawright.workshop.rows import Job
from tests.web.conftest import Browser, fields, words
from tests.web.recordings import MEASURE, send, waiting

TABLE = REGISTER.simulate(3)
NOMINAL = {"test": "register", "register.nominal_mm": "28.80"}
CELLS = {
    f"register.{n}.{name}": f"{value:.2f}".replace(".", ",")
    for name, column in TABLE.columns.items()
    for n, value in enumerate(column)
}


def readings(workshop: Workshop, job: Job) -> tuple[Measured, ...]:
    """Those of the journal."""
    return tuple(fold(workshop.journal(job.id)).measured)


@pytest.mark.parametrize("way", ["typed", "sent"])
def test_readings_that_are_typed_or_sent_become_a_reading(
    browser: Browser, workshop: Workshop, job: Job, way: str
) -> None:
    if way == "typed":
        page = send(browser, **NOMINAL, **CELLS)
    else:
        page = send(browser, ("gate.csv", written(TABLE)), **NOMINAL)
    assert not waiting(page), words(page)
    (entry,) = readings(workshop, job)
    assert entry.test == "register"
    kept = workshop.media(entry.recording).read_bytes()
    assert list(table_of(kept, REGISTER.medium.columns).columns["depth_mm"]) == pytest.approx(TABLE.columns["depth_mm"])
    shown = words(browser.get(MEASURE))
    for text in ("register", "28.780 to 28.820 mm", "outside", "slope x", "mrad", "out from under the lens mount"):
        assert text in shown


def test_a_cell_that_is_no_number_is_named_and_what_was_typed_stays(
    browser: Browser, workshop: Workshop, job: Job
) -> None:
    page = send(browser, **NOMINAL, **{**CELLS, "register.2.depth_mm": "deep"})
    assert "line 4, column depth_mm: “deep” is not a number" in words(page)
    assert readings(workshop, job) == ()
    kept = fields(page, "measure")
    assert kept["register.2.depth_mm"] == "deep"
    assert {name: kept[name] for name in CELLS if name != "register.2.depth_mm"} == {
        name: text for name, text in CELLS.items() if name != "register.2.depth_mm"
    }


def test_places_on_one_line_are_refused_with_what_to_do(browser: Browser, workshop: Workshop, job: Job) -> None:
    page = send(browser, ("line.csv", b"x_mm,y_mm,depth_mm\n-16,0,28.8\n0,0,28.8\n16,0,28.8\n"), **NOMINAL)
    assert "The places lie on one line, or nearly. Read places on both sides of that line as well." in words(page)
    assert readings(workshop, job) == ()
