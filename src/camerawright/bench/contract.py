"""What a bench test is. Adding one: copy a folder, add a line to the catalogue."""

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

from camerawright.bench.waveform import Plan
from camerawright.quantity import Word
from camerawright.recordings.sound import read_sound
from camerawright.trouble import NotMeasurable

Json = dict[str, Any]
"""What `json.dumps` takes, keys in the order in which they are shown."""


@dataclass(frozen=True)
class Skipped:
    """A firing that is there and cannot be measured."""

    at_s: float
    reason: str
    advice: str

    @property
    def as_json(self) -> Json:
        """As it stands in a record."""
        return {"at_s": self.at_s, "reason": self.reason, "advice": self.advice}


def refused_record(test: str, method: str, why: NotMeasurable, **empty: Any) -> Json:
    """The record of a refusal: the keys of a measurement (`empty` those of this test alone), and nothing measured."""
    return {
        "test": test,
        "method": method,
        "firings": [],
        "skipped": [],
        "flags": [],
        "refused": {"reason": why.what, "advice": why.mend},
        "input": None,
        **empty,
        "compared": None,
    }


@dataclass(frozen=True)
class Outcome:
    """What a bench test made of one recording: for people, for scripts, for storage and for plots.

    `record` is the whole result as JSON: that is what is stored and printed, and what `plot` draws from. Exactly one of
    `record["refused"]` and a measurement is there.
    """

    record: Json

    @property
    def refused(self) -> Json | None:
        """Why there is no measurement, with its advice; None where there is one."""
        refused: Json | None = self.record["refused"]
        return refused


def comparisons(record: Json) -> list[Json]:
    """Every comparison with a marked speed in a record: one, or one for each speed that the recording holds."""
    if record.get("compared"):
        return [record["compared"]]
    return [speed["compared"] for speed in record.get("speeds") or () if speed.get("compared")]


def input_words(record: Json) -> str:
    """What a record says of the memory of the sound card's input, in a sentence; "" where none was used."""
    remembered = (record.get("input") or {}).get("remembered")
    if not remembered:
        return ""
    n = remembered["n_recordings"]
    return f"The AC coupling of the input was known from {n} earlier recording{'s' * (n != 1)}."


@dataclass(frozen=True)
class Told:
    """A figure of a record that is not the comparison of a time with its mark, finished for a table.

    `what` names it ("class X, from full open"), `read` is value, unit and ± half the 95 % interval in one text, or a
    word that is its own verdict ("usable"), `n` the firings behind it, None where that means nothing. `marked` is the
    speed it is of, where a recording holds several.
    """

    what: str
    read: str
    n: int | None = None
    verdict: Word | None = None
    marked: str = ""


_UNITS: Final = {"OHM": "Ω", "MM": "mm", "MS": "ms", "US": "µs", "HZ": "Hz", "FPS": "frames a second"}


@dataclass(frozen=True)
class Option:
    """One thing about the set-up that no recording shows: a keyword of `run`, given as the text that was typed.

    On the command line ``--name METAVAR``, with a dash for each underscore. `choices` are the words there are, where
    it takes one of a few. What is `of_camera` belongs to the camera and not to the bench: it is not filled in from
    another job's reading.
    """

    name: str
    metavar: str
    help: str
    choices: tuple[str, ...] = ()
    of_camera: bool = False

    @property
    def example(self) -> str:
        """What stands in its empty field: the unit, else what kind of thing it is."""
        return _UNITS.get(self.metavar, self.metavar)

    def in_words(self, text: str) -> str:
        """What was told, with its unit as the trade writes it: ``series 220 Ω``."""
        metavar = self.metavar.partition(",")[0]
        label = self.name.removesuffix(f"_{metavar.lower()}").replace("_", " ")
        return f"{label} {text} {_UNITS.get(metavar, '')}".rstrip()


@dataclass(frozen=True)
class BenchTest:
    """One bench test.

    Attributes
    ----------
    name, title
        The word on the command line, and the title of the page.
    method
        The method and its version, kept with every result.
    setup
        How to set it up at the bench, in sentences. The folder's README says the rest.
    run
        ``run(recording, marked, profile, **options) -> Outcome``: measure, compare with the marked speed where one is
        given. Never raises `NotMeasurable`: a refusal is an outcome. Raises `NotUnderstood` for a mark that cannot be
        read, `NotUnderstood` for an option.
    simulate
        ``simulate(seed) -> recording``: an example, of the type that `read` returns.
    plots
        ``plots(recording, outcome) -> {name: Figure}``, what tells most first.
    words
        ``words(record) -> {name: text}``: what each of `plots` shows, with its figures, for who cannot see it. It is
        also what tells which plots there are without drawing them.
    lanes
        ``lanes(record) -> Plan``: what is drawn over the whole recording, from the record of a measurement. None:
        every channel as recorded.
    card
        ``card(as found, as left) -> Figure``: many readings in one picture, from their records; None without marks.
    lines
        ``lines(outcome) -> [text]``: the summary for the terminal.
    read
        ``read(path) -> recording``: raises `Unreadable`.
    takes
        What kind of file `read` wants, for a person.
    options
        What else may be told about the set-up.
    n_channels
        How many channels a recording must have at least.
    compares_speeds
        Whether its readings are compared with marked speeds: what is turned for one such test moves the readings of
        all.
    compares_one
        Whether it compares with one marked speed at a time, and refuses several.
    remembers_input
        Whether `run` takes ``instrument``, what earlier recordings told of the sound card's input. Its record then
        holds what this one tells by itself, ``record["input"]["alone"]``, and what was remembered and used,
        ``record["input"]["remembered"]`` (None where nothing was known, or this recording contradicts it).
    tells
        ``tells(record) -> (Told, ...)``: what belongs on a certificate besides comparisons with marked speeds.
    """

    name: str
    title: str
    method: str
    setup: str
    run: Callable[..., Outcome]
    simulate: Callable[[int], Any]
    plots: Callable[[Any, Outcome], dict[str, Any]]
    card: Callable[[list[Json], list[Json]], Any]
    lines: Callable[[Outcome], list[str]]
    words: Callable[[Json], dict[str, str]]
    lanes: Callable[[Json], Plan] | None = None
    read: Callable[[Path], Any] = read_sound
    takes: str = "WAV or FLAC of a light sensor on a sound card."
    options: tuple[Option, ...] = ()
    n_channels: int = 1
    compares_speeds: bool = False
    compares_one: bool = False
    remembers_input: bool = False
    tells: Callable[[Json], tuple[Told, ...]] = lambda record: ()
