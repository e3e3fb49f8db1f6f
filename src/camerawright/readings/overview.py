"""Every reading of a job in one table: as found beside as left, with what makes one void or doubtful."""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from itertools import groupby

from camerawright.bench.catalogue import CATALOGUE
from camerawright.bench.contract import Speed
from camerawright.bench.record import figure_text
from camerawright.journal.entries import Measured, Phase
from camerawright.journal.state import State
from camerawright.quantity import Word
from camerawright.readings.recorded import record_of, speeds, table
from camerawright.readings.side_by_side import other_figures
from camerawright.readings.speeds import allowed, speed_read
from camerawright.readings.validity import late, void
from camerawright.wording import numbers


@dataclass(frozen=True, kw_only=True)
class Cell:
    """A speed or a figure of one reading, as text; `error` is in stops. `speed` is there where it is a speed."""

    entry: Measured
    gives: str
    error: str = ""
    allowed: str = ""
    verdict: Word | None = None
    why_void: str = ""
    doubts: tuple[str, ...] = ()
    speed: Speed | None = None


@dataclass(frozen=True, kw_only=True)
class Row:
    """A marked speed, or a figure: what was read last, as found and as left; what is void only where nothing else is.

    `marked` is the speed that was set, `likely` the nearest mark where none was told; `figure` is the figure's name.
    """

    marked: str
    likely: str = ""
    figure: str = ""
    as_found: Cell | None
    as_left: Cell | None

    @property
    def cells(self) -> tuple[Cell, ...]:
        """Those that are there."""
        return tuple(cell for cell in (self.as_found, self.as_left) if cell)

    @property
    def allowed(self) -> str:
        """What is allowed, by the newest reading: of a speed, how far it may be off, in stops."""
        return self.cells[-1].allowed

    @property
    def notes(self) -> tuple[tuple[str, str], ...]:
        """What is void or doubtful, each sentence once, with the phases that it is about."""
        phases: dict[str, dict[Phase, None]] = {}
        for cell in self.cells:
            why = f"void: {cell.why_void}. Measure it again." if cell.why_void else ""
            for text in filter(None, (why, *cell.doubts)):
                phases.setdefault(text, {})[cell.entry.phase] = None
        return tuple((" and ".join(of), text) for text, of in phases.items())


@dataclass(frozen=True, kw_only=True)
class OfTest:
    """What one bench test read: its speeds, slowest first, and its other figures in groups of the same readings."""

    test: str
    title: str
    speeds: tuple[Row, ...]
    figures: tuple[tuple[Row, ...], ...]

    @property
    def card(self) -> str:
        """What the picture of its speeds shows: those against marks that still hold; "" where there are none."""
        return "; ".join(
            f"{row.marked}: {cell.error} stops {cell.entry.phase}"
            for row in self.speeds
            for cell in row.cells
            if row.marked and cell.error and not cell.why_void
        )


@dataclass(frozen=True, kw_only=True)
class Overview:
    """The readings of a job. `others` are in no table: newer ones took their place, or they found nothing to show."""

    tests: tuple[OfTest, ...]
    others: tuple[Measured, ...]


def overview(state: State) -> Overview:
    """Every reading of a job, test by test."""
    why_void, why_late = void(state), late(state)
    ranked = sorted(state.measured, key=lambda entry: entry.id not in why_void)  # what is void first: the others win
    tests, shown = [], set[str]()
    for test in CATALOGUE:
        own = [entry for entry in ranked if entry.test == test.name]
        speed_rows = tuple(sorted(_rows(_speeds(own, why_void, why_late)), key=_order))
        figure_rows = tuple(_rows(_figures(own, why_void, why_late)))
        shown |= {cell.entry.id for row in (*speed_rows, *figure_rows) for cell in row.cells}
        if speed_rows or figure_rows:
            groups = tuple(tuple(group) for _, group in groupby(figure_rows, key=_readings))
            tests.append(OfTest(test=test.name, title=test.title, speeds=speed_rows, figures=groups))
    others = tuple(entry for entry in reversed(state.measured) if entry.id not in shown)
    return Overview(tests=tuple(tests), others=others)


Named = tuple[str, str, str]
"""A mark, the likely mark where there is none, and the name of a figure."""


def _rows(cells: Iterable[tuple[Named, Cell]]) -> Iterator[Row]:
    """As found beside as left; of several readings of one thing the last counts."""
    newest: dict[Named, dict[Phase, Cell]] = {}
    for named, cell in cells:
        newest.setdefault(named, {})[cell.entry.phase] = cell
    for (marked, likely, figure), of in newest.items():
        yield Row(
            marked=marked, likely=likely, figure=figure, as_found=of.get("as found"), as_left=of.get("as left"),
        )  # fmt: skip


def _readings(row: Row) -> tuple[str, ...]:
    return tuple(cell.entry.id for cell in row.cells)


def _order(row: Row) -> tuple[bool, float]:
    """Slowest first; what no mark was given for comes last."""
    speed = row.cells[0].speed
    if speed is None or speed.compared is None:
        return True, -speed.effective.value if speed and speed.effective else 0.0
    return False, -speed.compared.target_s


def _speeds(
    entries: Iterable[Measured], why_void: Mapping[str, str], why_late: Mapping[str, str]
) -> Iterator[tuple[Named, Cell]]:
    for entry in entries:
        doubts = _doubts(entry, why_late)  # of the whole reading: said at its first speed
        for speed in speeds(entry):
            if not speed.compared and not speed.effective:
                continue
            read = speed_read(speed)
            cell = Cell(
                entry=entry,
                gives=read.value,
                error=f"{read.error} ± {read.expanded_u}" if read.expanded_u else read.error,
                allowed=allowed(speed.compared),
                verdict=read.verdict,
                why_void=why_void.get(entry.id, ""),
                doubts=(*doubts, *_doubtful_firings(entry, speed)),
                speed=speed,
            )
            yield (speed.marked, "" if speed.marked else speed.likely, ""), cell
            doubts = ()


def _figures(
    entries: Iterable[Measured], why_void: Mapping[str, str], why_late: Mapping[str, str]
) -> Iterator[tuple[Named, Cell]]:
    for entry in entries:
        is_in_speeds = any(speed.compared or speed.effective for speed in speeds(entry))
        doubts = () if is_in_speeds else _doubts(entry, why_late)
        for figure in other_figures(entry):
            cell = Cell(
                entry=entry,
                gives=figure_text(figure),
                allowed=figure.allowed,
                verdict=figure.verdict,
                why_void=why_void.get(entry.id, ""),
                doubts=doubts,
            )
            yield (figure.marked or entry.marked, "", figure.label), cell
            doubts = ()


def _doubts(entry: Measured, why_late: Mapping[str, str]) -> tuple[str, ...]:
    """What is doubtful about a reading as a whole."""
    return (*([f"{why_late[entry.id]}."] if entry.id in why_late else ()), *record_of(entry).flags)


def _doubtful_firings(entry: Measured, speed: Speed) -> Iterator[str]:
    flags = table(entry).flags
    n = sum(1 for i in speed.i_firings if i < len(flags) and flags[i])
    if n:
        verb = "is" if n == 1 else "are"
        yield f"{n} of {numbers.counted(len(speed.i_firings), 'firing')} {verb} doubtful; the details say why."
