"""What hurts somebody: liquids that nobody should use, and a flammable liquid and warmth on one bench."""

import re
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Final

from camerawright.journal.entries import Awaited, Cleaned, Entry, Lubricated, Removed, Tried
from camerawright.journal.state import State
from camerawright.trouble import Trouble
from camerawright.wording.moments import moment

_MOST_BURN: Final = "Flammable, as most solvents are: keep flames, sparks and heaters away, and air the room."


_SOAKS: Final = re.compile(r"\b(?:soak|steep|bath|jar|dip|immers|macerat)\w*", re.I)


@dataclass(frozen=True, kw_only=True)
class InUse:
    """A flammable liquid, or warmth, on this job. `until` is when it has gone; None where no end is known."""

    what: str
    where: str
    until: datetime | None
    caution: str = ""
    is_warmth: bool = False

    def lasts(self, now: datetime) -> bool:
        """Whether it is still about."""
        return self.until is None or now < self.until


def poisons(entry: Entry) -> Iterator[Trouble]:
    """What an entry says was used and nobody should use: it is kept with the caution, once somebody says why."""
    words = _words(entry)
    if not words:
        return
    from camerawright.handbook.solvents import CARE, never_named  # noqa: PLC0415  a table, read where it is needed

    for name, why in never_named(words).items():
        yield Trouble(
            what=f"never use {name}: {why.text[:1].lower()}{why.text[1:].rstrip('.')}",
            mend=f"use something else; if it was used, say so and air the room. {CARE.text.rstrip('.')}",
            can_overrule=True,
        )


def stops(state: State, entry: Removed) -> Iterator[Trouble]:
    """What nobody goes near without a word, by the name of the part that comes off and by what it is made of."""
    from camerawright.handbook.part_words import stop_first  # noqa: PLC0415  a table, read where it is needed

    for caution in stop_first(entry.part, entry.material, state.part(entry.part).material):
        yield Trouble(
            what=f"caution with {entry.part}: {caution.text.rstrip('.')}",
            mend="stop until that is done, then say by whom and what was measured",
            can_overrule=True,
        )


def apart(state: State, entry: Entry, now: datetime) -> Iterator[Trouble]:
    """Warmth while a flammable liquid is about, anywhere on this job; and such a liquid beside what is still warm."""
    uses = flammables(state) if _warms(entry) else warmths(state) if _liquid(entry) else ()
    for use in uses:
        if use.lasts(now):
            from camerawright.handbook.solvents import CARE  # noqa: PLC0415  a table, read where it is needed

            until = f" until {moment(use.until)}" if use.until else ""
            caution = f"{use.caution} {CARE.text}".strip().rstrip(".")
            yield Trouble(
                what=f"{use.what} is about{until} ({use.where}): keep flammable liquids and heat apart",
                mend=f"wait until it has gone, or say why it is safe. {caution}",
                can_overrule=True,
            )


def flammables(state: State) -> tuple[InUse, ...]:
    """Every flammable liquid that this job saw, and when it has gone."""
    found = []
    for entry in state.treated:
        is_over = isinstance(entry, Awaited) and state.part(entry.part).awaiting != entry
        if not is_over and (liquid := _liquid(entry)):
            found.append(_in_use(entry, *liquid))
    return tuple(found)


def warmths(state: State) -> tuple[InUse, ...]:
    """Whatever was warmed on this job, and when it is cold."""
    return tuple(_in_use(entry, "warmth", "", is_warmth=True) for entry in state.treated if _warms(entry))


def about(state: State) -> tuple[InUse, ...]:
    """Every use of a flammable liquid or of heat on this job, over or not."""
    return (*flammables(state), *warmths(state))


def _in_use(entry: Entry, what: str, caution: str, *, is_warmth: bool = False) -> InUse:
    """From the entry until what it put on has gone, or what it warmed is cold."""
    from camerawright.handbook.seized import heat  # noqa: PLC0415  a table, read where it is needed

    ends = _end(entry)
    until = None if ends is None else max(ends, entry.moment) + timedelta(minutes=heat().gone_minutes)
    return InUse(what=what, where=_where(entry), until=until, caution=caution, is_warmth=is_warmth)


def _end(entry: Entry) -> datetime | None:
    if isinstance(entry, Awaited):
        return entry.until
    return entry.wait_until or entry.moment if isinstance(entry, Tried) else entry.moment


def _where(entry: Entry) -> str:
    part = getattr(entry, "part", "")
    return f"{entry.fastener} of {part}" if isinstance(entry, Tried) else part


def _warms(entry: Entry) -> bool:
    """Whether an entry says that something was warmed."""
    if isinstance(entry, Tried):
        return entry.rung == "heat"
    words = entry.tool or "" if isinstance(entry, Removed) else _words(entry)  # the tool may be a soldering iron
    if not (words and isinstance(entry, Cleaned | Awaited | Removed)):
        return False
    from camerawright.handbook.solvents import warmth_named  # noqa: PLC0415  a table, read where it is needed

    return warmth_named(words) is not None


def _liquid(entry: Entry) -> tuple[str, str] | None:
    """The flammable liquid that an entry put on, and its caution."""
    if isinstance(entry, Tried) and entry.rung == "solvent and wait":
        return "the solvent", _MOST_BURN
    if not isinstance(entry, Cleaned | Awaited | Lubricated | Tried) or _warms(entry):
        return None
    from camerawright.handbook.solvents import cautions, flammable_named, solvents  # noqa: PLC0415  a table

    name = flammable_named(_words(entry))
    if name is None:
        return _not_known(entry)
    return name, cautions(solvents()[name])[0].text if name in solvents() else _MOST_BURN


def _not_known(entry: Entry) -> tuple[str, str] | None:
    """What a part was cleaned with or soaks in, if nobody knows it."""
    if not (isinstance(entry, Cleaned) or (isinstance(entry, Awaited) and _SOAKS.search(entry.awaiting))):
        return None
    from camerawright.handbook.solvents import unknown_liquid  # noqa: PLC0415  a table, read where it is needed

    name = unknown_liquid(_words(entry), besides=entry.part)
    if name is None:
        return None
    return (
        f"“{name}”, which may be flammable,",
        f"Nobody has said that {name} is not flammable, so it counts as flammable: look in its safety data sheet.",
    )


def _words(entry: Entry) -> str:
    """What an entry says was used."""
    match entry:
        case Cleaned():
            return entry.route
        case Awaited():
            return entry.awaiting
        case Lubricated():
            return entry.lubricant or ""
        case Tried():
            return ", ".join((*entry.materials, entry.words or ""))
        case _:
            return ""
