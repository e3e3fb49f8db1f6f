"""One reading as the measure page shows it: every speed, every firing, what else it tells, and its pictures."""

from collections import OrderedDict
from dataclasses import dataclass
from typing import Final

from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response

from camerawright.bench.contract import BenchTest, Json, Outcome, Told, input_words
from camerawright.job.now import JobNow
from camerawright.journal.entries import Measured
from camerawright.readings.apertures import apertures_of
from camerawright.readings.lanes import has_waveform
from camerawright.readings.measuring import recording_of, told_of
from camerawright.readings.rows import is_of_now, svg
from camerawright.readings.speeds import SpeedShown, speeds_shown
from camerawright.store.workshop import Workshop
from camerawright.trouble import Refused, Unreadable
from camerawright.web.pages.readings import DRAWING, TESTS, Firings, firings
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
    told: tuple[Told, ...]
    advice: tuple[str, ...]
    hypotheses: tuple[str, ...]  # what may be behind it, and the test that tells
    firings: Firings
    pictures: tuple[Picture, ...]
    summary: str  # as in the terminal, for what no table holds
    has_waveform: bool
    is_of_now: bool  # made by the present version of its test


def shown(at: JobNow, entry: Measured, why_void: str = "", why_late: str = "") -> Shown:
    """A reading of a job; of a test that is no longer there, or an earlier version, what every record has."""
    test = TESTS.get(entry.test)
    record: Json = dict(entry.result)
    if test is not None and not is_of_now(test, entry):
        test = None
    words = test.words(record) if test else {}
    base = f"/jobs/{at.job.id}/readings/{entry.id}"
    return Shown(
        entry=entry,
        title=TESTS[entry.test].title if entry.test in TESTS else entry.test,
        marked=str(entry.setup.get("marked") or ""),
        why_void=why_void,
        why_late=why_late,
        set_up=_set_up(entry, record),
        speeds=speeds_shown(entry, apertures_of(at.job.camera, (entry,))),
        told=test.tells(record) if test else (),
        advice=tuple(map(str, record.get("advice") or ())),
        hypotheses=tuple(
            f"{one['seen']}: may be {one['may_be']}. To find out: {one['test']}"
            for one in record.get("hypotheses") or ()
        ),
        firings=firings(entry),
        pictures=tuple(
            Picture(name=name, path=f"{base}/{_path(name)}.svg", words=text) for name, text in words.items()
        ),
        summary="\n".join(test.lines(Outcome(record))).strip() if test else "",
        has_waveform=has_waveform(record),
        is_of_now=test is not None,
    )


def _set_up(entry: Measured, record: Json) -> str:
    """What was told about the set-up, and what was remembered of the input."""
    told = told_of(entry).in_words(entry.test)
    return " ".join(filter(None, [f"Told: {told}." if told else "", input_words(record)]))


def _path(name: str) -> str:
    """A picture's name in an address."""
    return name.replace(" ", "-")


def plot(request: Request) -> Response:
    """One picture of a reading, drawn from its recording."""
    entry_id = request.path_params["entry"]
    entry = next((each for each in here(request).state.measured if each.id == entry_id), None)
    test = TESTS.get(entry.test) if entry else None
    if entry is None or test is None or not is_of_now(test, entry):
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


def _drawn(workshop: Workshop, test: BenchTest, entry: Measured) -> dict[str, bytes]:
    """All pictures of a reading as SVG; a page asks for one after the other, and a reading is never edited."""
    key = (str(workshop.folder), entry.id)
    with DRAWING:
        if key not in _kept:
            figures = test.plots(recording_of(workshop, entry), Outcome(dict(entry.result)))
            _kept[key] = {_path(name): svg(figure) for name, figure in figures.items()}
        _kept.move_to_end(key)
        while len(_kept) > _MOST_DRAWN:
            _kept.popitem(last=False)
        return _kept[key]
