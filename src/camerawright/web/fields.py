"""How each field of a form is read, and how what stands in a journal is written into one again."""

import re
from collections.abc import Callable, Mapping
from datetime import date, datetime
from decimal import Decimal, InvalidOperation
from fractions import Fraction
from typing import Any, Final

from camerawright.journal.entries import Entry
from camerawright.journal.notation import fastener, loose, shim, written_fastener, written_loose, written_shim
from camerawright.trouble import NotUnderstood
from camerawright.workshop.rows import CURRENCY_MINOR_DIGITS

_TURNS: Final = re.compile(r"(\d+(?:[.,]\d+)?)?\s*(?:(\d)/(\d{1,2})|([¼½¾]))?")
_QUARTERS: Final = {"¼": 0.25, "½": 0.5, "¾": 0.75}


def _lines(read: Callable[[str], Any]) -> Callable[[str], list[Any]]:
    """One thing a line; every line that cannot be read is named."""

    def read_lines(text: str) -> list[Any]:
        values, wrong = [], []
        for line in filter(str.strip, text.splitlines()):
            try:
                values.append(read(line))
            except (NotUnderstood, ValueError) as error:
                wrong.append(str(error))
        if wrong:
            raise ValueError("; ".join(wrong))
        return values

    return read_lines


def names(text: str) -> list[str]:
    """Names separated by commas or lines."""
    return [name.strip() for line in text.splitlines() for name in line.split(",") if name.strip()]


def _settings(text: str) -> dict[str, str]:
    """`shutter = released`, separated by commas or lines."""
    found = {}
    for pair in names(text):
        what, is_pair, value = pair.partition("=")
        if not is_pair or not what.strip() or not value.strip():
            raise ValueError(f"“{pair}”: write it like “shutter = released, focus = infinity”")
        found[what.strip()] = value.strip()
    return found


def _yes(text: str) -> bool:
    """A box that was ticked, or a choice."""
    return text.casefold() in {"yes", "true", "on", "1"}


def _whole(text: str) -> int:
    """A whole number."""
    try:
        return int(text)
    except ValueError:
        raise ValueError(f"“{text}” is not a whole number") from None


def _turns(text: str) -> float:
    """Turns as they are counted: "4.5", "4,5", "4 1/2", "4½"; a minus sign before them is the other way."""
    if text[:1] in {"-", "−"}:
        return -_turns(text[1:].lstrip())
    found = _TURNS.fullmatch(text)
    if not text or not found or found[3] == "0":
        raise ValueError(f"“{text}” is not a number of turns: write it like 4.5 or 4 1/2")
    if found[2] and found[1] and not found[1].isdecimal():
        raise ValueError(f"“{text}”: a decimal and a fraction at once; write it like 4.5 or 4 1/2")
    whole = float((found[1] or "0").replace(",", "."))
    return whole + (float(Fraction(int(found[2]), int(found[3]))) if found[2] else _QUARTERS.get(found[4], 0.0))


def read_minutes(text: str) -> float:
    """How long something takes. [min]"""
    try:
        value = float(text.replace(",", "."))
    except ValueError:
        raise ValueError(f"“{text}” is not a number of minutes") from None
    if not 0 < value <= 100_000:
        raise ValueError(f"“{text}”: more than none, and ten weeks at the most")
    return value


def _moment(text: str) -> datetime:
    """A moment by the clock on the bench's wall, unless it says by which."""
    try:
        given = datetime.fromisoformat(text)
    except ValueError:
        raise ValueError(f"“{text}” is not a moment: write it like 2026-03-02 14:30") from None
    return given.astimezone() if given.tzinfo is None else given


def _day(text: str) -> date:
    """A day."""
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise ValueError(f"“{text}” is not a day: write it like 2026-03-02") from None


def _price_minor(text: str) -> int:
    """A price as it is written, "12.50" or "12,50", in the minor unit."""
    try:
        amount = Decimal(text.replace(",", ".").replace(" ", "")).scaleb(CURRENCY_MINOR_DIGITS)
        if amount != amount.to_integral_value() or not abs(amount) < 10**12:
            raise InvalidOperation
    except InvalidOperation:
        raise ValueError(f"“{text}” is not a price: write it like 12.50") from None
    return int(amount)


READERS: Final[Mapping[str, Callable[[str], Any]]] = {
    "fasteners": _lines(fastener),
    "shims": _lines(shim),
    "loose": _lines(loose),
    "under": names,
    "needs": names,
    "soil": names,
    "frees": names,
    "materials": names,
    "settings": _settings,
    "looked_beneath": _yes,
    "escapes": _yes,
    "certain": _yes,
    "minutes": _whole,
    "count": _whole,
    "turns": _turns,
    "due": _day,
    "until": _moment,
    "wait_until": _moment,
    "price_minor": _price_minor,
}
"""How a field is read; one word is one idea, so a name has one reader in every form."""


def _written(value: Any) -> str:
    """What has no way of its own, so that its reader reads the same again."""
    match value:
        case bool():
            return "yes" if value else "no"
        case datetime() | date():
            return value.isoformat()
        case tuple():
            return ", ".join(map(str, value))
        case _:
            return str(value)


_WRITERS: Final[Mapping[str, Callable[[Any], str]]] = {
    "fasteners": lambda value: "\n".join(map(written_fastener, value)),
    "shims": lambda value: "\n".join(map(written_shim, value)),
    "loose": lambda value: "\n".join(map(written_loose, value)),
    "settings": lambda value: ", ".join(f"{what} = {how}" for what, how in value.items()),
    "price_minor": lambda value: str(Decimal(value).scaleb(-CURRENCY_MINOR_DIGITS)),
    "turns": lambda value: f"{value:.12g}",
}


def typed_again(entry: Entry) -> dict[str, str]:
    """An entry as the fields of a form would hold it."""
    return {
        name: _WRITERS.get(name, _written)(value) for name, value in entry if value not in (None, ()) and name != "at"
    }
