"""The cleaning plan: which parts go through what together, in which order, and what runs, dries or cures until when."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from pydantic import JsonValue

from camerawright.handbook import cleaning, solvents
from camerawright.handbook.tables import Reason
from camerawright.job.now import JobNow
from camerawright.job.resume import Timer
from camerawright.journal.entries import IN_THE_BATH, Arrived, Awaited, Cleaned, part_key
from camerawright.journal.state import Part
from camerawright.refit.batches import Batch, batches, bathes_apart
from camerawright.refit.decided_route import decided_route
from camerawright.refit.guesses import Guess, as_likely, guess, likely_route
from camerawright.refit.part_facts import PartSpec, strange_words
from camerawright.refit.routes import Route, assembly_route
from camerawright.refit.stripped import spec_of

Members = dict[str, list[PartSpec]]


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
    guess
        What it is probably like, where not enough is known of it.
    likely
        The route that it would get if the guess is right.
    """

    part: Part
    inside: tuple[str, ...]
    route: Route
    guess: Guess | None
    likely: Route | None
    cleaned: tuple[str, ...]
    held: str | None

    @property
    def turns(self) -> tuple[Route, ...]:
        """The turns of its route; of the likely one, where it is not known well enough; none, where nobody knows."""
        planned = self.route if self.route.is_known else self.likely
        return planned.turns() if planned else ()

    @property
    def left(self) -> Route | None:
        """The first of its turns that it did not go through yet, with those after it; `None` if none is left."""
        return next((turn for turn in self.turns if turn.name not in self.cleaned), None)

    @property
    def is_done(self) -> bool:
        """Whether it went through every turn of its route, or through something, where the route is not known."""
        return self.left is None and (self.route.is_known or bool(self.cleaned))


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
class Question:
    """What to find out about parts that lie together and are probably alike.

    Parameters
    ----------
    assembly
        The sub-assembly that they went with; empty where none was noted.
    spec
        What is known of each of them, and what is proposed where nothing is; it names no part.
    origin
        What the proposal rests on; empty where there is none.
    strange
        Which words of theirs are not in the table, and what is near them.
    """

    assembly: str
    parts: tuple[str, ...]
    spec: PartSpec
    origin: str
    strange: tuple[str, ...]


@dataclass(frozen=True, kw_only=True)
class Plan:
    """All that is to be cleaned.

    Parameters
    ----------
    tasks
        Every part that is off, done or not.
    loads
        What is still to be done, in order; parts that are held, and those that nobody has any idea of, are in none.
    questions
        What to find out, once for each sub-assembly and kind of part.
    timers
        Everything that runs, dries or cures, whatever it is, the first to end leading.
    never
        What old handbooks list and nobody should use.
    """

    tasks: tuple[Task, ...]
    loads: tuple[Load, ...]
    questions: tuple[Question, ...]
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
        """Parts that no liquid may touch."""
        return tuple(task for task in self.tasks if task.route.never_wet)

    @property
    def not_known(self) -> tuple[Task, ...]:
        """Parts of which somebody has to find out more before they are cleaned."""
        return tuple(task for task in self.tasks if not task.route.is_known and not task.is_done)

    @property
    def minutes(self) -> float:
        """All that have a time, one after another; hand work without one is not in it. [min]"""
        return sum(load.batch.minutes for load in self.loads if load.batch.minutes is not None)

    @property
    def likely_minutes(self) -> float:
        """That part of them whose batches rest on guesses. [min]"""
        return sum(load.batch.minutes or 0 for load in self.loads if load.batch.is_likely)


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
    tasks = tuple(_task(part, members, here) for part in here.state.off)
    routes = [task.left for task in tasks if task.left and not task.held]
    timers = [timer for part in here.state.off for timer in _timers(part, here.now)]
    return Plan(
        tasks=tasks,
        loads=tuple(_loads(batches(routes), tasks, here)),
        questions=tuple(_questions(tasks)),
        timers=tuple(sorted(timers, key=lambda timer: (timer.until is None, timer.until or here.now))),
        never=solvents.never(),
    )


def _task(part: Part, members: Members, here: JobNow) -> Task:
    """One part with what is inside it."""
    removed = part.removed
    own = spec_of(part, here.state)
    inside = tuple(_inside(part.key, members))
    made = assembly_route((own, *inside))
    if part.cleaning:
        made = decided_route((own, *inside), made, part.cleaning[-1])
    idea = None if made.is_known or part.cleaning else guess(own, here.lore.parts.get(part.key))
    would_be = likely_route(idea, inside) if idea else None
    return Task(
        part=part,
        inside=tuple(spec.part for spec in inside),
        route=made,
        guess=idea,
        likely=as_likely(would_be) if would_be else None,
        cleaned=tuple(entry.route for entry in part.cleaned if removed and entry.at >= removed.at),
        held=_held(part, here.now),
    )


def _questions(tasks: Iterable[Task]) -> Iterator[Question]:
    """What to find out of the parts that are not known well enough, those that are probably alike together."""
    alike: dict[tuple[str, PartSpec, str], list[Task]] = {}
    for task in tasks:
        if not task.route.is_known and not task.is_done:
            part = task.part
            spec = task.guess.spec if task.guess else PartSpec("", part.material, part.finish, part.soil)
            key = (_assembly(part) or "", replace(spec, part=""), task.guess.origin if task.guess else "")
            alike.setdefault(key, []).append(task)
    for (assembly, spec, origin), found in sorted(alike.items(), key=lambda item: part_key(item[0][0])):
        parts = tuple(task.part.name for task in found)
        yield Question(assembly=assembly, parts=parts, spec=spec, origin=origin, strange=strange_words(spec))


def _assembly(part: Part) -> str | None:
    """The sub-assembly that it went with."""
    return part.removed.assembly if part.removed else None


def _members(here: JobNow) -> Members:
    """What is known of the parts that are not off, by the assembly that they went with when they last were."""
    last = {key: (lore.last, lore.material, lore.finish) for key, lore in here.lore.parts.items() if lore.last}
    last |= {key: (part.removed, part.material, part.finish) for key, part in here.state.parts.items() if part.removed}
    members: Members = {}
    for key, (removed, material, finish) in last.items():
        if removed.assembly is not None and here.state.part(key).status == "on":
            members.setdefault(part_key(removed.assembly), []).append(PartSpec(removed.part, material, finish))
    return members


def _inside(assembly: str, members: Members) -> Iterator[PartSpec]:
    """What is inside an assembly that is off, and inside that; soil is not known of any.

    It ends: a part went with one assembly only, and a ring of them would have to hold the one that is off.
    """
    for spec in members.get(assembly, ()):
        yield spec
        yield from _inside(part_key(spec.part), members)


def _held(part: Part, now: datetime) -> str | None:
    """What it waits for, other than its bath."""
    wait = part.awaiting
    if wait is None or not wait.lasts(now) or wait.bath:
        return None
    return wait.awaiting


def _timers(part: Part, now: datetime) -> Iterator[Timer]:
    """What it waits for."""
    wait = part.awaiting
    if wait is None or (wait.bath and part.bath is None):
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
        inside = [part for part in off if part.bath == batch.name]
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
    if load.batch.minutes is None or load.batch.is_likely:
        return ()
    until = at + timedelta(minutes=load.batch.minutes)
    return tuple(
        Awaited(at=at, by=by, part=part, awaiting=f"{IN_THE_BATH}{load.batch.name}", until=until) for part in load.to_go
    )


def ended(
    load: Load, *, at: datetime, by: str | None = None, overruled: str | None = None
) -> tuple[Cleaned | Arrived, ...]:
    """Write that the parts that are in a bath went through it and its last rinse, and wait for it no longer.

    Parameters
    ----------
    overruled
        Why they came out well before its time.
    """
    found: list[Cleaned | Arrived] = []
    for part in (timer.part for timer in load.timers):
        found += [
            Cleaned(at=at, by=by, part=part, route=done, overruled=overruled) for done in went_through(load.batch, part)
        ]
        found.append(Arrived(at=at, by=by, part=part))
    return tuple(found)


def went_through(batch: Batch, part: str) -> tuple[str, ...]:
    """Name what a part went through in a batch. The last rinse is named, because it may be a flammable liquid."""
    rinsed = (f"last rinse, {batch.last_rinse}",) if part in batch.last_rinse_of else ()
    return (batch.name, *rinsed)


# -- for scripts -------------------------------------------------------------------------------------------------------


def plan_json(plan: Plan) -> dict[str, JsonValue]:
    """The plan for scripts."""
    return {
        "minutes": plan.minutes,
        "likely_minutes": plan.likely_minutes,
        "loads": [_load_json(load) for load in plan.loads],
        "questions": [_question_json(question) for question in plan.questions],
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
        "likely": batch.is_likely,
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


def _question_json(question: Question) -> JsonValue:
    return {
        "assembly": question.assembly,
        "parts": list(question.parts),
        "material": question.spec.material,
        "finish": question.spec.finish,
        "soil": list(question.spec.soil),
        "origin": question.origin,
        "strange": list(question.strange),
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
        "known": task.route.is_known,
        "turns": [turn.name for turn in task.route.turns()],
        "likely_turns": [turn.name for turn in task.likely.turns()] if task.likely else [],
        "left_on": list(task.route.left_on),
        "reasons": [_reason_json(reason) for turn in task.route.turns() for reason in turn.reasons],
        "ask": list(task.route.ask),
    }
