"""What may be entered next: every refusal names the thing, the reason and the mend.

A trouble that no reason overrules is one that would make the record contradict itself.
"""

from collections.abc import Callable, Iterable, Iterator
from datetime import datetime, timedelta
from typing import Any

from camerawright.journal.balance import closing
from camerawright.journal.entries import (
    AccountedFor,
    Adjusted,
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
    Ordered,
    Refitted,
    Reminded,
    Removed,
    Tried,
    part_key,
)
from camerawright.journal.gauging import not_open
from camerawright.journal.known import Known
from camerawright.journal.moving import is_not_off, refit, removal
from camerawright.journal.order import Constraint, constraints_said, ring_with
from camerawright.journal.state import State, fold
from camerawright.trouble import Trouble
from camerawright.wording.moments import moment

CLOCK_SLACK = timedelta(minutes=5)
"""How far a tablet's clock may run ahead (common practice)."""
HANDED_BACK, AS_A_NEW_JOB = "the camera is handed back", "take it in again as a new job, or undo the handing back"


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
    rule = _RULES.get(type(entry))
    return (
        *_about_time(entry, now),
        *_about_closed(state, entry),
        *(rule(state, entry, known, now) if rule else ()),
    )


def standing(found: Iterable[Trouble], entry: Entry) -> tuple[Trouble, ...]:
    """The troubles that remain when the entry brings a reason to overrule."""
    return tuple(trouble for trouble in found if not (trouble.can_overrule and entry.overruled))


def _about_time(entry: Entry, now: datetime) -> Iterator[Trouble]:
    if entry.at > now + CLOCK_SLACK:
        yield Trouble(
            what=f"the entry is dated {entry.at:%Y-%m-%d %H:%M}, in the future",
            mend="set the clock, or correct the date",
        )
    until = entry.until if isinstance(entry, Awaited) else entry.wait_until if isinstance(entry, Tried) else None
    if until is not None and until <= entry.at:
        yield Trouble(what=f"{moment(until)} is past", mend="give a day or time to come")


def _about_closed(state: State, entry: Entry) -> Iterator[Trouble]:
    if state.is_closed and isinstance(entry, Removed | Refitted | AidFitted | Closed):
        yield Trouble(what="the job is closed", mend="undo the closing, or take the camera in again as a new job")
    if state.handed_back and isinstance(entry, Measured | Adjusted):  # its papers are with the owner
        yield Trouble(what=HANDED_BACK, mend=AS_A_NEW_JOB)


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
    tries = [tried for tried in state.part(entry.part).tried if part_key(tried.fastener) == part_key(entry.fastener)]
    if tries and tries[-1].outcome == "worse":
        yield Trouble(
            what=f"{entry.fastener} got worse on the last try ({tries[-1].rung})",
            mend="stop, and think what else takes the load off it; if you go on, say why",
            can_overrule=True,
        )
    if tries and tries[-1].wait_until and entry.at < tries[-1].wait_until:
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
    if part.status != "off":
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
    elif isinstance(promise, Reminded | HoldPoint) and promise.due and entry.at.astimezone().date() < promise.due:
        yield Trouble(
            what=f"{promise.asks}: not before {promise.due.isoformat()}", mend="wait, or say why not", can_overrule=True
        )


def _test(state: State, entry: Measured, known: Known, now: datetime) -> Iterator[Trouble]:
    """Reminders that are tied to a test, before its reading as left counts."""
    for promise in state.open_promises:
        tied = isinstance(promise, Reminded) and promise.test and part_key(promise.test) == part_key(entry.test)
        if tied and entry.phase == "as left":
            yield Trouble(
                what=f"owed before {entry.test}: {promise.asks}", mend="do it, and answer it", can_overrule=True
            )


def _handing_back(state: State, entry: HandedBack, known: Known, now: datetime) -> Iterator[Trouble]:
    if not state.is_closed:
        yield Trouble(
            what="the job is not closed", mend="close it first, so that the balance is zero", can_overrule=True
        )


def _closing(state: State, entry: Closed, known: Known, now: datetime) -> tuple[Trouble, ...]:
    return closing(state)


def _correction(state: State, entry: Corrected, known: Known, now: datetime) -> Iterator[Trouble]:
    """What striking out or replacing an entry would break further down: the journal is replayed with it."""
    if entry.entry not in {e.id for e in state.journal}:
        yield Trouble(what="no entry has that id", mend="look in the journal for its id")
        return
    yield from _put_in_place(state, entry, known, now)
    for conflict in fold([*state.journal, entry]).conflicts:
        if conflict not in state.conflicts:
            yield Trouble(what=f"with that correction, {conflict}", mend="undo the later entry first")


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
    is_same = type(new) is type(stood) and _about(new) == _about(stood)
    if is_same and not isinstance(new, Ordered):
        return
    rule = _RULES.get(type(new))
    if rule:
        yield from rule(fold([*state.journal, entry.model_copy(update={"becomes": None})]), new, known, now)
    if isinstance(stood, Removed) and not is_same:
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
