"""The readings of a job on the measure page: the pictures, one table, and the details that its rows open to."""

from collections import OrderedDict
from collections.abc import Iterable
from dataclasses import dataclass
from threading import Lock
from typing import Any, Final

from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response

from camerawright.bench.catalogue import BY_NAME
from camerawright.bench.contract import BenchTest, Speed, input_words
from camerawright.bench.record import Record
from camerawright.job.now import JobNow
from camerawright.journal.entries import Measured
from camerawright.readings.apertures import smaller_apertures
from camerawright.readings.measuring import recording_of
from camerawright.readings.overview import Overview, Row, overview
from camerawright.readings.pictures import card_png, svg
from camerawright.readings.recorded import is_of_now, record_of, table, test_of
from camerawright.readings.rows import rows
from camerawright.readings.set_up import told_of
from camerawright.readings.speeds import SpeedShown, speed_shown
from camerawright.readings.traces import has_waveform
from camerawright.readings.validity import in_force
from camerawright.store.workshop import Workshop
from camerawright.trouble import Refused, Unreadable
from camerawright.web.render import workshop_of
from camerawright.web.taking import here

DRAWING: Final = Lock()
"""One picture at a time: two cores are better spent on pages."""
_MOST_DRAWN: Final = 8


@dataclass(frozen=True, kw_only=True)
class Picture:
    """A picture of a reading, and what it shows in words."""

    name: str
    path: str
    words: str


@dataclass(frozen=True, kw_only=True)
class Detail:
    """What a row opens to, of one reading: of the whole, or of one of its speeds.

    `firings` are rows of the reading's own table, each with its number and its doubts. `anchor` is the reading's place
    on the page, "" where it stands elsewhere.
    """

    entry: Measured
    anchor: str
    title: str
    set_up: str  # what was told about it, and what was known of its input
    speed: SpeedShown | None
    heads: tuple[str, ...]
    firings: tuple[tuple[int, tuple[str, ...], tuple[str, ...]], ...]
    notes: tuple[str, ...]
    remarks: tuple[str, ...]
    advice: tuple[str, ...]
    pictures: tuple[Picture, ...]
    summary: str  # as in the terminal, for what no table holds
    has_waveform: bool
    is_of_now: bool  # made by the present version of its test


class Details:
    """The details of a job's readings; the first time that a reading is shown, it gets its anchor."""

    def __init__(self, at: JobNow) -> None:
        self._at = at
        self._placed: set[str] = set()

    def of(self, rows: Iterable[Row]) -> tuple[Detail, ...]:
        """What rows of the table open to: each reading once."""
        cells = {cell.entry.id: cell for row in rows for cell in row.cells}
        return tuple(self.one(cell.entry, cell.speed) for cell in cells.values())

    def one(self, entry: Measured, speed: Speed | None = None) -> Detail:
        """One reading, or one speed of it. One that cannot be read says so."""
        test, record, found = test_of(entry), record_of(entry), table(entry)
        of_now = test if is_of_now(entry) else None
        shown = [i for i in (speed.i_firings if speed else ()) if i < len(found.rows)] or range(len(found.rows))
        anchor = "" if entry.id in self._placed else f"r-{entry.id}"
        self._placed.add(entry.id)
        return Detail(
            entry=entry,
            anchor=anchor,
            title=test.title if test else entry.test,
            set_up=_set_up(entry, test, record),
            speed=speed_shown(speed, smaller_apertures(self._at.job.camera, entry)) if speed else None,
            heads=found.heads,
            firings=tuple((i + 1, found.rows[i], found.flags[i] if i < len(found.flags) else ()) for i in shown),
            notes=found.notes,
            remarks=(*record.flags, *([record.refused.reason] if record.refused else ())),
            advice=record.advice,
            pictures=tuple(
                Picture(name=name, path=f"/jobs/{self._at.job.id}/readings/{entry.id}/{_path(name)}.svg", words=words)
                for name, words in (of_now.words(record) if of_now else {}).items()
            ),
            summary="\n".join(of_now.lines(record)).strip() if of_now else "",
            has_waveform=has_waveform(entry),
            is_of_now=of_now is not None,
        )


def readings_of(at: JobNow) -> tuple[Overview, Details]:
    """What the template shows of a job's readings."""
    return overview(at.state), Details(at)


def _set_up(entry: Measured, test: BenchTest[Any] | None, record: Record) -> str:
    """What was told about the set-up, and what was remembered of the input."""
    told = told_of(entry).in_words(entry.test)
    remembered = input_words(test.remembered(record)) if test and test.remembered and not record.refused else ""
    return " ".join(filter(None, [f"Told: {told}." if told else "", remembered]))


def _path(name: str) -> str:
    """A picture's name in an address."""
    return name.replace(" ", "-")


def card(request: Request) -> Response:
    """All readings of a test in one picture."""
    test = BY_NAME.get(request.path_params["test"])
    state = here(request).state
    with DRAWING:
        picture = card_png(test, rows(in_force(state), test), dpi=110) if test else None
    if picture is None:
        raise HTTPException(404, f"There is no picture of “{request.path_params['test']}” for this job.")
    return Response(picture, media_type="image/png", headers={"Cache-Control": "no-store"})


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
