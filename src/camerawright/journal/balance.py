"""The balance: everything that is not back, replaced or accounted for, and what was not read again."""

from collections.abc import Iterator
from datetime import datetime
from typing import Final

from camerawright.journal.entries import (
    CLOSING,
    Added,
    Adjusted,
    Cleaned,
    Found,
    Lubricated,
    Measured,
    Refitted,
    Removed,
    Tension,
    Tried,
    Turned,
    part_key,
)
from camerawright.journal.fields import turns_said
from camerawright.journal.film import still_in
from camerawright.journal.joints import hardware, joint_text
from camerawright.journal.known import Known
from camerawright.journal.slack import slack_words
from camerawright.journal.springs import springs_owed
from camerawright.journal.state import State
from camerawright.trouble import Trouble
from camerawright.wording.moments import moment
from camerawright.wording.names import be
from camerawright.wording.numbers import counted

NOTHING_ELSE: Final = Known()
_DONE = (Added, Adjusted, Cleaned, Found, Lubricated, Measured, Refitted, Removed, Tension, Tried, Turned)
"""The kinds of entry that say that something was read or done."""


def closing(state: State, known: Known = NOTHING_ELSE, *, now: datetime | None = None) -> tuple[Trouble, ...]:
    """What stands against closing the job.

    Parameters
    ----------
    known
        Of what the job rests on besides its journal: recordings that wait, and film that came in with the camera.
    now
        The clock, for waits that have an end; without it they last.
    """
    return (
        *_nothing_done(state),
        *_not_back(state),
        *_not_gauged(state),
        *_not_ready(state, now),
        *_still_stuck(state),
        *_still_owed(state),
        *still_in(state, known),
        *_waiting(known.n_waiting),
        *_not_measured(state),
        *_opened_again(state),
    )


def in_parts(state: State) -> tuple[Trouble, ...]:
    """What stands against giving the camera back in parts."""
    whole = Trouble(what="nothing is off, and nothing is missing", mend="close it without “in parts”")
    conflicts = tuple(Trouble(what=conflict, mend="correct the entry that is wrong") for conflict in state.conflicts)
    return conflicts if state.off or state.n_out else (whole, *conflicts)


def _nothing_done(state: State) -> Iterator[Trouble]:
    """A job that nobody worked on is closed by mistake, or for a reason worth a word."""
    if not any(isinstance(entry, _DONE) for entry in state.entries):
        yield Trouble(
            what="nothing was read or done on this job",
            mend="enter what was, or say why it is closed",
            can_overrule=True,
        )


def _not_back(state: State) -> Iterator[Trouble]:
    """Parts, fasteners, shims and aids that are not where they belong."""
    for part in state.off:
        cell = f", cell {part.removed.cell}" if part.removed and part.removed.cell else ""
        yield Trouble(what=f"{part.name} {be(part.name)} still off{cell}", mend="refit it, or account for it")
    for part in state.parts.values():
        for joint, count in sorted(part.out.items()) if part.status == "on" else ():
            yield Trouble(
                what=f"{part.name}: {count} × {joint_text(joint)} not back",
                mend="once it is found, enter it as refitted with its part; or account for it",
            )
        for joint, count in part.slack.items() if part.status == "on" else ():
            yield Trouble(what=f"{part.name}: {slack_words(joint, count)}", mend="tighten, and enter it")
    for aid in state.aids:
        yield Trouble(what=f"the aid {aid.aid} is still in", mend="take it out")


def _not_gauged(state: State) -> Iterator[Trouble]:
    """Sizes that nobody took: asked for together, once."""
    not_taken = [
        f"{part.name}: {count} × {joint_text(joint)}"
        for part in state.parts.values()
        if part.status == "on" and part.removed
        for joint, count in hardware(part.removed).items()
        if not joint.is_taken
    ]
    if not_taken:
        yield Trouble(
            what=f"sizes still open: {'; '.join(not_taken)}",
            mend="gauge them and enter them, or say why not",
            can_overrule=True,
        )


def _not_ready(state: State, now: datetime | None) -> Iterator[Trouble]:
    """Parts that are back but still wait, for example while an adhesive cures."""
    for part in state.parts.values():
        wait = part.awaiting if part.status == "on" else None
        if wait and (now is None or wait.lasts(now)):
            until = f" until {moment(wait.until)}" if wait.until else ""
            yield Trouble(
                what=f"{part.name} must still wait{until}: {wait.awaiting}",
                mend="close when the wait is over, or say why not",
                can_overrule=True,
            )


def _still_stuck(state: State) -> Iterator[Trouble]:
    """Fasteners that did not move and are still in: told together, once. What got worse is owed anyway."""
    stuck = [
        f"{tried.fastener} of {part.name}"
        for part in state.parts.values()
        if part.status == "on"
        for tried in {part_key(each.fastener): each for each in part.tried_now}.values()
        if tried.outcome == "no change"
    ]
    if stuck:
        yield Trouble(
            what=f"did not move on the last try, and still in: {', '.join(stuck)}",
            mend="enter what became of it, or say that it stays as it is",
            can_overrule=True,
        )


def _still_owed(state: State) -> Iterator[Trouble]:
    """Promises that nobody answered, turns that nobody put back, and what the journal contradicts itself in."""
    for promise in state.open_promises:
        what = f"owed: {state.asked_by(promise)} ({promise.part or CLOSING})"
        if promise.id in state.failed:
            mend = "put it right, and answer that it passed, or say why the camera goes as it is"
            yield Trouble(what=what, mend=mend, can_overrule=True)
        else:
            yield Trouble(what=what, mend="do it, and answer it")
    for spring in springs_owed(state):
        how = spring.is_now if spring.is_too_far else f"{turns_said(spring.turns)} not put back"
        yield Trouble(
            what=f"{spring.spring}: {how}",
            mend=f"turn it {turns_said(-spring.turns)}, or say why it differs",
            can_overrule=True,
        )
    for conflict in state.conflicts:
        yield Trouble(what=conflict, mend="correct the entry that is wrong")


def _waiting(n_waiting: int) -> Iterator[Trouble]:
    """Recordings that somebody made of this camera and nobody entered."""
    if n_waiting:
        yield Trouble(
            what=f"{counted(n_waiting, 'recording')} of this job still {'waits' if n_waiting == 1 else 'wait'} to be "
            "entered",
            mend="enter or throw away what waits on the measure page, or say why not",
            can_overrule=True,
        )


def _not_measured(state: State) -> Iterator[Trouble]:
    """What was measured as found is measured as left: each test, and each speed of it."""
    marks: dict[str, dict[str, list[str]]] = {}
    names: dict[str, str] = {}
    for reading in state.measured:
        key = part_key(reading.test)
        names.setdefault(key, reading.test)
        marks.setdefault(key, {}).setdefault(reading.phase, []).extend(reading.marked.split(", "))
    for key, by_phase in marks.items():
        left = by_phase.get("as left", [])
        missing = [mark for mark in dict.fromkeys(by_phase.get("as found", [])) if mark not in left]
        if not missing:
            continue
        at = f" at {', '.join(filter(None, missing))}" if left and any(missing) else ""
        yield Trouble(
            what=f"{names[key]}{at}: measured as found, but not as left",
            mend="measure again, or say why not",
            can_overrule=True,
        )


def _opened_again(state: State) -> Iterator[Trouble]:
    """Readings as left that were taken before something came off again, or before an adjuster was moved for them."""
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
