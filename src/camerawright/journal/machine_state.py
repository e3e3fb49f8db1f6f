"""The state of the machine: what parts need of it, how it is set, and springs turned one way and the other."""

from collections.abc import Iterator, Mapping
from datetime import datetime

from camerawright.journal.entries import NeedsState, Set, Tension, part_key
from camerawright.journal.fields import turns_said
from camerawright.journal.film import loaded
from camerawright.journal.known import Known
from camerawright.journal.springs import nothing_to_turn
from camerawright.journal.state import State
from camerawright.trouble import Trouble


def needed_state(state: State, entry: NeedsState, known: Known, now: datetime) -> Iterator[Trouble]:
    """Two states that one part needs for one move, and that cannot be at once."""
    yield from _said_twice(entry.settings)
    for other in state.part(entry.part).needs:
        if "both" not in {entry.moves, other.moves} and entry.moves != other.moves:
            continue
        earlier = {part_key(what): how for what, how in other.settings.items()}
        for what, how in entry.settings.items():
            was = earlier.get(part_key(what), how)
            if part_key(was) != part_key(how):
                yield Trouble(
                    what=f"{entry.part} cannot need {what} {how} too: it needs {what} {was} already ({other.reason})",
                    mend="correct the earlier entry if that was wrong, or say how both can be",
                    can_overrule=True,
                )


def setting(state: State, entry: Set, known: Known, now: datetime) -> Iterator[Trouble]:
    """A setting that cannot be two at once; film that goes into an open box."""
    yield from _said_twice(entry.settings)
    yield from loaded(state, entry)


def _said_twice(settings: Mapping[str, str]) -> Iterator[Trouble]:
    """One setting in two spellings, with two values."""
    first: dict[str, str] = {}
    for what, how in settings.items():
        if part_key(first.setdefault(part_key(what), how)) != part_key(how):
            yield Trouble(
                what=f"{what} cannot be {first[part_key(what)]} and {how} at once", mend="give one of the two"
            )


def turning(state: State, entry: Tension, known: Known, now: datetime) -> Iterator[Trouble]:
    """A spring is turned in its place, tensioned the other way than it is let down, and by what turns are on it."""
    yield from nothing_to_turn(state, entry)
    yield from _more_than_is_on(state, entry)
    owed = state.tension.get(part_key(entry.spring), 0.0)
    is_further = owed * entry.clockwise > 0
    if owed and is_further != (entry.act == "let down"):
        yield Trouble(
            what=f"{entry.spring} is {turns_said(owed)} from where it was: {turns_said(entry.clockwise)} "
            f"{'lets it down further' if is_further else 'puts turns back'}",
            mend="look which way it was turned, or say how that can be",
            can_overrule=True,
        )


def _more_than_is_on(state: State, entry: Tension) -> Iterator[Trouble]:
    """Turns let down that were not on the spring, or a tensioned spring with fewer turns than it was just given."""
    on_it = None
    for earlier in state.entries:
        if isinstance(earlier, Tension) and part_key(earlier.spring) == part_key(entry.spring):
            turns = -earlier.turns if earlier.act == "let down" else earlier.turns
            on_it = earlier.left if earlier.left is not None else None if on_it is None else max(0.0, on_it + turns)
    if entry.act == "let down" and on_it is not None and entry.turns > on_it + 1e-9:
        what = f"{entry.spring} had {_turns(on_it)} still on it: it cannot be let down {_turns(entry.turns)}"
    elif entry.act == "tensioned" and entry.left is not None and entry.left < entry.turns - 1e-9:
        what = f"{entry.spring} was tensioned {_turns(entry.turns)}: it cannot have {_turns(entry.left)} on it"
    else:
        return
    yield Trouble(what=what, mend="count the turns again, or say how that can be", can_overrule=True)


def _turns(turns: float) -> str:
    """A number of turns, whichever way."""
    return f"{turns:g} turn{'' if turns == 1 else 's'}"
