"""A job's readings of every bench test, as found beside as left: for the job's page and the terminal."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any, get_args

from camerawright.bench.catalogue import CATALOGUE
from camerawright.bench.contract import BenchTest
from camerawright.bench.record import EFFECTIVE, Figure, figure_text
from camerawright.journal.entries import Measured, Phase
from camerawright.journal.state import State
from camerawright.quantity import Word
from camerawright.readings.recorded import record_of, speeds
from camerawright.readings.rows import DECISION_RULE, Reading, reading_shown, rows
from camerawright.readings.validity import in_force


@dataclass(frozen=True, kw_only=True)
class ReadingRow:
    """A marked value and what was read there, before and after the work."""

    marked: str
    as_found: Reading | None = None
    as_left: Reading | None = None


@dataclass(frozen=True, kw_only=True)
class FigureText:
    """A figure with its unit and ± half its 95 % interval in one text; `n` is None where a count means nothing."""

    read: str
    n: int | None = None
    verdict: Word | None = None


@dataclass(frozen=True, kw_only=True)
class FigureRow:
    """A named figure that is no error against a marked value; `marked` is the speed that was set, if any."""

    what: str  # "class X, from full open"
    marked: str = ""
    as_found: FigureText | None = None
    as_left: FigureText | None = None


@dataclass(frozen=True, kw_only=True)
class Table:
    """The newest readings of one bench test.

    `rows` compare with marks, `told` holds figures of another kind. `said` is what the newest reading says of itself
    where the test's readings are on no certificate: why not.
    """

    test: str
    title: str
    rows: tuple[ReadingRow, ...]
    told: tuple[FigureRow, ...]
    said: tuple[str, ...]
    n_readings: int
    method: str
    decision_rule: str = DECISION_RULE

    @property
    def in_words(self) -> str:
        """What the picture shows."""
        return "; ".join(
            f"{row.marked}: {reading.error} stops {phase}"
            for row in self.rows
            for phase, reading in (("as found", row.as_found), ("as left", row.as_left))
            if reading
        )


def tables(state: State) -> tuple[Table, ...]:
    """Every bench test that has readings in force."""
    entries = in_force(state)
    return tuple(
        _table([entry for entry in entries if entry.test == test.name], test)
        for test in CATALOGUE
        if any(entry.test == test.name for entry in entries)
    )


def _table(entries: list[Measured], test: BenchTest[Any]) -> Table:
    table, told = rows(entries, test), figure_rows(entries, test)
    return Table(
        test=test.name,
        title=test.title,
        rows=tuple(
            ReadingRow(
                marked=row.marked,
                as_found=reading_shown(row.as_found.against) if row.as_found else None,
                as_left=reading_shown(row.as_left.against) if row.as_left else None,
            )
            for row in table
        ),
        told=told,
        said=record_of(entries[-1]).flags if test.record.is_relative or not (table or told) else (),
        n_readings=len(entries),
        method="; ".join(dict.fromkeys(entry.method for entry in entries)),
    )


def figure_rows(measured: Iterable[Measured], test: BenchTest[Any]) -> tuple[FigureRow, ...]:
    """What a test found besides errors against marks: by mark and figure, the newest of each phase."""
    newest: dict[tuple[str, str], dict[Phase, Figure]] = {}
    for entry in measured:
        if entry.test != test.name:
            continue
        for figure in other_figures(entry):
            mark = figure.marked or entry.marked
            newest.setdefault((mark, figure.label), {})[entry.phase] = figure
    return tuple(
        FigureRow(
            marked=mark, what=_what(what, of), as_found=_text(of.get("as found")), as_left=_text(of.get("as left"))
        )
        for (mark, what), of in newest.items()
    )


def _what(label: str, of: Mapping[Phase, Figure]) -> str:
    """A figure, and what is allowed; where that was told differently for each phase, both."""
    limits = {phase: figure.allowed for phase in get_args(Phase) if (figure := of.get(phase)) and figure.allowed}
    if len(set(limits.values())) > 1:
        return f"{label} ({'; '.join(f'{allowed} allowed {phase}' for phase, allowed in limits.items())})"
    return f"{label} ({next(iter(limits.values()))} allowed)" if limits else label


def other_figures(entry: Measured) -> tuple[Figure, ...]:
    """The figures of a reading that no table of speeds shows."""
    if any(speed.effective or speed.compared for speed in speeds(entry)):
        return tuple(one for one in record_of(entry).figures if not one.is_error and one.name != EFFECTIVE)
    return record_of(entry).figures


def _text(figure: Figure | None) -> FigureText | None:
    return FigureText(read=figure_text(figure), n=figure.n, verdict=figure.verdict) if figure else None
