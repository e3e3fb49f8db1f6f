"""What was found and done on a camera, in words, from its journal."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import timedelta
from typing import Final

from camerawright.journal.entries import (
    CLOSING,
    Adjusted,
    Awaited,
    Cleaned,
    Found,
    HoldPoint,
    Lubricated,
    part_key,
)
from camerawright.journal.joints import joint_text
from camerawright.journal.state import State
from camerawright.papers.paper import Line

_NOT_ANSWERED: Final = {
    "repair": "not repaired yet",
    "replace": "not replaced yet",
    "make": "not made yet",
    "reuse knowingly": "left as it is, knowingly",
    None: "",
}


@dataclass(frozen=True, kw_only=True)
class Finding:
    """A defect, and what was done about it."""

    part: str
    defect: str
    done: str = ""


def findings(state: State) -> tuple[Finding, ...]:
    """Everything that was found, in order."""
    return tuple(
        Finding(part=entry.part, defect=entry.defect, done=_done_about(state, entry))
        for entry in state.entries
        if isinstance(entry, Found)
    )


def _done_about(state: State, found: Found) -> str:
    if found.id in state.answers:
        return state.answers[found.id].answer
    return f"not done yet: {found.todo}" if found.todo else _NOT_ANSWERED[found.decision]


def work_done(state: State) -> tuple[Line, ...]:
    """What was done, for the owner: lines of one label follow each other."""
    parts = state.parts.values()
    came_off = sorted((part for part in parts if part.removed), key=lambda part: part.n_removal)
    back = [part.name for part in came_off if part.status == "on"]
    return (
        *_named("Taken off and put back", [", ".join(back)] if back else []),
        *_named("Still off", [", ".join(part.name for part in state.off)] if state.off else []),
        *_named("Cleaned", _cleaned(state)),
        *_named("Lubricated", _lubricated(state)),
        *_named("Kept dry", (f"{one.part}, {one.point}" for one in _points(state) if one.amount == "dry")),
        *_named("Replaced", _replaced(state)),
        *_named("Not put back", (f"{', '.join(names)}: {reason}" for reason, names in left_out(state).items())),
        *_named("Accounted for", hardware_left_out(state)),
        *_named("Adjusted", _adjusted(state)),
        *_named("Checked", _checked(state)),
        *_named("At the closing", _at_the_closing(state)),
    )


def left_out(state: State) -> dict[str, list[str]]:
    """The parts that stay off, by the reason."""
    by_reason: dict[str, list[str]] = {}
    for part in state.parts.values():
        if part.status == "accounted for":
            by_reason.setdefault(part.left_out, []).append(part.name)
    return by_reason


def hardware_left_out(state: State) -> Iterator[str]:
    """What does not go back of parts that did: "strut left, 1 × screw rivet: replaced by a new one"."""
    for part in state.parts.values():
        for joint, count, reason in part.hardware_left_out:
            yield f"{part.name}, {count} × {joint_text(joint)}: {reason}"


def _named(label: str, words: Iterable[str]) -> Iterator[Line]:
    return (Line(label=label, words=each) for each in words)


def _cleaned(state: State) -> Iterator[str]:
    """Each way of cleaning with its parts."""
    by_route: dict[str, dict[str, None]] = {}
    for part in state.parts.values():
        for entry in part.cleaned:
            by_route.setdefault(f"{entry.route}{_cut_short(state, entry)}", {})[part.name] = None
    return (f"{', '.join(names)}: {route}" for route, names in by_route.items())


def _cut_short(state: State, clean: Cleaned) -> str:
    """How long it really was in a bath that it left before its time, for which somebody gave a reason."""
    baths = [
        entry
        for entry in state.entries
        if isinstance(entry, Awaited) and entry.bath == clean.route and entry.at <= clean.at
        if part_key(entry.part) == part_key(clean.part)
    ]
    until = baths[-1].until if baths else None
    if not clean.overruled or until is None or clean.moment >= until:
        return ""
    in_bath, planned = clean.moment - baths[-1].moment, until - baths[-1].moment
    return f" ({in_bath / timedelta(minutes=1):.0f} of {planned / timedelta(minutes=1):.0f} min)"


def _points(state: State) -> Iterator[Lubricated]:
    """The newest entry of each point of each part."""
    for part in state.parts.values():
        yield from {part_key(entry.point): entry for entry in part.lubricated}.values()


def _lubricated(state: State) -> Iterator[str]:
    for one in _points(state):
        if one.amount != "dry":
            yield f"{one.part}, {one.point}: {one.lubricant or 'lubricant not noted'}"


def _replaced(state: State) -> Iterator[str]:
    """Another specimen went in: where it is from."""
    for part in state.parts.values():
        if part.refitted and part.refitted.replacement:
            yield f"{part.name}: {part.refitted.replacement}"


def _adjusted(state: State) -> Iterator[str]:
    """Each adjuster once: as it was before the first time, and as it is after the last."""
    turned: dict[str, list[Adjusted]] = {}
    for entry in state.entries:
        if isinstance(entry, Adjusted):
            turned.setdefault(part_key(entry.adjuster), []).append(entry)
    return (_adjusted_words(entries) for entries in turned.values())


def _adjusted_words(entries: Sequence[Adjusted]) -> str:
    """One adjuster that was moved once or several times."""
    before, last = entries[0].before, entries[-1]
    return f"{last.adjuster}: {f'from {before} to {last.after}' if before else last.after}"


def _checked(state: State) -> Iterator[str]:
    """Checks that passed or failed, each with its answer."""
    for promise in state.promises:
        answer, failed = state.answers.get(promise.id), state.failed.get(promise.id)
        if failed:
            yield f"{promise.asks.removeprefix('check: ')}: FAILED, {failed.answer}"
        elif answer and isinstance(promise, HoldPoint):
            yield f"{promise.check}: {answer.answer}"


def _at_the_closing(state: State) -> Iterator[str]:
    """What was to be done at the end of the job and is no check, such as giving a lens cap back."""
    for promise in state.promises:
        answer = state.answers.get(promise.id)
        if answer and not isinstance(promise, HoldPoint) and part_key(promise.part or CLOSING) == CLOSING:
            yield f"{promise.asks}: {answer.answer}"
