"""The cleaning plan: which parts go through what together, in which order, and what runs, dries or cures until when."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta

from pydantic import JsonValue

from camerawright.handbook import cleaning, solvents
from camerawright.handbook.tables import Reason
from camerawright.job.now import JobNow
from camerawright.job.resume import Timer
from camerawright.journal.entries import Arrived, Awaited, Cleaned, Removed, part_key
from camerawright.journal.state import Part
from camerawright.refit.batches import Batch, batches, bathes_apart
from camerawright.refit.part_facts import PartSpec
from camerawright.refit.routes import Route, assembly_route

IN_THE_BATH = "in the bath: "
"""How a wait begins that is a bath; the name of the process follows."""


Members = dict[str, list[Removed]]


@dataclass(frozen=True, kw_only=True)
class Task:
    """A part that is off, with what has not been separated from it, and how it is cleaned.

    Parameters
    ----------
    inside
        Parts that go through the same route because they are still in it: of this assembly by this journal or an
        earlier one, and not off.
    cleaned
        What it went through since it came off.
    held
        What it waits for, if it cannot be cleaned now: an adhesive that cures, for instance.
    """

    part: Part
    inside: tuple[str, ...]
    route: Route
    cleaned: tuple[str, ...]
    held: str | None

    @property
    def left(self) -> Route | None:
        """The first turn of its route that it did not go through yet, with those after it; `None` if none is left."""
        return next((turn for turn in self.route.turns() if turn.name not in self.cleaned), None)

    @property
    def is_done(self) -> bool:
        """Whether it went through every turn of its route."""
        return self.left is None


@dataclass(frozen=True, kw_only=True)
class Load:
    """One batch in its place in the order.

    Parameters
    ----------
    n
        1 for the first.
    batch
        Process, temperature, minutes, parts, and who must stay out of it.
    to_go
        Its parts that are off and not in it yet; what is inside them goes along.
    timers
        Its parts that are in it.
    fresh
        Why the liquid is renewed before it, if it is.
    """

    n: int
    batch: Batch
    to_go: tuple[str, ...]
    timers: tuple[Timer, ...]
    fresh: Reason | None

    @property
    def until(self) -> datetime | None:
        """When the last of its parts may come out; `None` if it does not run."""
        return max((timer.until for timer in self.timers if timer.until), default=None)


@dataclass(frozen=True, kw_only=True)
class Plan:
    """All that is to be cleaned.

    Parameters
    ----------
    tasks
        Every part that is off, done or not.
    loads
        What is still to be done, in order; parts that are held are in none.
    timers
        Everything that runs, dries or cures, whatever it is, the first to end leading.
    never
        What old handbooks list and nobody should use.
    """

    tasks: tuple[Task, ...]
    loads: tuple[Load, ...]
    timers: tuple[Timer, ...]
    never: dict[str, Reason]

    @property
    def done(self) -> tuple[Task, ...]:
        """Parts that went through every turn of their routes."""
        return tuple(task for task in self.tasks if task.is_done)

    @property
    def held(self) -> tuple[Task, ...]:
        """Parts that cannot be cleaned now."""
        return tuple(task for task in self.tasks if task.held and not task.is_done)

    @property
    def never_wet(self) -> tuple[Task, ...]:
        """Parts that no liquid may touch, or none until they are better known."""
        return tuple(task for task in self.tasks if task.route.never_wet)

    @property
    def minutes(self) -> float:
        """All that have a time, one after another; hand work without one is not in it. [min]"""
        return sum(load.batch.minutes for load in self.loads if load.batch.minutes is not None)


# -- the plan ----------------------------------------------------------------------------------------------------------


def plan(here: JobNow) -> Plan:
    """Plan the cleaning of every part that is off.

    Notes
    -----
    First turns go before second ones, gentle processes before strong ones. A part that was taken off by itself is
    cleaned by itself; what is still inside an assembly that is off goes along with it, and the gentlest of them wins.
    What is inside and what it is made of is known from this journal, or from the last job that had it apart.
    """
    members = _members(here)
    tasks = tuple(_task(part, members, here.now) for part in here.state.off)
    routes = [task.left for task in tasks if task.left and not task.held]
    timers = [timer for part in here.state.off for timer in _timers(part, here.now)]
    return Plan(
        tasks=tasks,
        loads=tuple(_loads(batches(routes), tasks, here)),
        timers=tuple(sorted(timers, key=lambda timer: (timer.until is None, timer.until or here.now))),
        never=solvents.never(),
    )


def _task(part: Part, members: Members, now: datetime) -> Task:
    """One part with what is inside it."""
    removed = part.removed
    own = PartSpec(part.name, removed.material, removed.finish, removed.soil) if removed else PartSpec(part.name)
    inside = tuple(_inside(part.key, members))
    return Task(
        part=part,
        inside=tuple(spec.part for spec in inside),
        route=assembly_route((own, *inside)),
        cleaned=tuple(entry.route for entry in part.cleaned if removed and entry.at >= removed.at),
        held=_held(part, now),
    )


def _members(here: JobNow) -> Members:
    """The parts that are not off, by the assembly that they went with when they last were."""
    last = {key: lore.last for key, lore in here.lore.parts.items() if lore.last}
    last |= {key: part.removed for key, part in here.state.parts.items() if part.removed}
    members: Members = {}
    for key, removed in last.items():
        if removed.assembly is not None and here.state.part(key).status == "on":
            members.setdefault(part_key(removed.assembly), []).append(removed)
    return members


def _inside(assembly: str, members: Members) -> Iterator[PartSpec]:
    """What is inside an assembly that is off, and inside that; soil is not known of any.

    It ends: a part went with one assembly only, and a ring of them would have to hold the one that is off.
    """
    for removed in members.get(assembly, ()):
        yield PartSpec(removed.part, removed.material, removed.finish)
        yield from _inside(part_key(removed.part), members)


def _in_bath(part: Part) -> str | None:
    """The process that it is in, or may come out of; a `Cleaned` since then ended it."""
    wait = part.awaiting
    if wait is None or not wait.awaiting.startswith(IN_THE_BATH):
        return None
    is_out = any(entry.at >= wait.at for entry in part.cleaned)
    return None if is_out else wait.awaiting.removeprefix(IN_THE_BATH)


def _held(part: Part, now: datetime) -> str | None:
    """What it waits for, other than its bath."""
    wait = part.awaiting
    if wait is None or not wait.lasts(now) or wait.awaiting.startswith(IN_THE_BATH):
        return None
    return wait.awaiting


def _timers(part: Part, now: datetime) -> Iterator[Timer]:
    """What it waits for."""
    wait = part.awaiting
    if wait is None or (wait.awaiting.startswith(IN_THE_BATH) and _in_bath(part) is None):
        return
    yield Timer(part=part.name, what=wait.awaiting, until=wait.until, is_over=not wait.lasts(now))


@dataclass(frozen=True)
class _Bathed:
    """What a liquid had in it."""

    parts: tuple[str, ...]
    apart: tuple[str, ...]


def _bathed(tasks: Iterable[Task]) -> dict[str, _Bathed]:
    """The last that went through each process, by the name of it."""
    turns = [(task, turn) for task in tasks for turn in task.route.turns() if turn.name in task.cleaned]
    return {turn.name: _Bathed((task.part.name,), bathes_apart(turn)) for task, turn in turns}


def _loads(planned: Iterable[Batch], tasks: Iterable[Task], here: JobNow) -> Iterator[Load]:
    """The batches in order, each with what is in it and whether the liquid before it will do."""
    bathed = _bathed(tasks)
    for n, batch in enumerate(planned, start=1):
        off = [part for name in batch.parts if (part := here.state.part(name)).status == "off"]
        inside = [part for part in off if _in_bath(part) == batch.name]
        yield Load(
            n=n,
            batch=batch,
            to_go=tuple(part.name for part in off if part not in inside),
            timers=tuple(timer for part in inside for timer in _timers(part, here.now)),
            fresh=_fresh(batch, bathed.get(batch.name)),
        )
        bathed[batch.name] = _Bathed(batch.parts, batch.apart)


def _fresh(batch: Batch, before: _Bathed | None) -> Reason | None:
    """Why the liquid is renewed: what was in it last must not have been with these."""
    if before is None or before.apart == batch.apart:
        return None
    metal = sorted({*before.apart} ^ {*batch.apart})[0]
    reason = cleaning.apart()[metal]
    return Reason(f"Fresh {batch.chemistry}: {', '.join(before.parts)} went through it. {reason.text}", reason.source)


# -- what is entered ---------------------------------------------------------------------------------------------------


def begun(load: Load, *, at: datetime, by: str | None = None) -> tuple[Awaited, ...]:
    """Write the waits of the parts that go into a bath now; none where the process has no time of its own.

    Parameters
    ----------
    at
        When they go in; the wait ends `load.batch.minutes` later.
    """
    if load.batch.minutes is None:
        return ()
    until = at + timedelta(minutes=load.batch.minutes)
    return tuple(
        Awaited(at=at, by=by, part=part, awaiting=f"{IN_THE_BATH}{load.batch.name}", until=until) for part in load.to_go
    )


def ended(load: Load, *, at: datetime, by: str | None = None) -> tuple[Cleaned | Arrived, ...]:
    """Write that the parts that are in a bath went through it, and wait for it no longer."""
    return tuple(
        entry
        for timer in load.timers
        for entry in (
            Cleaned(at=at, by=by, part=timer.part, route=load.batch.name),
            Arrived(at=at, by=by, part=timer.part),
        )
    )


# -- for scripts -------------------------------------------------------------------------------------------------------


def plan_json(plan: Plan) -> dict[str, JsonValue]:
    """The plan for scripts."""
    return {
        "minutes": plan.minutes,
        "loads": [_load_json(load) for load in plan.loads],
        "parts": [_task_json(task) for task in plan.tasks],
        "timers": [_timer_json(timer) for timer in plan.timers],
        "never_wet": [task.part.name for task in plan.never_wet],
        "never": {name: _reason_json(reason) for name, reason in plan.never.items()},
    }


def _reason_json(reason: Reason) -> JsonValue:
    return {"text": reason.text, "source": reason.source}


def _timer_json(timer: Timer) -> JsonValue:
    until = timer.until.isoformat() if timer.until else None
    return {"part": timer.part, "what": timer.what, "until": until, "over": timer.is_over}


def _load_json(load: Load) -> JsonValue:
    batch = load.batch
    return {
        "n": load.n,
        "turn": batch.turn,
        "name": batch.name,
        "temperature_c": batch.temperature_c,
        "minutes": batch.minutes,
        "rinse": batch.rinse,
        "drying": list(batch.drying),
        "parts": list(batch.parts),
        "to_go": list(load.to_go),
        "timers": [_timer_json(timer) for timer in load.timers],
        "until": load.until.isoformat() if load.until else None,
        "fresh": _reason_json(load.fresh) if load.fresh else None,
        "not_with": list(batch.not_with),
        "reasons": [_reason_json(reason) for reason in batch.reasons],
        "cautions": [_reason_json(caution) for caution in batch.cautions],
        "ask": list(batch.ask),
    }


def _task_json(task: Task) -> JsonValue:
    return {
        "part": task.part.name,
        "cell": task.part.removed.cell if task.part.removed else None,
        "inside": list(task.inside),
        "cleaned": list(task.cleaned),
        "done": task.is_done,
        "held": task.held,
        "irreplaceable": task.part.irreplaceable,
        "never_wet": task.route.never_wet,
        "turns": [turn.name for turn in task.route.turns()],
        "left_on": list(task.route.left_on),
        "reasons": [_reason_json(reason) for turn in task.route.turns() for reason in turn.reasons],
        "ask": list(task.route.ask),
    }
