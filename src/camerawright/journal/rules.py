"""What may happen next: every refusal names the thing, the reason and the mend."""

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import Any

from camerawright.journal.entries import (
    CLOSING,
    AccountedFor,
    Adjusted,
    AidFitted,
    AidTakenOut,
    Answered,
    Arrived,
    Awaited,
    Cleaned,
    Closed,
    Corrected,
    Entry,
    HandedBack,
    HoldPoint,
    Measured,
    Ordered,
    Refitted,
    Reminded,
    Removed,
    Tried,
    part_key,
)
from camerawright.journal.order import Constraint, constraints_said, ring_with
from camerawright.journal.state import Joint, Part, State, fold, hardware
from camerawright.trouble import Trouble

CLOCK_SLACK = timedelta(minutes=5)
"""How far a tablet's clock may run ahead (common practice)."""


@dataclass(frozen=True, kw_only=True)
class Known:
    """What a job may rest on besides its own journal: what was learned of the variant, and the way back."""

    constraints: tuple[Constraint, ...] = ()
    marks_wanted: Mapping[str, str] = field(default_factory=dict)  # part key -> mark asked for
    shims_seen: Mapping[str, str] = field(default_factory=dict)  # part key -> where like joints had a shim
    frees: Mapping[str, tuple[str, ...]] = field(default_factory=dict)  # part key -> what nothing holds once it moves
    back_first: Mapping[str, tuple[Constraint, ...]] = field(default_factory=dict)  # what bars a part's refit
    checks_first: Mapping[str, tuple[HoldPoint, ...]] = field(default_factory=dict)  # checks placed before a part
    clash: str | None = None  # why there is no way back


def problems(state: State, entry: Entry, *, now: datetime, known: Known) -> tuple[Trouble, ...]:
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
    check = _CHECKS.get(type(entry))
    specific = check(state, entry, known, now) if check else ()
    return (*_about_time(entry, now), *_about_closed(state, entry), *specific)


def standing(found: Iterable[Trouble], entry: Entry) -> tuple[Trouble, ...]:
    """The problems that remain when the entry brings a reason to overrule."""
    return tuple(problem for problem in found if not (problem.can_overrule and entry.overruled))


def _breaks(what: str, mend: str) -> Trouble:
    """A problem that no reason overrules, because the record would contradict itself."""
    return Trouble(what=what, mend=mend)


def _about_time(entry: Entry, now: datetime) -> Iterator[Trouble]:
    if entry.at > now + CLOCK_SLACK:
        yield _breaks(
            f"the entry is dated {entry.at:%Y-%m-%d %H:%M}, in the future", "set the clock, or correct the date"
        )


HANDED_BACK, AS_A_NEW_JOB = "the camera is handed back", "take it in again as a new job, or undo the handing back"


def _about_closed(state: State, entry: Entry) -> Iterator[Trouble]:
    if state.is_closed and isinstance(entry, Removed | Refitted | AidFitted | Closed):
        yield _breaks("the job is closed", "undo the closing, or take the camera in again as a new job")
    if state.handed_back and isinstance(entry, Measured | Adjusted):  # its papers are with the owner
        yield _breaks(HANDED_BACK, AS_A_NEW_JOB)


def _removal(state: State, entry: Removed, known: Known, now: datetime) -> Iterator[Trouble]:
    part = state.part(entry.part)
    if part.status == "off":
        yield _breaks(f"{part.name} is already off", "correct the earlier entry, or give this part a name of its own")
    if part.status == "accounted for":
        yield _breaks(f"{part.name} was accounted for", "if it turned up, undo that entry first")
    if part_key(entry.part) == CLOSING:
        yield _breaks(f"“{CLOSING}” stands for the closing of the job", "give the part another name")
    yield from _covered(state, part, entry, known)
    yield from _wrong_state(state, part, "removal")
    yield from _mark_missing(part, known)
    yield from _gets_free(state, part, entry, known)
    if part.key in known.shims_seen and not entry.shims and entry.looked_beneath is None:
        yield Trouble(
            what=f"did you look beneath {part.name}? A like joint had {known.shims_seen[part.key]}",
            mend="look, and enter the shims or that there are none",
            can_overrule=True,
        )


def _covered(state: State, part: Part, entry: Removed, known: Known) -> Iterator[Trouble]:
    """What is still on and comes off first, by what is entered or known."""
    for cover in entry.under:
        if state.part(cover).status == "on":
            yield Trouble(
                what=f"{part.name} lies under {cover}, which is not off by the journal",
                mend=f"enter the removal of {cover} first",
                can_overrule=True,
            )
    under = {part_key(cover) for cover in entry.under}
    for constraint in (*known.constraints, *constraints_said(state)):
        first, then = constraint.keys
        if constraint.certain and then == part.key and first not in under and state.part(first).status == "on":
            yield Trouble(
                what=f"{constraint.first} comes off before {part.name}: {constraint.reason}",
                mend=f"take {constraint.first} off first",
                can_overrule=True,
            )


def _mark_missing(part: Part, known: Known) -> Iterator[Trouble]:
    wanted = [wish.mark for wish in part.marks_wanted]
    if not wanted and part.key in known.marks_wanted:
        wanted = [known.marks_wanted[part.key]]
    if wanted and not part.marks:
        yield Trouble(
            what=f"the reference mark of {part.name} is not noted: {'; '.join(wanted)}",
            mend="note the mark before the part moves",
            can_overrule=True,
        )
    elif part.marks and not part.marks_now:
        yield Trouble(
            what=f"{part.name} has been back since its reference mark was noted: {part.marks[-1].mark}",
            mend="look whether it still holds, and note it again",
            can_overrule=True,
        )


def _gets_free(state: State, part: Part, entry: Removed, known: Known) -> Iterator[Trouble]:
    """What nothing holds any more is put away with this removal, or came off before."""
    caught = {part_key(loose.what) for loose in entry.loose}
    names = [name for caution in part.cautions for name in caution.frees]
    for name in dict.fromkeys((*names, *known.frees.get(part.key, ()))):
        key = part_key(name)
        if state.part(name).status == "on" and not any(key in what or what in key for what in caught):
            yield Trouble(
                what=f"{name} gets free when {part.name} moves",
                mend="catch it, and enter it as a loose part with this removal, or say that there is none",
                can_overrule=True,
            )


def _refit(state: State, entry: Refitted, known: Known, now: datetime) -> Iterator[Trouble]:
    part = state.part(entry.part)
    if part.status != "off":
        gone = part.status == "accounted for"
        what = f"{part.name} was accounted for" if gone else f"{part.name} is not off"
        yield _breaks(what, "if it turned up, undo that entry first" if gone else _off_now(state))
        return
    yield from _not_ready(state, part, entry, now)
    if known.clash:
        yield Trouble(what=known.clash, mend="correct the constraint that is wrong", can_overrule=True)
    for bar in known.back_first.get(part.key, ()):
        sure = "" if bar.certain else " (assumed from the order of removal)"
        yield Trouble(
            what=f"{bar.then} goes back before {part.name}{sure}: {bar.reason}",
            mend=f"put {bar.then} back first" + ("" if bar.certain else ", or declare the two independent"),
            can_overrule=True,
        )
    for promise in state.promises_of(part.name):
        yield Trouble(
            what=f"owed before {part.name} goes back: {promise_text(promise)}",
            mend="do it, and answer it",
            can_overrule=True,
        )
    for check in known.checks_first.get(part.key, ()):
        if part_key(check.part) != part.key:
            yield Trouble(
                what=f"check before {part.name} goes back: {check.check}",
                mend="pass it now, and answer it: should it fail later, this part comes off again",
                can_overrule=True,
            )
    yield from _hardware(part, entry)


def _not_ready(state: State, part: Part, entry: Refitted, now: datetime) -> Iterator[Trouble]:
    """What the part waits for, what state the machine must be in, and whether another specimen may stand in."""
    if part.awaiting and not entry.replacement and waits(part.awaiting, now):
        until = f" until {part.awaiting.until.astimezone():%Y-%m-%d %H:%M}" if part.awaiting.until else ""
        yield Trouble(
            what=f"{part.name} still waits{until}: {part.awaiting.awaiting}",
            mend="enter its arrival first",
            can_overrule=True,
        )
    if part.irreplaceable and entry.replacement:
        yield Trouble(
            what=f"{part.name} cannot be had again ({part.irreplaceable}), and another specimen goes in",
            mend="say why, and where the original is kept",
            can_overrule=True,
        )
    yield from _wrong_state(state, part, "refit")


def waits(awaited: Awaited, now: datetime) -> bool:
    """Whether a wait still lasts: one with an end is over by itself."""
    return awaited.until is None or now < awaited.until


def _wrong_state(state: State, part: Part, move: str) -> Iterator[Trouble]:
    for need in part.needs:
        if need.moves not in {move, "both"}:
            continue
        for what, how in need.settings.items():
            now_set = state.setting(what)
            if now_set is None or part_key(now_set) != part_key(how):
                yield Trouble(
                    what=f"{part.name} moves only with {what} {how}; it is {now_set or 'not noted'}: {need.reason}",
                    mend=f"bring {what} to {how} and enter it",
                    can_overrule=True,
                )


def _hardware(part: Part, entry: Refitted) -> Iterator[Trouble]:
    back = hardware(entry)
    for joint in sorted({*part.out, *back}):
        out = part.out.get(joint, 0)
        if back.get(joint, 0) != out:
            yield Trouble(
                what=f"{part.name}: {out} {joint_text(joint)} out, {back.get(joint, 0)} going back",
                mend="put back what came out, or say why it differs",
                can_overrule=True,
            )


def joint_text(joint: Joint) -> str:
    """A kind of fastener or shim in words."""
    kind, description = joint
    return f"{kind} {description}"


def promise_text(promise: Entry) -> str:
    """What a reminder, hold point or finding asks for."""
    match promise:
        case HoldPoint():
            return f"check: {promise.check}"
        case _:
            todo = getattr(promise, "todo", None) or getattr(promise, "decision", None) or ""
            defect = getattr(promise, "defect", None)
            return f"{defect}: {todo}" if defect else todo


def _off_now(state: State) -> str:
    names = ", ".join(part.name for part in state.off)
    return f"off now: {names}" if names else "nothing is off"


def _accounting(state: State, entry: AccountedFor, known: Known, now: datetime) -> Iterator[Trouble]:
    part = state.part(entry.part)
    if part.irreplaceable:
        yield Trouble(what=f"{part.name} cannot be had again", mend="say where it is kept", can_overrule=True)
    if part.status != "off" and not part.out:
        yield _breaks(f"{part.name} is not off", _off_now(state))


def _waiting(state: State, entry: Awaited, known: Known, now: datetime) -> Iterator[Trouble]:
    part = state.part(entry.part)
    if part.status != "off":
        yield _breaks(f"{part.name} is not off", _off_now(state))


def _arrival(state: State, entry: Arrived, known: Known, now: datetime) -> Iterator[Trouble]:
    part = state.part(entry.part)
    if part.awaiting is None:
        yield _breaks(f"{part.name} does not wait for anything", _off_now(state))


def _cleaning(state: State, entry: Cleaned, known: Known, now: datetime) -> Iterator[Trouble]:
    part = state.part(entry.part)
    if part.key not in state.parts:
        yield Trouble(what=f"{part.name} is not in the journal", mend=_off_now(state), can_overrule=True)


def _aid_out(state: State, entry: AidTakenOut, known: Known, now: datetime) -> Iterator[Trouble]:
    if part_key(entry.aid) not in {part_key(aid.aid) for aid in state.aids}:
        inside = ", ".join(aid.aid for aid in state.aids) or "none"
        yield _breaks(f"no aid called {entry.aid} is in", f"aids still in: {inside}")


def _handing_back(state: State, entry: HandedBack, known: Known, now: datetime) -> Iterator[Trouble]:
    if not state.is_closed:
        yield Trouble(
            what="the job is not closed", mend="close it first: the balance comes before the door", can_overrule=True
        )


def _order(state: State, entry: Ordered, known: Known, now: datetime) -> Iterator[Trouble]:
    if part_key(entry.first) == part_key(entry.then):
        yield _breaks(f"{entry.first} cannot come off before itself", "name two parts")
        return
    if not entry.certain:
        return
    new = Constraint(first=entry.first, then=entry.then, reason=entry.reason)
    said = [c for c in (*known.constraints, *constraints_said(state)) if c.certain]
    ring = ring_with(new, said)
    if ring:
        chain = "; ".join(f"{c.first} before {c.then} ({c.reason})" for c in ring)
        yield _breaks(f"that contradicts what is known: {chain}", "correct the one of these that is wrong first")


def _answer(state: State, entry: Answered, known: Known, now: datetime) -> Iterator[Trouble]:
    promise = next((promise for promise in state.open_promises if promise.id == entry.entry), None)
    if promise is None:
        yield _breaks("nothing owed has that id", "see what is owed; it may be answered already")
    elif isinstance(promise, Reminded) and promise.due and entry.at.astimezone().date() < promise.due:
        yield Trouble(
            what=f"{promise.todo}: not before {promise.due.isoformat()}", mend="wait, or say why not", can_overrule=True
        )


def _test(state: State, entry: Measured, known: Known, now: datetime) -> Iterator[Trouble]:
    """Reminders that are tied to a test, before its reading as left counts."""
    for promise in state.open_promises:
        tied = isinstance(promise, Reminded) and promise.test and part_key(promise.test) == part_key(entry.test)
        if tied and entry.phase == "as left":
            yield Trouble(
                what=f"owed before {entry.test}: {promise_text(promise)}",
                mend="do it, and answer it",
                can_overrule=True,
            )


def _ladder(state: State, entry: Tried, known: Known, now: datetime) -> Iterator[Trouble]:
    """A fastener that got worse is left alone, and one that soaks is left to soak."""
    tries = [tried for tried in state.part(entry.part).tried if part_key(tried.fastener) == part_key(entry.fastener)]
    if tries and tries[-1].outcome == "worse":
        yield Trouble(
            what=f"{entry.fastener} got worse on the last try ({tries[-1].rung})",
            mend="stop, and think what else carries the load off it; say why if you go on",
            can_overrule=True,
        )
    if tries and tries[-1].wait_until and entry.at < tries[-1].wait_until:
        until = tries[-1].wait_until.astimezone()
        yield Trouble(
            what=f"{entry.fastener} is to be left until {until:%Y-%m-%d %H:%M}", mend="wait", can_overrule=True
        )


def _correction(state: State, entry: Corrected, known: Known, now: datetime) -> Iterator[Trouble]:
    """What striking out or replacing an entry would break further down: the journal is replayed with it."""
    if entry.entry not in {e.id for e in state.journal}:
        yield _breaks("no entry has that id", "list the journal for its ids")
        return
    yield from _put_in_place(state, entry, known, now)
    for conflict in fold([*state.journal, entry]).conflicts:
        if conflict not in state.conflicts:
            yield _breaks(f"with that correction, {conflict}", "undo the later entry first")


def _put_in_place(state: State, entry: Corrected, known: Known, now: datetime) -> Iterator[Trouble]:
    """What a correction puts in place is judged like a new entry, unless it only changes details of the old one."""
    new = entry.becomes
    if new is None:
        return
    stood = next((e for e in state.entries if e.id == entry.entry), None)
    if any(e.id == entry.entry and isinstance(e, Corrected) for e in state.journal):
        yield _breaks("a correction cannot become something else", "undo it, and correct the entry it names")
        return
    is_same = type(new) is type(stood) and _about(new) == _about(stood)
    if is_same and not isinstance(new, Ordered):
        return
    check = _CHECKS.get(type(new))
    if check:
        yield from check(fold([*state.journal, entry.model_copy(update={"becomes": None})]), new, known, now)
    if stood is not None and not is_same and isinstance(stood, Removed):
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
    return part_key(getattr(entry, "part", ""))


def closing(state: State) -> tuple[Trouble, ...]:
    """The balance: everything that is not back, replaced or accounted for."""
    found = [
        _breaks(
            f"{part.name} is still off" + (f", cell {part.removed.cell}" if part.removed and part.removed.cell else ""),
            "refit it, or account for it",
        )
        for part in state.off
    ]
    for part in state.parts.values():
        if part.status == "on":
            found += [
                _breaks(f"{part.name}: {count} × {joint_text(joint)} not back", "find it, or account for it")
                for joint, count in sorted(part.out.items())
            ]
    found += [_breaks(f"the aid {aid.aid} is still in", "take it out") for aid in state.aids]
    found += [
        _breaks(f"owed: {promise_text(promise)} ({promise.part})", "do it, and answer it")
        for promise in state.open_promises
    ]
    found += [
        Trouble(
            what=f"{spring}: {abs(turns):g} turns {'clockwise' if turns > 0 else 'anticlockwise'} not put back",
            mend=f"turn it {abs(turns):g} turns {'anticlockwise' if turns > 0 else 'clockwise'}, or say why it differs",
            can_overrule=True,
        )
        for spring, turns in state.tension.items()
    ]
    found += [_breaks(conflict, "correct the entry that is wrong") for conflict in state.conflicts]
    if any(reading.phase == "as found" for reading in state.measured) and not any(
        reading.phase == "as left" for reading in state.measured
    ):
        found.append(
            Trouble(what="measured as found, but not as left", mend="measure again, or say why not", can_overrule=True)
        )
    return (*found, *_opened_again(state))


def _opened_again(state: State) -> Iterator[Trouble]:
    """Readings as left that were taken before something came off again, or before an adjuster was turned for them."""
    last = {part_key(reading.test): reading for reading in state.measured if reading.phase == "as left"}
    for reading in last.values():
        again = [part.name for part in state.parts.values() if part.removed and part.removed.at > reading.at]
        turned = [
            entry.adjuster
            for entry in state.entries
            if isinstance(entry, Adjusted) and entry.test and entry.at > reading.at
            if part_key(entry.test) == part_key(reading.test)
        ]
        for names, what in ((again, "came off"), (turned, "was moved")):
            if names:
                yield Trouble(
                    what=f"{', '.join(dict.fromkeys(names))} {what} after {reading.test} was measured as left",
                    mend="measure again, or say why not",
                    can_overrule=True,
                )


_CHECKS: dict[type, Callable[[State, Any, Known, datetime], Iterable[Trouble]]] = {
    Removed: _removal,
    Refitted: _refit,
    Ordered: _order,
    Answered: _answer,
    Measured: _test,
    Tried: _ladder,
    Corrected: _correction,
    AccountedFor: _accounting,
    Awaited: _waiting,
    Arrived: _arrival,
    Cleaned: _cleaning,
    AidTakenOut: _aid_out,
    HandedBack: _handing_back,
    Closed: lambda state, entry, known, now: closing(state),
}
"""What is checked of each kind of entry, all with one signature; other kinds are always welcome."""
