"""The certificate: one page for the owner, from the journal and the readings; how it was measured is its annex."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import groupby
from typing import Final

from camerawright.bench.catalogue import CATALOGUE, find_test
from camerawright.bench.comparison import Comparison
from camerawright.job.now import JobNow
from camerawright.journal.entries import Measured
from camerawright.journal.state import State
from camerawright.papers.annex import Annex, annex
from camerawright.papers.paper import Line, Paper, head
from camerawright.papers.speeds import AtAperture, ByAperture, by_aperture, surest
from camerawright.papers.work_done import Finding, findings, work_done
from camerawright.quantity import Word
from camerawright.readings.rows import Read, Row, dial_time
from camerawright.readings.set_up import marks_of
from camerawright.readings.side_by_side import FigureRow, figure_rows
from camerawright.readings.validity import in_force, late
from camerawright.store.workshop import Workshop
from camerawright.trouble import Refused
from camerawright.wording import numbers

_MOST_FINDINGS: Final = 6
_MOST_LINES: Final = 4
"""Of one label, so that the page stays one; the rest stands in the annex."""
_SEEN_STOPS: Final = 0.1
"""From here on a speed that differs by aperture is explained: a tenth is what the owner's card shows. [stops]"""

BLADES_TAKE_TIME: Final = (
    "A leaf shutter's blades take time to open and close: they uncover a small stop sooner than a large one and cover"
    " it later, so the same firing lasts longer in effect when you stop down"
)


@dataclass(frozen=True, kw_only=True)
class SpeedReading:
    """What a marked speed gives, and how far off that is in stops."""

    gives: str  # "1/185 s"
    error: str  # "+0.47"
    verdict: Word | None


@dataclass(frozen=True, kw_only=True)
class SpeedRow:
    """A marked speed before and after the work, and how far off it may be."""

    marked: str
    allowed: str  # "−0.50 to +0.50"
    as_found: SpeedReading | None
    as_left: SpeedReading | None


@dataclass(frozen=True, kw_only=True)
class ApertureCell:
    """How far off a speed is at one aperture, in stops; nothing where nothing tells it."""

    error: str = ""
    verdict: Word | None = None


@dataclass(frozen=True, kw_only=True)
class ApertureRow:
    """A marked speed at each aperture, as left, or as found where it was not measured as left."""

    marked: str
    phase: str
    cells: tuple[ApertureCell, ...]


@dataclass(frozen=True, kw_only=True)
class ApertureTable:
    """The speeds at each aperture of the lens."""

    apertures: tuple[str, ...]
    rows: tuple[ApertureRow, ...]


@dataclass(frozen=True, kw_only=True)
class OtherReadings:
    """What a bench test found besides speeds."""

    title: str
    rows: tuple[FigureRow, ...]


@dataclass(frozen=True, kw_only=True)
class Certificate(Paper):
    """What goes home with the camera. `is_draft` until the job is closed."""

    number: str
    is_draft: bool
    owner: str
    owners_words: str = ""
    wanted: str = ""
    findings: tuple[Finding, ...] = ()
    work: tuple[Line, ...] = ()
    speeds: tuple[SpeedRow, ...] = ()
    by_aperture: ApertureTable | None = None
    others: tuple[OtherReadings, ...] = ()
    explained: str = ""  # why a speed is slower at a small stop
    trust: str = ""
    entered_late: str = ""  # readings as found that were entered after the work
    annex: Annex


def certificate(workshop: Workshop, here: JobNow) -> tuple[Certificate, dict[str, bytes]]:
    """The certificate of a job, and the pictures that its annex names.

    Raises
    ------
    Refused
        Nothing has been measured.
    """
    if not here.state.measured:
        raise Refused(
            f"nothing has been measured for {here.job.id}", "measure it first, as left at least", "certificate"
        )
    measured = in_force(here.state)
    rows = surest(measured)
    newest = [row.as_left or row.read[0] for row in rows]
    shown = by_aperture(here.job.camera, newest)
    others = [
        OtherReadings(title=test.title, rows=figure_rows(measured, test))
        for test in CATALOGUE
        if not test.record.is_relative
    ]
    all_found, all_work = findings(here.state), work_done(here.state)
    found, work = _first_findings(all_found), _first_lines(all_work)
    behind, images = annex(workshop, here)
    return Certificate(
        **head(workshop, here),
        number=f"{here.job.id}-C",
        is_draft=not here.state.is_closed,
        owner=here.job.owner.name,
        owners_words=here.job.visit.owners_words,
        wanted=here.job.visit.wanted,
        findings=found,
        work=work,
        speeds=tuple(map(_speed_row, rows)),
        by_aperture=_aperture_table(newest, shown) if len(shown.apertures) > 1 else None,
        others=tuple(one for one in others if one.rows),
        explained=explained(newest, shown),
        trust=_trust(rows, shown),
        entered_late=_entered_late(here.state, measured),
        annex=replace(
            behind, findings=() if found == all_found else all_found, work=() if work == all_work else all_work
        ),
    ), images


def _entered_late(state: State, measured: Sequence[Measured]) -> str:
    """The readings as found that were entered after the work, each test and mark once; "" for none."""
    why = late(state)
    said = (
        " ".join(filter(None, (find_test(entry.test).title, marks_of(entry))))
        for entry in measured
        if entry.phase == "as found" and entry.id in why
    )
    return ", ".join(dict.fromkeys(said))


def _first_findings(found: Sequence[Finding]) -> tuple[Finding, ...]:
    """As many as the page has room for."""
    if len(found) <= _MOST_FINDINGS:
        return tuple(found)
    more = Finding(part=f"and {len(found) - _MOST_FINDINGS + 1} more", defect="see the annex")
    return (*found[: _MOST_FINDINGS - 1], more)


def _first_lines(work: Sequence[Line]) -> tuple[Line, ...]:
    """As many of each label as the page has room for."""
    shown: list[Line] = []
    for label, lines in groupby(work, key=lambda line: line.label):
        of_label = list(lines)
        if len(of_label) > _MOST_LINES:
            more = f"and {len(of_label) - _MOST_LINES + 1} more, see the annex"
            of_label = [*of_label[: _MOST_LINES - 1], Line(label=label, words=more)]
        shown += of_label
    return tuple(shown)


def _speed_row(row: Row) -> SpeedRow:
    return SpeedRow(
        marked=row.marked,
        allowed=allowed_words(row.read[-1].against),
        as_found=_speed_reading(row.as_found),
        as_left=_speed_reading(row.as_left),
    )


def _speed_reading(read: Read | None) -> SpeedReading | None:
    if read is None:
        return None
    against = read.against
    return SpeedReading(
        gives=dial_time(against.mean_s), error=numbers.signed(against.mean.value), verdict=against.verdict
    )


def allowed_words(against: Comparison) -> str:
    """The limits of a speed in stops: ``± 0.33``, or both where they differ; "" where there are none."""
    if against.lower_ev is None or against.upper_ev is None:
        return ""
    if abs(against.lower_ev + against.upper_ev) < 1e-9:
        return f"± {numbers.fixed(against.upper_ev, 2)}"
    return f"{numbers.signed(against.lower_ev)} to {numbers.signed(against.upper_ev)}"


def _aperture_table(reads: Sequence[Read], shown: ByAperture) -> ApertureTable:
    return ApertureTable(
        apertures=tuple(aperture.name for aperture in shown.apertures),
        rows=tuple(
            ApertureRow(marked=read.against.marked, phase=read.entry.phase, cells=tuple(map(_aperture_cell, cells)))
            for read, cells in zip(reads, shown.cells, strict=True)
        ),
    )


def _aperture_cell(cell: AtAperture | None) -> ApertureCell:
    if cell is None:
        return ApertureCell()
    return ApertureCell(error=numbers.signed(cell.error.value), verdict=cell.verdict)


def explained(reads: Sequence[Read], shown: ByAperture) -> str:
    """Why a speed is slower at a small stop, and whose verdict that changes; "" where no tenth of a stop shows it."""
    told = [
        [(aperture.name, cell) for aperture, cell in zip(shown.apertures, cells, strict=True) if cell]
        for cells in shown.cells
    ]
    ends = [(read.against.marked, row[0], row[-1]) for read, row in zip(reads, told, strict=True) if row]
    if not any(abs(last.error.value - first.error.value) >= _SEEN_STOPS for _, (_, first), (_, last) in ends):
        return ""
    changed = [
        f"{marked} is {_limit_words(first)} at {wide} and {_limit_words(last)} at {narrow}"
        for marked, (wide, first), (narrow, last) in ends
        if first.verdict != last.verdict
    ]
    return f"{BLADES_TAKE_TIME}{': ' + ', '.join(changed) if changed else ''}."


def _limit_words(cell: AtAperture) -> str:
    return "undecided" if cell.verdict == "undecided" else f"{cell.verdict} the limits"


def _trust(rows: Sequence[Row], shown: ByAperture) -> str:
    """How far to trust the figures, in one sentence."""
    if not rows:
        return "In 19 cases of 20 the true value lies within the ± that stands beside a figure."
    read = max(one.against.mean.expanded_u for row in rows for one in row.read)
    computed = max((cell.error.expanded_u for cells in shown.cells for cell in cells if cell), default=read)
    said = f"In 19 cases of 20 the true error of a speed lies within ± {numbers.never_less(read)} stop of the one above"
    if numbers.never_less(computed) == numbers.never_less(read) or computed < read:
        return f"{said}."
    return f"{said}; what is computed for smaller stops, within ± {numbers.never_less(computed)} stop."
