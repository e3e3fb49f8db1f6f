"""A job's readings of every bench test, as found beside as left: for the job's page and the terminal."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from camerawright.bench.catalogue import CATALOGUE
from camerawright.bench.contract import BenchTest
from camerawright.bench.record import EFFECTIVE, Figure, figure_text
from camerawright.journal.entries import Measured, Phase
from camerawright.journal.state import State
from camerawright.readings.recorded import record_of, speeds
from camerawright.readings.rows import DECISION_RULE, in_force, reading_shown, rows
from camerawright.readings.shown import Reading, ToldReading, ToldRow


@dataclass(frozen=True, kw_only=True)
class SideBySide:
    """One marked value, before and after the work."""

    marked: str
    as_found: Reading | None
    as_left: Reading | None


@dataclass(frozen=True, kw_only=True)
class Table:
    """The newest readings of one bench test.

    `rows` compare with marks, `told` holds figures of another kind. `said` is what the newest reading says of itself
    where the test's readings are on no certificate: why not.
    """

    test: str
    title: str
    rows: tuple[SideBySide, ...]
    told: tuple[ToldRow, ...]
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
    table, told = rows(entries, test), told_rows(entries, test)
    return Table(
        test=test.name,
        title=test.title,
        rows=tuple(
            SideBySide(
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


def told_rows(measured: Iterable[Measured], test: BenchTest[Any]) -> tuple[ToldRow, ...]:
    """What a test found besides errors against marks: by mark and figure, the newest of each phase."""
    newest: dict[tuple[str, str], dict[Phase, Figure]] = {}
    for entry in measured:
        if entry.test != test.name:
            continue
        for figure in besides_errors(entry):
            mark = figure.marked or str(entry.setup.get("marked") or "")
            newest.setdefault((mark, figure.label), {})[entry.phase] = figure
    return tuple(
        ToldRow(marked=mark, what=_what(what, of), as_found=_told(of.get("as found")), as_left=_told(of.get("as left")))
        for (mark, what), of in newest.items()
    )


def _what(label: str, of: Mapping[Phase, Figure]) -> str:
    """A figure, and what is allowed by its newest reading."""
    allowed = (of.get("as left") or of["as found"]).allowed
    return f"{label} ({allowed} allowed)" if allowed else label


def besides_errors(entry: Measured) -> tuple[Figure, ...]:
    """The figures of a reading that no table of speeds shows."""
    if any(speed.effective or speed.compared for speed in speeds(entry)):
        return tuple(one for one in record_of(entry).figures if not one.is_error and one.name != EFFECTIVE)
    return record_of(entry).figures


def figures_shown(entry: Measured) -> tuple[tuple[str, str, ToldReading], ...]:
    """The figures of one reading that no table of speeds shows: what it is, at which mark, and the figure."""
    mark = str(entry.setup.get("marked") or "")
    return tuple(
        (one.label, one.marked if one.marked != mark else "", shown)
        for one in besides_errors(entry)
        if (shown := _told(one))
    )


def _told(figure: Figure | None) -> ToldReading | None:
    return ToldReading(read=figure_text(figure), n=figure.n, verdict=figure.verdict) if figure else None
