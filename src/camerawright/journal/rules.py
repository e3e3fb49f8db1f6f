"""What may be entered next: every refusal names the thing, the reason and the mend.

A trouble that no reason overrules is one that would make the record contradict itself. What is true can always be
entered: at most somebody has to say why.
"""

from collections.abc import Callable, Iterable, Iterator
from dataclasses import replace
from datetime import datetime, timedelta
from typing import Any

from camerawright.journal.aids import out_of_reach, sits_nowhere
from camerawright.journal.balance import closing, in_parts
from camerawright.journal.checks import answer, holding, reading
from camerawright.journal.clock import CLOCK_SLACK
from camerawright.journal.dangers import apart, poisons
from camerawright.journal.entries import (
    AccountedFor,
    Added,
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
    Removed,
    Reopened,
    Set,
    Sits,
    Tension,
    Tried,
    Turned,
    part_key,
)
from camerawright.journal.film import put_in, still_in
from camerawright.journal.gauging import not_open
from camerawright.journal.held import through_itself
from camerawright.journal.known import Known
from camerawright.journal.machine_state import needed_state, setting, turning
from camerawright.journal.moving import is_not_off, refit, removal, still_waits
from camerawright.journal.naming import is_spoken_of, unknown_names
from camerawright.journal.order import Constraint, constraints_said, ring_with
from camerawright.journal.reached import reached
from camerawright.journal.replay import broken_by, known_in
from camerawright.journal.sentences import briefly
from camerawright.journal.sides import unsaid_members
from camerawright.journal.state import Part, State, fold
from camerawright.trouble import Trouble
from camerawright.wording.moments import moment
from camerawright.wording.names import be

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
    return (*_about_time(state, entry, now), *_as_the_camera_is(state, entry, known, now))


def _as_the_camera_is(state: State, entry: Entry, known: Known, now: datetime) -> tuple[Trouble, ...]:
    """What stands against an entry, its date left aside."""
    rule = _RULES.get(type(entry))
    return (
        *unknown_names(state, entry, known),
        *through_itself(entry),
        *poisons(entry),
        *apart(state, entry, now),
        *(rule(state, entry, known, now) if rule else ()),
    )


def standing(found: Iterable[Trouble], entry: Entry) -> tuple[Trouble, ...]:
    """The troubles that remain when the entry brings a reason to overrule."""
    return tuple(trouble for trouble in found if not (trouble.can_overrule and entry.overruled))


def _about_time(state: State, entry: Entry, now: datetime) -> Iterator[Trouble]:
    """A moment in the future is a slip. If a clock ran ahead and was set right, the bench still takes entries."""
    last = state.journal[-1].at if state.journal else now
    if entry.at > max(now, last) + CLOCK_SLACK:
        yield Trouble(
            what=f"the entry is dated {entry.at:%Y-%m-%d %H:%M}, in the future",
            mend="set the clock, or correct the date",
        )
    told = entry.becomes.clock if isinstance(entry, Corrected) and entry.becomes else entry.clock
    if told is not None and told > now + CLOCK_SLACK:
        yield Trouble(
            what=f"{moment(told)} is in the future",
            mend="correct the moment; if it is the clock here that is wrong, set it, or say so",
            can_overrule=True,
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
        return
    yield from unsaid_members(state, entry, known)


def _contents(state: State, entry: Contains, known: Known, now: datetime) -> Iterator[Trouble]:
    if part_key(entry.part) in map(part_key, entry.parts):
        yield Trouble(what=f"{entry.part} cannot contain itself", mend="name only what is in it")
        return
    for name in entry.parts:
        if part_key(name) in reached([part_key(entry.part)], state.wholes):
            yield Trouble(
                what=f"{entry.part} is in {name}, by an earlier entry, and cannot contain it",
                mend="correct the entry that is wrong",
            )


def _sitting(state: State, entry: Sits, known: Known, now: datetime) -> Iterator[Trouble]:
    """A trial fit shows how a part goes that is off."""
    part = state.part(entry.part)
    if entry.aspect == "trial fit" and part.status != "off":
        yield replace(is_not_off(state, part), can_overrule=True)


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
            what=f"nobody entered that {part.name} should wait",
            mend=f"waiting now: {waiting}" if waiting else "nothing waits",
        )
    elif part.bath:
        yield still_waits(part, part.awaiting, "")


def _adding(state: State, entry: Added, known: Known, now: datetime) -> Iterator[Trouble]:
    part = state.part(entry.part)
    yield from put_in(state, known, entry)
    yield from out_of_reach(state, entry, known)
    if part.status == "off":
        yield Trouble(what=f"{part.name} came off this camera", mend="enter that it went back, or give this one a name")
    elif part.removed is not None or part.added is not None:
        was = "was accounted for" if part.status == "accounted for" else "is on the camera already"
        yield Trouble(
            what=f"{part.name} {was}",
            mend="give what you add a name of its own, or say why it is added again",
            can_overrule=True,
        )


def _turning_screws(state: State, entry: Turned, known: Known, now: datetime) -> Iterator[Trouble]:
    """Screws are loosened and tightened in a part that is on the camera."""
    part = state.part(entry.part)
    if part.status != "on":
        gone = "off" if part.status == "off" else "accounted for"
        yield Trouble(
            what=f"{part.name} {be(part.name)} {gone}: its screws hold nothing now",
            mend=f"enter it once {part.name} {be(part.name)} back, or say where the screws sit",
            can_overrule=True,
        )


def _gauging(state: State, entry: Gauged, known: Known, now: datetime) -> Iterator[Trouble]:
    part = state.part(entry.part)
    if part.removed is None:
        yield is_not_off(state, part)
    elif not entry.fasteners and not entry.shims:
        yield Trouble(what="no size was given", mend="give the screws or shims that you gauged")
    elif not_open(part.removed, entry):
        yield Trouble(
            what=f"{part.name} has fewer screws or shims left to gauge than you give here",
            mend="see the ledger; what was entered wrongly needs a correction",
        )


def _cleaning(state: State, entry: Cleaned, known: Known, now: datetime) -> Iterator[Trouble]:
    part = state.part(entry.part)
    if not is_spoken_of(state, known, part.name):
        names = ", ".join(other.name for other in state.off)
        yield Trouble(
            what=f"nothing in this journal names {part.name}",
            mend=f"off now: {names}; or say why it was cleaned"
            if names
            else "nothing is off; or say why it was cleaned",
            can_overrule=True,
        )
    yield from _out_too_early(part, entry)


def _out_too_early(part: Part, entry: Cleaned) -> Iterator[Trouble]:
    """A bath that was cut short by more than a tenth of its time, and by more than a minute (common practice)."""
    wait = part.awaiting
    if wait is None or wait.until is None or part.bath != entry.route:
        return
    in_bath, planned = entry.moment - wait.moment, wait.until - wait.moment
    if planned - in_bath > max(planned / 10, timedelta(minutes=1)):
        was = f"{in_bath / timedelta(minutes=1):.0f} of {planned / timedelta(minutes=1):.0f} min"
        yield Trouble(
            what=f"{part.name}: {was} in the bath so far, until {moment(wait.until)}",
            mend="leave it in, or say why that was enough; how long it was is kept",
            can_overrule=True,
        )


def _aid_out(state: State, entry: AidTakenOut, known: Known, now: datetime) -> Iterator[Trouble]:
    if part_key(entry.aid) not in {part_key(aid.aid) for aid in state.aids}:
        inside = ", ".join(aid.aid for aid in state.aids) or "none"
        yield Trouble(what=f"no aid called {entry.aid} is in", mend=f"aids still in: {inside}")


def _handing_back(state: State, entry: HandedBack, known: Known, now: datetime) -> Iterator[Trouble]:
    """The balance once more; a camera that its owner wants back as it is goes back with a reason."""
    if not state.is_closed:
        yield Trouble(
            what="the job is not closed", mend="close it first, so that the balance is zero", can_overrule=True
        )
    for trouble in () if state.in_parts else closing(state, known, now=now):
        if not (state.is_closed and trouble.can_overrule):  # the closing gave a reason for it
            yield replace(trouble, can_overrule=True)


def _closing(state: State, entry: Closed, known: Known, now: datetime) -> tuple[Trouble, ...]:
    if entry.in_parts:
        return (*in_parts(state), *still_in(state, known))
    return closing(state, known, now=now)


def _aid_in(state: State, entry: AidFitted, known: Known, now: datetime) -> Iterator[Trouble]:
    yield from sits_nowhere(state, entry, known)
    yield from put_in(state, known, entry)
    yield from out_of_reach(state, entry, known)


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
    found = tuple(_about_closed(state, entry)) or _as_the_camera_is(state, entry, known, entry.moment)
    return standing(found, entry)


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
    Sits: _sitting,
    Answered: answer,
    HoldPoint: holding,
    Measured: reading,
    Tried: _ladder,
    NeedsState: needed_state,
    Set: setting,
    Tension: turning,
    AidFitted: _aid_in,
    Corrected: _correction,
    AccountedFor: _accounting,
    Awaited: _waiting,
    Arrived: _arrival,
    Cleaned: _cleaning,
    Added: _adding,
    Gauged: _gauging,
    Turned: _turning_screws,
    AidTakenOut: _aid_out,
    HandedBack: _handing_back,
    Closed: _closing,
}
"""What is checked of each kind of entry, all with one signature; other kinds are always welcome."""
