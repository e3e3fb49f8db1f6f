"""Before a check passes, and before a reading as left counts: what has to be in place, out, or done."""

import re
from collections import deque
from collections.abc import Iterator
from datetime import datetime
from typing import Final

from camerawright.journal.entries import Answered, HoldPoint, Measured, Reminded, part_key
from camerawright.journal.groups import Groups, groups_of
from camerawright.journal.known import Known
from camerawright.journal.naming import is_spoken_of
from camerawright.journal.springs import springs_owed
from camerawright.journal.state import State
from camerawright.journal.work_begun import work_before
from camerawright.trouble import Trouble


def answer(state: State, entry: Answered, known: Known, now: datetime) -> Iterator[Trouble]:
    """Whether what is owed may be answered now."""
    promise = next((promise for promise in state.open_promises if promise.id == entry.entry), None)
    if promise is None:
        yield Trouble(what="nothing owed has that id", mend="see what is owed; it may be answered already")
    elif isinstance(promise, Reminded | HoldPoint) and promise.due and entry.moment.astimezone().date() < promise.due:
        yield Trouble(
            what=f"{promise.asks}: not before {promise.due.isoformat()}", mend="wait, or say why not", can_overrule=True
        )
    elif isinstance(promise, HoldPoint):
        if entry.outcome is None and sounds_failed(entry.answer):
            yield Trouble(
                what=f"{promise.check}: “{entry.answer}” sounds as if it failed",
                mend="say with “outcome” which it is, passed or failed: a check that failed stays owed",
            )
        if not entry.has_failed:
            yield from _needs_missing(state, promise, known)
            yield from _not_whole(state, promise)


def _not_whole(state: State, check: HoldPoint) -> Iterator[Trouble]:
    """A check of the whole camera, and parts that are off."""
    off = [part.name for part in state.off] if check.is_of_the_whole else []
    if off:
        yield Trouble(
            what=f"{check.check}: that is checked on the whole camera, and still off: {', '.join(off)}",
            mend="put them back first, or say how it was checked without them",
            can_overrule=True,
        )


_FAILED: Final = (
    r"^(?:no|nope|not|never|bad|wrong)\b(?!\s+(?:play|leaks?|light|drag|gap|faults?|scratch\w*|change)\b)"
    r"|\bfail(?:s|ed|ure|ing)?\b"
    r"|\b(?:does|do|did|is|are|was|were|has|have|will|would|could|can|must)(?:\s+(?:still|yet))?\s*(?:not\b|n['’]t\b)"
    r"|\b(?:won|can)['’]t\b|\bonly\s+(?:at|on|when|if|every|with|\d)"
    r"|\btoo\s+(?:slow|fast|late|early|long|short|high|low|tight|loose|weak|far|near|dark|stiff|soft)\b"
)
"""Words that say that something is not as it should be; who means otherwise says that it passed."""
_SHARE: Final = re.compile(r"\b(\d+)\s*(?:of|out of|/)\s*(\d+)\b")


def sounds_failed(answer: str) -> bool:
    """Whether the answer to a check reads as a failure: "no, does not fire", "3 of 5"."""
    shares = [(int(n), int(whole)) for n, whole in _SHARE.findall(answer) if int(n) != 1]
    return bool(re.search(_FAILED, answer.strip(), re.I)) or any(n < whole for n, whole in shares)


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
        elif came_with := _out_with(state, part.key):
            what = f"{part.name} came out with {came_with}, and is still out"
            mend = "put it back first, or say how it was checked"
        elif part.key == part_key(need) and not _may_be_in(state, known, groups, check, part.name):
            what = f"only this check names {part.name}: no other entry says that there is such a part"
            mend = "correct the check if the part has another name; if it is in place, give that as the reason"
        else:
            continue
        yield Trouble(what=f"{check.check}: it needs {need}, and {what}", mend=mend, can_overrule=True)


def _out_with(state: State, key: str) -> str:
    """The part with which a loose part of that name came out, if it is still out."""
    for part in state.parts.values():
        if any(joint.kind == "loose part" and part_key(joint.what.partition(",")[0]) == key for joint in part.out):
            return part.name
    return ""


def _may_be_in(state: State, known: Known, groups: Groups, check: HoldPoint, name: str) -> bool:
    """Whether anything but the check itself speaks of a part: what nobody took off is in place."""
    return part_key(name) in groups.below or is_spoken_of(state, known, name, besides=check)


def still_off(state: State, check: HoldPoint, known: Known) -> list[str]:
    """The parts that a check needs in place, with all that is in them, and that are off."""
    groups = known.learned.groups | groups_of(state)
    keys = dict.fromkeys(key for need in check.needs for key in sorted(groups.members(part_key(need))))
    return [state.parts[key].name for key in keys if key in state.parts and state.parts[key].status == "off"]


def holding(state: State, entry: HoldPoint, known: Known, now: datetime) -> Iterator[Trouble]:
    """Whether what a check needs can be in place before the part that it names goes back."""
    if not entry.part or entry.is_at_closing:
        return
    groups = known.learned.groups | groups_of(state)
    over = _surely_over(entry.part, known)
    for need in entry.needs:
        within = groups.members(part_key(need)) - groups.members(part_key(entry.part))
        reason = next((over[key] for key in sorted(within) if key in over), "")
        if part_key(need) == part_key(entry.part):
            reason = "that is the same part"
        if reason:
            yield Trouble(
                what=f"{entry.check}: it needs {need} in place before {entry.part} goes back. That cannot be: {reason}",
                mend=f"name another part that goes back after {need}, or none",
                can_overrule=True,
            )


def _surely_over(part: str, known: Known) -> dict[str, str]:
    """By key, all that goes back after a part for certain, and the reason nearest to it."""
    found: dict[str, str] = {}
    queue = deque([part_key(part)])
    while queue:
        for constraint in known.over(queue.popleft()):
            key = constraint.keys[0]
            if constraint.certain and key not in found:
                found[key] = f"{constraint.first} goes back after {constraint.then} ({constraint.reason})"
                queue.append(key)
    return found


def reading(state: State, entry: Measured, known: Known, now: datetime) -> Iterator[Trouble]:
    """What is owed before a reading as left counts, and what was done before one as found."""
    if entry.phase == "as found":
        yield from _after_the_work(state, entry)
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
    for spring in springs_owed(state):
        yield Trouble(
            what=f"{entry.test} as left, and {spring.spring} is {spring.is_now}",
            mend="put the turns back, and measure again; or say why it does not matter",
            can_overrule=True,
        )


def _after_the_work(state: State, entry: Measured) -> Iterator[Trouble]:
    """A reading as found of a camera that was worked on: the likeliest mistake once everything is back."""
    if done := work_before(state.entries, entry):
        yield Trouble(
            what=f"{entry.test} as found, after the work had begun: {done}",
            mend="enter it as left; if it is as found all the same, say how: the certificate tells that it was "
            "entered after the work",
            can_overrule=True,
        )
