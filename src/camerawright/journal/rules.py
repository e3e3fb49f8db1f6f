"""What may be entered next: every refusal names the thing, the reason and the mend.

A trouble that no reason overrules is one that would make the record contradict itself. What is true can always be
entered: at most somebody has to say why.
"""

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import replace
from datetime import datetime
from typing import Any

from camerawright.journal.aids import sits_nowhere
from camerawright.journal.balance import closing
from camerawright.journal.clock import CLOCK_SLACK
from camerawright.journal.dangers import apart, poisons
from camerawright.journal.entries import (
    AccountedFor,
    AidFitted,
    AidTakenOut,
    Answered,
    Arrived,
    Awaited,
    Cleaned,
    Closed,
    Contains,
    Corrected,
    Entry,
    Gauged,
    HandedBack,
    HoldPoint,
    Independent,
    Measured,
    NeedsState,
    Ordered,
    Refitted,
    Reminded,
    Removed,
    Reopened,
    Set,
    Tension,
    Tried,
    part_key,
)
from camerawright.journal.fields import turns_said
from camerawright.journal.gauging import not_open
from camerawright.journal.groups import groups_of
from camerawright.journal.known import Known
from camerawright.journal.moving import is_not_off, refit, removal
from camerawright.journal.order import Constraint, constraints_said, ring_with
from camerawright.journal.replay import broken_by, known_in
from camerawright.journal.sentences import briefly
from camerawright.journal.state import State, fold
from camerawright.trouble import Trouble
from camerawright.wording.moments import moment

CLOSED, HANDED_BACK = "the job is closed", "the camera is handed back"
REOPEN, AS_A_NEW_JOB = "reopen it, and say why", "take it in again as a new job, or reopen this one and say why"


def troubles(state: State, entry: Entry, *, now: datetime, known: Known) -> tuple[Trouble, ...]:
    """Everything that stands against an entry, all at once.

    Parameters
    ----------
    state
        Fold of the journal so far.
    entry
        What is to be entered.
    now
        The caller's clock, with offset.
    known
        What was learned of the variant and the present way back.
    """
    shut = tuple(_about_closed(state, entry))
    if shut:
        return shut
    rule = _RULES.get(type(entry))
    return (
        *_about_time(state, entry, now),
        *poisons(entry),
        *apart(state, entry, now),
        *(rule(state, entry, known, now) if rule else ()),
    )


def standing(found: Iterable[Trouble], entry: Entry) -> tuple[Trouble, ...]:
    """The troubles that remain when the entry brings a reason to overrule."""
    return tuple(trouble for trouble in found if not (trouble.can_overrule and entry.overruled))


def _about_time(state: State, entry: Entry, now: datetime) -> Iterator[Trouble]:
    """A slip of the date; but a clock that was ahead once does not lock the bench when it is set right."""
    last = state.journal[-1].at if state.journal else now
    if entry.at > max(now, last) + CLOCK_SLACK:
        yield Trouble(
            what=f"the entry is dated {entry.at:%Y-%m-%d %H:%M}, in the future",
            mend="set the clock, or correct the date",
        )
    until = entry.until if isinstance(entry, Awaited) else entry.wait_until if isinstance(entry, Tried) else None
    if until is not None and until <= entry.moment:
        yield Trouble(what=f"{moment(until)} is past", mend="give a day or time to come")


def _about_closed(state: State, entry: Entry) -> Iterator[Trouble]:
    """Closed is closed: what is added or undone then would not be in its papers."""
    if isinstance(entry, Reopened):
        if not (state.is_closed or state.handed_back):
            yield Trouble(what="the job is not closed", mend="there is nothing to reopen")
    elif state.handed_back:
        yield Trouble(what=HANDED_BACK, mend=AS_A_NEW_JOB)
    elif state.is_closed and not isinstance(entry, HandedBack):
        yield Trouble(what=CLOSED, mend=REOPEN)


def _order(state: State, entry: Ordered, known: Known, now: datetime) -> Iterator[Trouble]:
    if part_key(entry.first) == part_key(entry.then):
        yield Trouble(what=f"{entry.first} cannot come off before itself", mend="name two parts")
        return
    if not entry.certain:
        return
    new = Constraint(first=entry.first, then=entry.then, reason=entry.reason)
    said = [c for c in (*known.constraints, *constraints_said(state)) if c.certain]
    ring = ring_with(new, said)
    if ring:
        chain = "; ".join(f"{c.first} before {c.then} ({c.reason})" for c in ring)
        yield Trouble(
            what=f"that contradicts what is known: {chain}", mend="correct the one of these that is wrong first"
        )


def _independent(state: State, entry: Independent, known: Known, now: datetime) -> Iterator[Trouble]:
    if part_key(entry.part) == part_key(entry.other):
        yield Trouble(what=f"{entry.part} cannot be free of itself", mend="name two parts or sub-assemblies")


def _contents(state: State, entry: Contains, known: Known, now: datetime) -> Iterator[Trouble]:
    if part_key(entry.part) in map(part_key, entry.parts):
        yield Trouble(what=f"{entry.part} cannot contain itself", mend="name only what is in it")


def _ladder(state: State, entry: Tried, known: Known, now: datetime) -> Iterator[Trouble]:
    """A fastener that got worse is left alone, and one that soaks is left to soak."""
    key = part_key(entry.fastener)
    tries = [tried for tried in state.part(entry.part).tried_now if part_key(tried.fastener) == key]
    if tries and tries[-1].outcome == "worse":
        yield Trouble(
            what=f"{entry.fastener} got worse on the last try ({tries[-1].rung})",
            mend="stop, and think what else takes the load off it; if you go on, say why",
            can_overrule=True,
        )
    if tries and tries[-1].wait_until and entry.moment < tries[-1].wait_until:
        yield Trouble(
            what=f"{entry.fastener} is to be left alone until {moment(tries[-1].wait_until)}",
            mend="wait, or say why not",
            can_overrule=True,
        )


def _accounting(state: State, entry: AccountedFor, known: Known, now: datetime) -> Iterator[Trouble]:
    part = state.part(entry.part)
    if part.irreplaceable:
        yield Trouble(what=f"{part.name} cannot be had again", mend="say where you keep it", can_overrule=True)
    if part.status != "off" and not part.out:
        yield is_not_off(state, part)


def _waiting(state: State, entry: Awaited, known: Known, now: datetime) -> Iterator[Trouble]:
    part = state.part(entry.part)
    if part.status != "off" and not (part.status == "on" and part.removed and entry.until):  # it may cure in place
        yield is_not_off(state, part)


def _arrival(state: State, entry: Arrived, known: Known, now: datetime) -> Iterator[Trouble]:
    part = state.part(entry.part)
    if part.awaiting is None:
        waiting = ", ".join(other.name for other in state.parts.values() if other.awaiting)
        yield Trouble(
            what=f"{part.name} does not wait for anything",
            mend=f"waiting now: {waiting}" if waiting else "nothing waits",
        )


def _gauging(state: State, entry: Gauged, known: Known, now: datetime) -> Iterator[Trouble]:
    part = state.part(entry.part)
    if part.removed is None:
        yield is_not_off(state, part)
    elif not entry.fasteners and not entry.shims:
        yield Trouble(what="no size was given", mend="give the screws or shims that you gauged")
    elif not_open(part.removed, entry):
        yield Trouble(
            what=f"{part.name} came off with fewer that are still to be gauged",
            mend="see the ledger; what was entered wrongly needs a correction",
        )


def _cleaning(state: State, entry: Cleaned, known: Known, now: datetime) -> Iterator[Trouble]:
    part = state.part(entry.part)
    if part.key not in state.parts:
        names = ", ".join(other.name for other in state.off)
        yield Trouble(
            what=f"{part.name} is not in the journal",
            mend=f"off now: {names}" if names else "nothing is off",
            can_overrule=True,
        )


def _aid_out(state: State, entry: AidTakenOut, known: Known, now: datetime) -> Iterator[Trouble]:
    if part_key(entry.aid) not in {part_key(aid.aid) for aid in state.aids}:
        inside = ", ".join(aid.aid for aid in state.aids) or "none"
        yield Trouble(what=f"no aid called {entry.aid} is in", mend=f"aids still in: {inside}")


def _answer(state: State, entry: Answered, known: Known, now: datetime) -> Iterator[Trouble]:
    promise = next((promise for promise in state.open_promises if promise.id == entry.entry), None)
    if promise is None:
        yield Trouble(what="nothing owed has that id", mend="see what is owed; it may be answered already")
    elif isinstance(promise, Reminded | HoldPoint) and promise.due and entry.moment.astimezone().date() < promise.due:
        yield Trouble(
            what=f"{promise.asks}: not before {promise.due.isoformat()}", mend="wait, or say why not", can_overrule=True
        )
    elif isinstance(promise, HoldPoint):
        yield from _needs_missing(state, promise, known)


def _needs_missing(state: State, check: HoldPoint, known: Known) -> Iterator[Trouble]:
    """What a check needs in place, with all that is in it, and what is not or may not be."""
    groups = known.learned.groups | groups_of(state)
    keys = [(need, key) for need in check.needs for key in sorted(groups.members(part_key(need)))]
    for need, key in keys:
        part = state.part(groups.names.get(key, need if key == part_key(need) else key))
        if part.status == "off":
            what, mend = f"{part.name} is off", f"put {part.name} back first, or say how it was checked"
        elif part.status == "accounted for":
            what, mend = f"{part.name} was accounted for", "say how it was checked without it"
        elif part.key not in {*state.parts, *known.names, *groups.below} and part.key == part_key(need):
            what = f"nobody has spoken of {part.name} on this job"
            mend = "give the part the name that it has here, or say that it is in place"
        else:
            continue
        yield Trouble(what=f"{check.check}: it needs {need}, and {what}", mend=mend, can_overrule=True)


def _test(state: State, entry: Measured, known: Known, now: datetime) -> Iterator[Trouble]:
    """What is to be done before a reading as left counts: reminders tied to the test, aids, springs let down."""
    if entry.phase != "as left":
        return
    for promise in state.open_promises:
        if isinstance(promise, Reminded) and promise.test and part_key(promise.test) == part_key(entry.test):
            yield Trouble(
                what=f"owed before {entry.test}: {promise.asks}", mend="do it, and answer it", can_overrule=True
            )
    for aid in state.aids:
        where = f" ({aid.place})" if aid.place else ""
        yield Trouble(
            what=f"{entry.test} as left, with the aid {aid.aid} still in{where}",
            mend="take it out, and measure again; or say why it does not matter",
            can_overrule=True,
        )
    for spring, turns in state.tension.items():
        yield Trouble(
            what=f"{entry.test} as left, and {spring} is short of {turns_said(-turns)}",
            mend="put the turns back, and measure again; or say why it does not matter",
            can_overrule=True,
        )


def _needed_state(state: State, entry: NeedsState, known: Known, now: datetime) -> Iterator[Trouble]:
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


def _setting(state: State, entry: Set, known: Known, now: datetime) -> Iterator[Trouble]:
    yield from _said_twice(entry.settings)


def _said_twice(settings: Mapping[str, str]) -> Iterator[Trouble]:
    """One setting in two spellings, with two values."""
    first: dict[str, str] = {}
    for what, how in settings.items():
        if part_key(first.setdefault(part_key(what), how)) != part_key(how):
            yield Trouble(
                what=f"{what} cannot be {first[part_key(what)]} and {how} at once", mend="give one of the two"
            )


def _turning(state: State, entry: Tension, known: Known, now: datetime) -> Iterator[Trouble]:
    """A spring is tensioned the other way than it is let down."""
    owed = state.tension.get(part_key(entry.spring), 0.0)
    is_further = owed * entry.clockwise > 0
    if owed and is_further != (entry.act == "let down"):
        yield Trouble(
            what=f"{entry.spring} is {turns_said(owed)} from where it was: {turns_said(entry.clockwise)} "
            f"{'lets it down further' if is_further else 'puts turns back'}",
            mend="look which way it was turned, or say how that can be",
            can_overrule=True,
        )


def _handing_back(state: State, entry: HandedBack, known: Known, now: datetime) -> Iterator[Trouble]:
    """The balance once more; a camera that its owner wants back as it is goes back with a reason."""
    if not state.is_closed:
        yield Trouble(
            what="the job is not closed", mend="close it first, so that the balance is zero", can_overrule=True
        )
    for trouble in closing(state, n_waiting=known.n_waiting):
        if not (state.is_closed and trouble.can_overrule):  # the closing gave a reason for it
            yield replace(trouble, can_overrule=True)


def _closing(state: State, entry: Closed, known: Known, now: datetime) -> tuple[Trouble, ...]:
    return closing(state, n_waiting=known.n_waiting)


def _aid_in(state: State, entry: AidFitted, known: Known, now: datetime) -> Iterator[Trouble]:
    yield from sits_nowhere(state, entry, known)


def _correction(state: State, entry: Corrected, known: Known, now: datetime) -> Iterator[Trouble]:
    """What striking out or replacing an entry would break further down: the journal is replayed with it."""
    if entry.entry not in {e.id for e in state.journal}:
        yield Trouble(what="no entry has that id", mend="look in the journal for its id")
        return
    told = list(_put_in_place(state, entry, known, now))
    clashes = [clash for clash in fold([*state.journal, entry]).conflicts if clash not in state.conflicts]
    told += [Trouble(what=f"with that correction, {clash}", mend=TOGETHER) for clash in clashes]
    if not clashes:
        told += _broken(state, entry, known)
    yield from {trouble.what: trouble for trouble in told}.values()


def _broken(state: State, entry: Corrected, known: Known) -> Iterator[Trouble]:
    """What would not have been accepted with that correction: what it puts in place, and what came later."""
    for broken in broken_by(state, [entry], known, judged_again):
        if broken.entry.id == entry.entry:
            yield broken.trouble
        else:
            said = briefly(broken.entry, state.by_id)
            yield replace(broken.trouble, what=f"then “{said}” would not stand: {broken.trouble.what}", mend=TOGETHER)


def judged_again(state: State, entry: Entry, known: Known) -> tuple[Trouble, ...]:
    """What would have stood against an entry when it was made, its own reason to overrule counted."""
    return standing(troubles(state, entry, now=entry.moment, known=known), entry)


TOGETHER = "undo that entry first, or undo both together; or correct it too"
"""How to get out of a correction that takes the ground from a later entry."""


def _put_in_place(state: State, entry: Corrected, known: Known, now: datetime) -> Iterator[Trouble]:
    """What a correction puts in place is judged like a new entry, unless it only changes details of the old one."""
    new = entry.becomes
    if new is None:
        return
    stood = next((e for e in state.entries if e.id == entry.entry), None)
    if any(e.id == entry.entry and isinstance(e, Corrected) for e in state.journal):
        yield Trouble(
            what="a correction cannot become something else", mend="undo it, and correct the entry that it names"
        )
        return
    if type(new) is type(stood) and _about(new) == _about(stood):
        return  # its details are judged in its own place
    rule = _RULES.get(type(new))
    if rule:
        without = fold([*state.journal, entry.model_copy(update={"becomes": None})])
        yield from rule(without, new, known_in(without, known), now)
    if isinstance(stood, Removed):
        yield from _stands_elsewhere(state, stood)


def _stands_elsewhere(state: State, stood: Removed) -> Iterator[Trouble]:
    """Other entries about a part that, by a correction, never came off."""
    others = [e for e in state.entries if e.id != stood.id and _about(e) == _about(stood)]
    if others:
        kinds = ", ".join(dict.fromkeys(e.kind for e in others))
        yield Trouble(
            what=f"{stood.part} stands in {len(others)} other entries too ({kinds})",
            mend="correct those first, or say why they stay",
            can_overrule=True,
        )


def _about(entry: Entry | None) -> str:
    """The part that an entry is about, if any."""
    return part_key(getattr(entry, "part", "") or "")


_RULES: dict[type, Callable[[State, Any, Known, datetime], Iterable[Trouble]]] = {
    Removed: removal,
    Refitted: refit,
    Ordered: _order,
    Independent: _independent,
    Contains: _contents,
    Answered: _answer,
    Measured: _test,
    Tried: _ladder,
    NeedsState: _needed_state,
    Set: _setting,
    Tension: _turning,
    AidFitted: _aid_in,
    Corrected: _correction,
    AccountedFor: _accounting,
    Awaited: _waiting,
    Arrived: _arrival,
    Cleaned: _cleaning,
    Gauged: _gauging,
    AidTakenOut: _aid_out,
    HandedBack: _handing_back,
    Closed: _closing,
}
"""What is checked of each kind of entry, all with one signature; other kinds are always welcome."""
