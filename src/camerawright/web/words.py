"""How things are written on a page."""

from collections.abc import Iterable, Mapping
from datetime import date, datetime
from typing import Any, Final

from camerawright.journal.entries import (
    CLOSING,
    Answered,
    Corrected,
    Entry,
    Fastener,
    HoldPoint,
    Independent,
    Measured,
    Ordered,
    Reminded,
    Set,
    Shim,
    Supplied,
    Worked,
    part_key,
)
from camerawright.journal.notation import written_fastener, written_shim
from camerawright.journal.rules import promise_text
from camerawright.workshop.rows import CURRENCY_MINOR_DIGITS

_IN_WORDS: Final = {"escapes": "something gets loose", "looked_beneath": "looked beneath", "cell": "cell {}"}
_MANNER: Final = frozenset({"id", "at", "by", "words", "overruled", "kind", "photo", "recording"})


def fastener_lines(fasteners: Iterable[Fastener]) -> str:
    """One a line, as a form reads them back."""
    return "\n".join(written_fastener(each) for each in fasteners)


def shim_lines(shims: Iterable[Shim]) -> str:
    """One a line, as a form reads them back."""
    return "\n".join(written_shim(each) for each in shims)


def when(moment: datetime) -> str:
    """A moment, by the clock on the bench's wall."""
    return moment.astimezone().strftime("%Y-%m-%d %H:%M")


def day(given: date) -> str:
    """A day as ISO 8601 writes it."""
    return given.isoformat()


def today() -> date:
    """The day, by the clock on the bench's wall."""
    return datetime.now().astimezone().date()


def money(amount_minor: int, currency: str) -> str:
    """An amount with its currency."""
    unit = 10**CURRENCY_MINOR_DIGITS
    sign = "−" if amount_minor < 0 else ""
    whole, rest = divmod(abs(amount_minor), unit)
    return f"{sign}{whole}.{rest:0{CURRENCY_MINOR_DIGITS}d} {currency}"


def count_of(n: int, one: str, many: str | None = None) -> str:
    """`1 screw`, `2 screws`."""
    return f"{n} {one if n == 1 else many or one + 's'}"


def minutes(values: Iterable[float]) -> str:
    """Times with their spread: "6 min (4 to 9, 3 times)"."""
    times = sorted(values)
    if not times:
        return ""
    middle = times[len(times) // 2] if len(times) % 2 else (times[len(times) // 2 - 1] + times[len(times) // 2]) / 2
    spread = "" if f"{times[0]:.0f}" == f"{times[-1]:.0f}" else f"{times[0]:.0f} to {times[-1]:.0f}, "
    return f"{middle:.0f} min ({spread}{count_of(len(times), 'time')})"


def about(entry: Entry, by_id: Mapping[str, Entry]) -> str:  # noqa: C901, PLR0911 a flat match is a table
    """What an entry says, without its kind: for the journal."""
    match entry:
        case Set():
            return ", ".join(f"{name} {value}" for name, value in entry.settings.items())
        case Answered():
            return f"{entry.answer} ({_named(entry.entry, by_id)})"
        case Corrected():
            done = "struck out" if entry.becomes is None else f"became “{about(entry.becomes, {})}”"
            return f"{_named(entry.entry, by_id)}: {done}" + (f", because {entry.reason}" if entry.reason else "")
        case Measured():
            return " ".join(str(word) for word in (entry.test, entry.setup.get("marked"), entry.phase) if word)
        case Reminded() | HoldPoint():
            return f"{_where(entry.part)}: {promise_text(entry)}"
        case Ordered():
            sure = "" if entry.certain else " (assumed)"
            return f"{entry.first} comes off before {entry.then}: {entry.reason}{sure}"
        case Independent():
            return f"{entry.part} and {entry.other}, in either order: {entry.reason}"
        case Supplied():
            return f"{entry.count} × {entry.item}"
        case Worked():
            return f"{entry.minutes} min: {entry.task}"
        case _:
            return " · ".join(said for name, value in entry for said in _field(name, value))


def _where(part: str) -> str:
    """The closing is no part."""
    return "at the closing" if part_key(part) == CLOSING else part


def _named(entry_id: str, by_id: Mapping[str, Entry]) -> str:
    """Another entry, in words."""
    other = by_id.get(entry_id)
    return f"{other.kind}: {about(other, by_id)}" if other is not None else f"entry {entry_id[:8]}"


def _field(name: str, value: Any) -> Iterable[str]:
    """What one field says, if anything."""
    if name in _MANNER or value in (None, (), False):
        return ()
    match name:
        case "fasteners":
            return map(written_fastener, value)
        case "shims":
            return (f"shim {written_shim(each)}" for each in value)
        case "under" | "soil" | "needs":
            return (f"{name}: {', '.join(value)}",)
        case _:
            return (_IN_WORDS.get(name, "{}").format(value),)
