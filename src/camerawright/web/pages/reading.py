"""One reading as the measure page shows it: every speed, every firing, what else it tells, and its pictures."""

from collections import OrderedDict
from dataclasses import dataclass
from typing import Any, Final

from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response

from camerawright.bench.contract import BenchTest, Table, input_words
from camerawright.bench.record import Record
from camerawright.job.now import JobNow
from camerawright.journal.entries import Measured
from camerawright.readings.apertures import apertures_of
from camerawright.readings.measuring import recording_of, told_of
from camerawright.readings.recorded import is_of_now, record_of, table, test_of
from camerawright.readings.rows import svg
from camerawright.readings.shown import ToldReading
from camerawright.readings.side_by_side import figures_shown
from camerawright.readings.speeds import SpeedShown, speeds_shown
from camerawright.readings.traces import has_waveform
from camerawright.store.workshop import Workshop
from camerawright.trouble import Refused, Unreadable
from camerawright.web.pages.readings import DRAWING
from camerawright.web.render import workshop_of
from camerawright.web.taking import here

_MOST_DRAWN: Final = 8


@dataclass(frozen=True, kw_only=True)
class Picture:
    """A picture of a reading, and what it shows in words."""

    name: str
    path: str
    words: str


@dataclass(frozen=True, kw_only=True)
class Shown:
    """A reading as the page shows it."""

    entry: Measured
    title: str
    marked: str
    why_void: str
    why_late: str  # as found, and entered after the work had begun
    set_up: str  # what was told about it, and what was known of its input
    speeds: tuple[SpeedShown, ...]
    told: tuple[tuple[str, str, ToldReading], ...]  # what, at which mark, the figure
    advice: tuple[str, ...]
    remarks: tuple[str, ...]
    firings: Table
    pictures: tuple[Picture, ...]
    summary: str  # as in the terminal, for what no table holds
    has_waveform: bool
    is_of_now: bool  # made by the present version of its test


def shown(at: JobNow, entry: Measured, why_void: str = "", why_late: str = "") -> Shown:
    """A reading of a job; of a test that is no longer there, or an earlier version, what every record has."""
    test, record = test_of(entry), record_of(entry)
    title = test.title if test else entry.test
    if not is_of_now(entry):
        test = None
    words = test.words(record) if test else {}
    base = f"/jobs/{at.job.id}/readings/{entry.id}"
    return Shown(
        entry=entry,
        title=title,
        marked=str(entry.setup.get("marked") or ""),
        why_void=why_void,
        why_late=why_late,
        set_up=_set_up(entry, test, record),
        speeds=speeds_shown(entry, apertures_of(at.job.camera, (entry,))),
        told=figures_shown(entry),
        advice=record.advice,
        remarks=(*record.flags, *([record.refused.reason] if record.refused else ())),
        firings=table(entry),
        pictures=tuple(
            Picture(name=name, path=f"{base}/{_path(name)}.svg", words=text) for name, text in words.items()
        ),
        summary="\n".join(test.lines(record)).strip() if test else "",
        has_waveform=has_waveform(entry),
        is_of_now=test is not None,
    )


def _set_up(entry: Measured, test: BenchTest[Any] | None, record: Record) -> str:
    """What was told about the set-up, and what was remembered of the input."""
    told = told_of(entry).in_words(entry.test)
    remembered = input_words(test.remembered(record)) if test and test.remembered else ""
    return " ".join(filter(None, [f"Told: {told}." if told else "", remembered]))


def _path(name: str) -> str:
    """A picture's name in an address."""
    return name.replace(" ", "-")


def plot(request: Request) -> Response:
    """One picture of a reading, drawn from its recording."""
    entry_id = request.path_params["entry"]
    entry = next((each for each in here(request).state.measured if each.id == entry_id), None)
    test = test_of(entry) if entry else None
    if entry is None or test is None or not is_of_now(entry):
        raise HTTPException(404, f"There is no picture of a reading {entry_id[:8]} in this job.")
    try:
        drawn = _drawn(workshop_of(request), test, entry)
    except (Refused, Unreadable) as why:
        raise HTTPException(404, f"The recording of {entry_id[:8]} cannot be read: {why}") from None
    picture = drawn.get(request.path_params["picture"])
    if picture is None:
        raise HTTPException(404, f"There is no such picture of the reading {entry_id[:8]}.")
    return Response(picture, media_type="image/svg+xml", headers={"Cache-Control": "private, max-age=86400"})


_kept: Final[OrderedDict[tuple[str, str], dict[str, bytes]]] = OrderedDict()


def _drawn(workshop: Workshop, test: BenchTest[Any], entry: Measured) -> dict[str, bytes]:
    """All pictures of a reading as SVG; a page asks for one after the other, and a reading is never edited."""
    key = (str(workshop.folder), entry.id)
    with DRAWING:
        if key not in _kept:
            figures = test.plots(recording_of(workshop, entry), record_of(entry))
            _kept[key] = {_path(name): svg(figure) for name, figure in figures.items()}
        _kept.move_to_end(key)
        while len(_kept) > _MOST_DRAWN:
            _kept.popitem(last=False)
        return _kept[key]
