"""A job's readings, as found beside as left, and how a reading is written."""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from io import BytesIO
from typing import Any

from camerawright.bench.comparison import Comparison
from camerawright.bench.contract import BenchTest
from camerawright.handbook.exposure import name_of
from camerawright.journal.entries import Adjusted, Measured, Phase, Refitted, Removed, part_key
from camerawright.journal.state import State
from camerawright.readings.recorded import comparisons
from camerawright.readings.shown import Reading
from camerawright.wording import numbers

DECISION_RULE = (
    "within, or outside, where the true value is so with at least 95 % probability; otherwise undecided"
    " (JCGM 106:2012, 8.3)"
)

_MOST_NAMED = 3


@dataclass(frozen=True, kw_only=True)
class Read:
    """One reading of one marked speed: the entry, and what it says against the mark."""

    entry: Measured
    against: Comparison

    @property
    def method(self) -> str:
        """How it was read."""
        return self.entry.method


@dataclass(frozen=True, kw_only=True)
class Row:
    """One marked speed: the newest reading of each phase."""

    marked: str
    as_found: Read | None
    as_left: Read | None

    @property
    def read(self) -> tuple[Read, ...]:
        """Those that are there."""
        return tuple(read for read in (self.as_found, self.as_left) if read)


def rows(measured: Iterable[Measured], test: BenchTest[Any]) -> tuple[Row, ...]:
    """The readings of a test that were compared with a mark, slowest first; of several the newest counts."""
    newest: dict[tuple[str, Phase], Read] = {}
    for entry in measured:
        for against in comparisons(entry) if entry.test == test.name else ():
            newest[against.marked, entry.phase] = Read(entry=entry, against=against)
    targets = {mark: read.against.target_s for (mark, _), read in newest.items()}
    return tuple(
        Row(marked=mark, as_found=newest.get((mark, "as found")), as_left=newest.get((mark, "as left")))
        for mark in sorted(targets, key=lambda mark: -targets[mark])
    )


def void(state: State) -> dict[str, str]:
    """Readings that something made void since, by their entries' ids: why.

    Its recording was measured again at the same mark, with more told of the set-up. Or, as left: a part that came off,
    or an adjuster that was turned for that very test, after the reading: it is no longer how the camera is left.
    """
    newest = {_what(reading): reading.id for reading in state.measured}
    found = {
        reading.id: "its recording was measured again, with another set-up"
        for reading in state.measured
        if newest[_what(reading)] != reading.id
    }
    for reading in state.measured:
        if reading.phase != "as left":
            continue
        off = [part.name for part in state.parts.values() if part.removed and part.removed.at > reading.at]
        turned = [
            entry.adjuster
            for entry in state.entries
            if isinstance(entry, Adjusted)
            and entry.at > reading.at
            and entry.test is not None
            and part_key(entry.test) == part_key(reading.test)
        ]
        why = [
            f"{', '.join(dict.fromkeys(names))} {done}"
            for names, done in ((off, "came off"), (turned, "was turned"))
            if names
        ]
        if why:
            found[reading.id] = f"{' and '.join(why)} after it was read"
    return found


def _what(reading: Measured) -> tuple[object, ...]:
    """What a reading is of, whatever was told of the set-up."""
    return reading.test, reading.phase, reading.recording, reading.setup.get("marked")


def late(state: State) -> dict[str, str]:
    """Readings that were entered at another time than they say, by their entries' ids: why.

    As found after the work on what they read had begun: an adjuster was turned for that test, or parts were off. As
    left while parts were off. They stay: a recording may have been made at another time than it was entered, and a
    test may need a part off.
    """
    found: dict[str, str] = {}
    turned: dict[str, dict[str, None]] = {}
    off: dict[str, str] = {}
    for entry in state.entries:
        match entry:
            case Removed():
                off[part_key(entry.part)] = entry.part
            case Refitted():
                off.pop(part_key(entry.part), None)
            case Adjusted(test=str(test)):
                turned.setdefault(part_key(test), {})[entry.adjuster] = None
            case Measured(phase="as found"):
                begun = _begun(list(turned.get(part_key(entry.test), ())), list(off.values()))
                if begun:
                    found[entry.id] = (
                        f"Entered as found {begun}: if it was recorded after that too, it is not as found; strike it"
                        " out then, and enter it as left"
                    )
            case Measured(phase="as left") if off:
                found[entry.id] = (
                    f"Entered as left {_begun((), list(off.values()))}: measure again once it is whole, as the owner"
                    " gets it"
                )
    return found


def _begun(turned: Sequence[str], off: Sequence[str]) -> str:
    """What had been done before a reading, "" for nothing."""
    said = []
    if turned:
        said.append(f"after {', '.join(turned)} was turned")
    if off:
        more = f" and {len(off) - _MOST_NAMED} more" if len(off) > _MOST_NAMED else ""
        said.append(f"after {', '.join(off[:_MOST_NAMED])}{more} came off")
    return " and ".join(said)


def in_force(state: State) -> tuple[Measured, ...]:
    """The readings that nothing made void."""
    is_void = void(state)
    return tuple(reading for reading in state.measured if reading.id not in is_void)


def reading_shown(against: Comparison) -> Reading:
    """A reading of one speed as text, rounded by its own uncertainty."""
    expanded = against.mean.expanded_u
    return Reading(
        value=f"{dial_time(against.mean_s)} ({milliseconds(against.mean_s, 2**expanded - 1)})",
        error=numbers.signed(against.mean.value),
        expanded_u=numbers.never_less(expanded),
        n=len(against.firings),
        verdict=against.verdict,
    )


def milliseconds(time_s: float, relative_u: float) -> str:
    """A time in ms with as many digits as its uncertainty leaves it, four at the most."""
    digits = 4 if relative_u <= 0 else min(4, max(2, 2 - math.floor(math.log10(relative_u))))
    return f"{numbers.significant(time_s * 1e3, digits)} ms"


def dial_time(time_s: float) -> str:
    """A time as it stands on a dial: 1/51 s, 1/5.3 s, or 1.04 s."""
    return f"{name_of(time_s)} s" if time_s < 0.4 else f"{numbers.fixed(time_s, 2)} s"


def card_figure(test: BenchTest[Any], table: Iterable[Row]) -> Any:
    """All readings of a test in one picture, or None."""
    table = tuple(table)
    found = [row.as_found.against for row in table if row.as_found]
    left = [row.as_left.against for row in table if row.as_left]
    return test.marked.card(found, left) if test.marked and (found or left) else None


def card_png(test: BenchTest[Any], table: Iterable[Row], *, dpi: int = 150) -> bytes | None:
    """All readings of a test in one picture, as PNG, or nothing to draw."""
    figure = card_figure(test, table)
    return None if figure is None else png(figure, dpi=dpi)


def svg(figure: Any) -> bytes:
    """A figure as the bytes of an SVG file, the same each time."""
    from matplotlib import rc_context  # noqa: PLC0415  slow to import

    out = BytesIO()
    with rc_context({"svg.hashsalt": "camerawright"}):
        figure.savefig(out, format="svg", metadata={"Date": None})
    return out.getvalue()


def png(figure: Any, *, dpi: int = 110) -> bytes:
    """A figure as the bytes of a PNG file."""
    out = BytesIO()
    figure.savefig(out, format="png", dpi=dpi)
    return out.getvalue()
