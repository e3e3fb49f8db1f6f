"""A job's readings of every bench test, as found beside as left: for the job's page and the terminal."""

from collections.abc import Iterable
from dataclasses import dataclass

from camerawright.bench.catalogue import CATALOGUE
from camerawright.bench.contract import BenchTest, Json, Told
from camerawright.journal.entries import Measured, Phase
from camerawright.journal.state import State
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

    `rows` compare with marks, `told` holds figures of another kind. `said` is what a test says of its readings that has
    neither: why they are on no certificate.
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


def _table(entries: list[Measured], test: BenchTest) -> Table:
    table, told = rows(entries, test), told_rows(entries, test)
    newest: Json = dict(entries[-1].result)
    return Table(
        test=test.name,
        title=test.title,
        rows=tuple(
            SideBySide(
                marked=row.marked,
                as_found=reading_shown(row.as_found) if row.as_found else None,
                as_left=reading_shown(row.as_left) if row.as_left else None,
            )
            for row in table
        ),
        told=told,
        said=() if table or told else tuple(map(str, newest.get("flags") or ())),
        n_readings=len(entries),
        method="; ".join(dict.fromkeys(entry.method for entry in entries)),
    )


def told_rows(measured: Iterable[Measured], test: BenchTest) -> tuple[ToldRow, ...]:
    """What a test tells besides comparisons with marks: by mark and figure, the newest of each phase."""
    newest: dict[tuple[str, str], dict[Phase, Told]] = {}
    for entry in measured:
        marked = str(entry.setup.get("marked") or "")
        for told in test.tells(dict(entry.result)) if entry.test == test.name else ():
            newest.setdefault((told.marked or marked, told.what), {})[entry.phase] = told
    return tuple(
        ToldRow(marked=mark, what=what, as_found=_told(of.get("as found")), as_left=_told(of.get("as left")))
        for (mark, what), of in newest.items()
    )


def _told(told: Told | None) -> ToldReading | None:
    return ToldReading(read=told.read, n=told.n, verdict=told.verdict) if told else None
