"""How things are written on a page."""

from collections.abc import Iterable
from datetime import date, datetime
from typing import Final

from camerawright.journal.asked import Asked
from camerawright.journal.entries import Fastener, Lead, Loose, Shim, part_key
from camerawright.journal.fields import CURRENCY_MINOR_DIGITS
from camerawright.journal.notation import written_fastener, written_lead, written_loose, written_shim
from camerawright.journal.springs import springs_owed
from camerawright.journal.state import State
from camerawright.wording.numbers import counted

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


def fastener_lines(fasteners: Iterable[Fastener]) -> str:
    """One a line, as a form reads them back."""
    return "\n".join(written_fastener(each) for each in fasteners)


def shim_lines(shims: Iterable[Shim]) -> str:
    """One a line, as a form reads them back."""
    return "\n".join(written_shim(each) for each in shims)


def lead_lines(leads: Iterable[Lead]) -> str:
    """One a line, as a form reads them back."""
    return "\n".join(written_lead(each) for each in leads)


def loose_lines(items: Iterable[Loose]) -> str:
    """One a line, as a form reads them back."""
    return "\n".join(written_loose(each) for each in items)


def day(given: date) -> str:
    """A day as [iso-8601] writes it."""
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


def minutes(values: Iterable[float]) -> str:
    """Times with their spread: "6 min (4 to 9, 3 times)"."""
    times = sorted(values)
    if not times:
        return ""
    middle = times[len(times) // 2] if len(times) % 2 else (times[len(times) // 2 - 1] + times[len(times) // 2]) / 2
    spread = "" if f"{times[0]:.0f}" == f"{times[-1]:.0f}" else f"{times[0]:.0f} to {times[-1]:.0f}, "
    told = f"{middle:.0f} min" if middle >= 1 else "less than 1 min"
    return f"{told} ({spread}{counted(len(times), 'time')})"


def settings(state: State) -> list[tuple[str, str]]:
    """How the machine is set, with what a spring still owes."""
    owed = {part_key(spring.spring): spring for spring in springs_owed(state)}

    def shown(what: str, how: str) -> str:
        spring = owed.get(part_key(what))
        if spring is None:
            return how
        return spring.todo if spring.is_too_far else f"{how}, {spring.todo}"

    return [(what, shown(what, how)) for what, how in state.settings.items()]


def out_and_in(state: State) -> list[str]:
    """What is out, off and in, each with its noun."""
    out = state.n_out_of
    always = {"screw", "shim"}
    every = ("screw", "other fastener", "shim", "loose part", "lead")
    kinds = [kind for kind in every if kind in always or out[kind]]
    counts = [f"{counted(out[kind], kind)} out" for kind in kinds]
    return [*counts, f"{counted(len(state.off), 'part')} off", f"{counted(len(state.aids), 'aid')} in"]


def choices_of(field: Asked) -> list[tuple[str, str]]:
    """What a form offers for a field, value and words; nothing is chosen where nothing goes without saying."""
    blank = [("", "choose")] if field.is_needed else [("", "not said")] if field.default is None else []
    return blank + [(word, word) for word in field.choices]


def capitalized(text: str) -> str:
    """With a capital first letter, and the rest as it is."""
    return text[:1].upper() + text[1:]
