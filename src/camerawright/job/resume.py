"""After a break: where you were, what is loose right now, what must not be moved, what is soaking or curing."""

from dataclasses import dataclass
from datetime import datetime

from pydantic import JsonValue

from camerawright.job.now import JobNow
from camerawright.journal.entries import Entry, Refitted, Removed, part_key
from camerawright.journal.springs import springs_owed


@dataclass(frozen=True, kw_only=True)
class Timer:
    """Something that takes its time. `until` is None where nobody knows how long."""

    part: str
    what: str
    until: datetime | None
    is_over: bool


@dataclass(frozen=True, kw_only=True)
class Resume:
    """One screen's worth."""

    last: tuple[Entry, ...]  # newest first
    settings: dict[str, str]
    loose: tuple[str, ...]
    do_not_move: tuple[str, ...]
    timers: tuple[Timer, ...]
    next_step: str
    next_hazard: str | None


def resume(here: JobNow, *, n_last: int = 5) -> Resume:
    """Sum a job up for somebody who comes back to it.

    Notes
    -----
    Loose: what a caution says gets free when a part moves that is off now, unless it was put away as a part or as a
    loose part of that removal. Not to be moved: every temporary aid that is in, every part that a needed state or a
    let-down spring stands in for.
    """
    return Resume(
        last=tuple(reversed(here.state.entries[-n_last:])),
        settings=dict(here.state.settings),
        loose=_loose(here),
        do_not_move=_do_not_move(here),
        timers=_timers(here),
        next_step=_next_step(here),
        next_hazard=_next_hazard(here),
    )


def _loose(here: JobNow) -> tuple[str, ...]:
    loose = []
    for part in here.state.off:
        put_away = {part_key(item.what) for item in part.removed.loose} if part.removed else set()
        loose += [
            f"{name} (free since {part.name} came off)"
            for name in here.frees(part.name)
            if part_key(name) not in put_away and here.state.part(name).removed is None
        ]
    return tuple(loose)


def _do_not_move(here: JobNow) -> tuple[str, ...]:
    held = [f"{aid.aid}: {aid.place}" if aid.place else aid.aid for aid in here.state.aids]
    held += [
        f"{spring.spring}: {spring.todo if spring.is_too_far else f'{abs(spring.turns):g} turns are owed to it'}"
        for spring in springs_owed(here.state)
    ]
    for part in here.state.off:
        held += [
            f"{what} stays {how}: {need.reason}"
            for need in part.needs
            for what, how in need.settings.items()
            if need.moves in {"refit", "both"} and _is_set(here, what, how)
        ]
    return tuple(dict.fromkeys(held))


def _is_set(here: JobNow, what: str, how: str) -> bool:
    now_set = here.state.setting(what)
    return now_set is not None and part_key(now_set) == part_key(how)


def _timers(here: JobNow) -> tuple[Timer, ...]:
    timers = []
    for part in here.state.parts.values():
        if part.awaiting:
            over = not part.awaiting.lasts(here.now)
            timers.append(Timer(part=part.name, what=part.awaiting.awaiting, until=part.awaiting.until, is_over=over))
        for last in {part_key(tried.fastener): tried for tried in part.tried_now}.values():  # the last try of each
            if last.wait_until:
                over = last.wait_until <= here.now
                timers.append(
                    Timer(part=part.name, what=f"{last.fastener}: {last.rung}", until=last.wait_until, is_over=over)
                )
    return tuple(timers)


def _next_step(here: JobNow) -> str:
    if here.state.is_closed:
        return "nothing: the job is closed"
    moves = [entry for entry in here.state.entries if isinstance(entry, Removed | Refitted)]
    is_stripping = bool(moves) and isinstance(moves[-1], Removed)
    expected = here.lore.expected_next(here.state)
    if is_stripping and expected:
        return f"comes off next: {expected.name}"
    if here.way.steps:
        back = f"goes back next: {here.way.steps[0].part.name}"
        return f"{back}, if nothing more comes off" if is_stripping else back
    if here.way.waiting:
        return f"waits: {here.way.waiting[0].part.name}, {here.way.waiting[0].reason}"
    if moves and not is_stripping:
        return "everything is back: measure as left, or close the job"
    return f"comes off next: {expected.name}" if expected else "take the first part off, or measure as found"


def _next_hazard(here: JobNow) -> str | None:
    expected = here.lore.expected_next(here.state)
    names = [step.part.name for step in here.way.steps[:2]] + ([expected.name] if expected else [])
    return next((f"{name}: {hazard}" for name in names for hazard in here.hazards(name)), None)


def resume_json(card: Resume) -> dict[str, JsonValue]:
    """The resume card for scripts."""
    return {
        "last": [{"at": entry.at.isoformat(), "kind": entry.kind, "id": entry.id} for entry in card.last],
        "settings": dict(card.settings),
        "loose": list(card.loose),
        "do_not_move": list(card.do_not_move),
        "timers": [
            {
                "part": timer.part,
                "what": timer.what,
                "until": timer.until.isoformat() if timer.until else None,
                "over": timer.is_over,
            }
            for timer in card.timers
        ],
        "next_step": card.next_step,
        "next_hazard": card.next_hazard,
    }
