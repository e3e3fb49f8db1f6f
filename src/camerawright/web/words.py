"""How things are written on a page."""

from collections.abc import Callable, Iterable, Mapping
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
    Loose,
    Measured,
    NeedsState,
    Ordered,
    Reminded,
    Set,
    Shim,
    Supplied,
    Tension,
    Tried,
    Worked,
    part_key,
)
from camerawright.journal.notation import written_fastener, written_loose, written_shim
from camerawright.journal.rules import promise_text
from camerawright.journal.state import State
from camerawright.workshop.rows import CURRENCY_MINOR_DIGITS

_IN_WORDS: Final = {
    "escapes": "something gets loose",
    "looked_beneath": "looked beneath",
    "cell": "cell {}",
    "assembly": "goes with the {}",
    "tool": "tool: {}",
    "decision": "to be done: {}",
}
FIELDS: Final = {
    "under": "Fitted under",
    "cell": "Tray cell",
    "soil": "Stuck to it",
    "torque": "Felt",
    "loose": "Loose parts, one kind a line",
    "fasteners": "Fasteners, one kind a line",
    "shims": "Shims, one place a line",
    "place": "Where",
    "assembly": "Goes with the",
    "tool": "Tool that fits",
    "words": "Your words, to the letter",
    "defect": "What you found",
    "todo": "What is to be done",
    "nature": "Of what kind",
    "decision": "Decided",
    "hazard": "What can happen when it moves",
    "escapes": "Something gets loose",
    "frees": "Which",
    "first": "Comes off first",
    "then": "Comes off after it",
    "bond": "The second is",
    "certain": "That is certain",
    "settings": "State of the machine",
    "moves": "Before its",
    "from_state": "From which state",
    "needs": "Needs in place",
    "materials": "It, and what it sits in",
    "wait_until": "Leave it until",
    "until": "Until",
    "due": "Not before",
    "awaiting": "For what it waits",
    "price_minor": "Price of one",
    "replacement": "Another specimen went in",
}
"""What a field is called where its form is made from the entry itself; others by their own name."""

PAPER_WORDS: Final = {
    "refit": "Refit sheet",
    "strip": "Refit strip",
    "tray": "Tray card",
    "screws": "Screw card",
    "shims": "Shim card",
    "hazards": "Hazard card",
    "lubrication": "Lubrication chart",
    "resume": "Resume card",
    "owner-card": "Owner's card",
}
"""What a paper is called, where that is more than its name."""

_MANNER: Final = frozenset({"id", "at", "by", "words", "overruled", "kind", "photo", "recording"})


def fastener_lines(fasteners: Iterable[Fastener]) -> str:
    """One a line, as a form reads them back."""
    return "\n".join(written_fastener(each) for each in fasteners)


def shim_lines(shims: Iterable[Shim]) -> str:
    """One a line, as a form reads them back."""
    return "\n".join(written_shim(each) for each in shims)


def loose_lines(items: Iterable[Loose]) -> str:
    """One a line, as a form reads them back."""
    return "\n".join(written_loose(each) for each in items)


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


def count_of(n: float, one: str, many: str | None = None) -> str:
    """`1 screw`, `2 screws`."""
    return f"{n:g} {one if n == 1 else many or one + 's'}"


def minutes(values: Iterable[float]) -> str:
    """Times with their spread: "6 min (4 to 9, 3 times)"."""
    times = sorted(values)
    if not times:
        return ""
    middle = times[len(times) // 2] if len(times) % 2 else (times[len(times) // 2 - 1] + times[len(times) // 2]) / 2
    spread = "" if f"{times[0]:.0f}" == f"{times[-1]:.0f}" else f"{times[0]:.0f} to {times[-1]:.0f}, "
    told = f"{middle:.0f} min" if middle >= 1 else "less than 1 min"
    return f"{told} ({spread}{count_of(len(times), 'time')})"


def turns(clockwise: float) -> str:
    """Turns with their direction; clockwise is positive."""
    return f"{count_of(abs(clockwise), 'turn')} {'clockwise' if clockwise > 0 else 'anticlockwise'}"


def settings(state: State) -> list[tuple[str, str]]:
    """How the machine is set, with what a spring still owes."""
    shown = []
    for what, how in state.settings.items():
        owed = state.tension.get(part_key(what))
        shown.append((what, f"{how}, {turns(-owed)} to put back" if owed else how))
    return shown


def setting_words(given: Mapping[str, str]) -> str:
    """`shutter released, focus infinity`."""
    return ", ".join(f"{name} {value}" for name, value in given.items())


_MOVES: Final = {"removal": "comes off", "refit": "goes back", "both": "moves"}


def about(entry: Entry, by_id: Mapping[str, Entry]) -> str:  # noqa: C901, PLR0911, PLR0912 a flat match is a table
    """What an entry says, without its kind: for the journal."""
    match entry:
        case Set():
            return setting_words(entry.settings)
        case NeedsState():
            return f"{entry.part} {_MOVES[entry.moves]} only with {setting_words(entry.settings)}: {entry.reason}"
        case Tension():
            start = f", from {entry.from_state}" if entry.from_state else ""
            return f"{entry.spring} {entry.act} {count_of(entry.turns, 'turn')} {entry.direction}{start}"
        case Tried():
            wait = f"; leave it until {when(entry.wait_until)}" if entry.wait_until else ""
            pair = f" ({' in '.join(entry.materials)})" if entry.materials else ""
            return f"{entry.part}, {entry.fastener}{pair}: {entry.rung}: {entry.outcome}{wait}"
        case Answered():
            return f"{entry.answer} ({_named(entry.entry, by_id)})"
        case Corrected():
            done = "struck out" if entry.becomes is None else f"became “{about(entry.becomes, {})}”"
            return f"{_named(entry.entry, by_id)}: {done}" + (f", because {entry.reason}" if entry.reason else "")
        case Measured():
            return " ".join(str(word) for word in (entry.test, entry.setup.get("marked"), entry.phase) if word)
        case Reminded() | HoldPoint():
            due = f", not before {day(entry.due)}" if isinstance(entry, Reminded) and entry.due else ""
            test = f", before “{entry.test}” as left" if isinstance(entry, Reminded) and entry.test else ""
            return f"{_where(entry.part)}: {promise_text(entry)}{test}{due}"
        case Ordered():
            sure = "" if entry.certain else " (assumed)"
            bond = f"{entry.then} {entry.bond} it: " if entry.bond else ""
            return f"{entry.first} comes off before {entry.then}: {bond}{entry.reason}{sure}"
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


_WRITTEN: Final[Mapping[str, Callable[[Any], Iterable[str]]]] = {
    "fasteners": lambda value: map(written_fastener, value),
    "shims": lambda value: (f"shim {written_shim(each)}" for each in value),
    "loose": lambda value: map(written_loose, value),
    "until": lambda value: (f"until {when(value)}",),
    **{
        name: lambda value, name=name: (f"{name}: {', '.join(value)}",)  # type: ignore[misc]
        for name in ("under", "soil", "needs", "frees")
    },
}


def _field(name: str, value: Any) -> Iterable[str]:
    """What one field says, if anything."""
    if name in _MANNER or value in (None, (), False):
        return ()
    return _WRITTEN[name](value) if name in _WRITTEN else (_IN_WORDS.get(name, "{}").format(value),)
