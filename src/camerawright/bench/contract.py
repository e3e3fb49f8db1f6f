"""What a bench test is. To add one: make its folder, and add a line to the catalogue."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final, Generic, Literal, TypeVar

from camerawright.bench.comparison import Compared, Comparison
from camerawright.bench.drawing import speed_card
from camerawright.bench.options import Option
from camerawright.bench.record import Record
from camerawright.bench.waveform import Plan
from camerawright.numeric.instrument import Instrument
from camerawright.quantity import Quantity, Word
from camerawright.recordings.sound import open_sound
from camerawright.recordings.table import Column, read_table
from camerawright.wording import numbers
from camerawright.wording.verdicts import word

R = TypeVar("R", bound=Record)


@dataclass(frozen=True, kw_only=True)
class Medium:
    """What kind of file a bench test measures: how it is read, and what to say of it to a person.

    `read` takes a path and raises `Unreadable`. `suffixes` are those that a file picker offers. A table is a CSV file
    or readings that were typed into its `columns`: they are kept as a file like any recording.
    """

    kind: Literal["sound", "clip", "stills", "table"]
    read: Callable[[Path], Any]
    suffixes: tuple[str, ...]
    takes: str
    columns: tuple[Column, ...] = ()


SOUND: Final = Medium(
    kind="sound",
    read=open_sound,
    suffixes=(".wav", ".flac"),
    takes="WAV or FLAC of a light sensor on a sound card.",
)


def table_with(columns: tuple[Column, ...], takes: str) -> Medium:
    """A table with those columns."""
    return Medium(
        kind="table",
        read=lambda path: read_table(path, columns),
        suffixes=(".csv", ".tsv", ".txt"),
        takes=takes,
        columns=columns,
    )


@dataclass(frozen=True, kw_only=True)
class Point:
    """The error at one place of the gate."""

    at_mm: float
    error: Quantity
    verdict: Word | None


@dataclass(frozen=True, kw_only=True)
class Speed:
    """One setting of the dial in a record, as every shell shows it.

    `marked` is the mark that was given, "" without one; `likely` the nearest mark, a guess. `effective` is the mean of
    the firings [s], None where the test has none of its own; `compared` is there where a mark was given. `stopped_down`
    holds the effective time at smaller apertures: by how many stops, and the time. `remarks` say what the firings say
    together.
    """

    marked: str = ""
    likely: str = ""
    i_firings: tuple[int, ...] = ()
    effective: Quantity | None = None
    compared: Comparison | None = None
    remarks: tuple[str, ...] = ()
    points: tuple[Point, ...] = ()
    stopped_down: tuple[tuple[float, Quantity], ...] = ()


@dataclass(frozen=True, kw_only=True)
class Marked(Generic[R]):
    """That a test takes marked speeds with its recordings.

    `speeds` tells the settings of the dial in a record; `card` draws many comparisons in one picture, as found and as
    left. `compares` is False where a mark only says which speed was set: then nothing is
    told of how far it is off. `one_at_a_time` tests refuse several marks for one recording.
    """

    speeds: Callable[[R], tuple[Speed, ...]]
    card: Callable[[Sequence[Comparison], Sequence[Comparison]], Any] = speed_card
    compares: bool = True
    one_at_a_time: bool = False


@dataclass(frozen=True, kw_only=True)
class Fired:
    """A firing that was seen while it is still being recorded. `time` is its effective time, where it has one. [s]"""

    at_s: float
    stop_s: float
    time: Quantity | None
    flags: tuple[str, ...] = ()
    compared: Compared | None = None


@dataclass(frozen=True, kw_only=True)
class Table:
    """The single readings behind a record, as text: a row for each, and what is doubtful about it.

    `notes` say what could not be measured, and why.
    """

    heads: tuple[str, ...] = ()
    rows: tuple[tuple[str, ...], ...] = ()
    flags: tuple[tuple[str, ...], ...] = ()
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, kw_only=True)
class BenchTest(Generic[R]):
    """One bench test.

    Attributes
    ----------
    name, title
        The word on the command line, and the title of the page.
    method
        The method and its version, kept with every result.
    setup
        How to set it up at the bench, in sentences. The folder's README says the rest.
    record
        The type of what it finds; `codec` writes and reads it.
    run
        ``run(recording, marked, profile, **options) -> record``: measure, and compare with the marked speed where one
        is given. Never raises `NotMeasurable`: a refusal is a record. Raises `NotUnderstood` for a mark or an option
        that cannot be read. A test without `marked` takes no marks: both arguments are None.
    simulate
        ``simulate(seed) -> recording``: an example, of the type that the medium's `read` returns.
    plots
        ``plots(recording, record) -> {name: Figure}``, what tells most first.
    lines
        ``lines(record) -> [text]``: the summary for the terminal.
    words
        ``words(record) -> {name: text}``: what each of `plots` shows, with its figures, for who cannot see it. It is
        also what tells which plots there are without drawing them.
    table
        ``table(record) -> Table``: the single readings.
    medium
        What kind of file it measures.
    options
        What else may be told about the set-up.
    n_channels
        How many channels a recording must have at least.
    marked
        That it takes marked speeds. None: it does not.
    waveform
        ``waveform(record) -> Plan``: what is drawn over the whole recording. None: every channel as recorded.
    fired
        ``fired(record) -> (Fired, ...)``: that its firings can be told while they are recorded. None: they cannot.
    remembered
        ``remembered(record) -> Instrument | None``: that `run` takes ``instrument``, what earlier recordings told of
        the sound card's input, and what this one tells of it by itself. None: it does not.
    """

    name: str
    title: str
    method: str
    setup: str
    record: type[R]
    run: Callable[..., R]
    simulate: Callable[[int], Any]
    plots: Callable[[Any, R], dict[str, Any]]
    lines: Callable[[R], list[str]]
    words: Callable[[R], dict[str, str]]
    table: Callable[[R], Table]
    medium: Medium = SOUND
    options: tuple[Option, ...] = ()
    n_channels: int = 1
    marked: Marked[R] | None = None
    waveform: Callable[[R], Plan] | None = None
    fired: Callable[[R], tuple[Fired, ...]] | None = None
    remembered: Callable[[R], Instrument | None] | None = None


def refused_lines(record: Record) -> list[str]:
    """What the terminal says of a recording that holds no answer."""
    if record.refused is None:
        return []
    return [f"Not measurable: {record.refused.reason}.", f"{record.refused.advice}."]


def input_words(remembered: Instrument | None) -> str:
    """Which memory of the sound card's input was used, in a sentence; "" where none was."""
    if remembered is None:
        return ""
    n = remembered.n_recordings
    return f"The AC coupling of the input was known from {numbers.counted(n, 'earlier recording')}."


def verdict_cells(compared: Compared | None) -> tuple[str, str]:
    """How far a firing is off its mark, and its verdict, for a table; empty where there was no mark."""
    if compared is None:
        return "", ""
    return numbers.stops(compared.error.value, compared.error.expanded_u), word(compared.verdict)
