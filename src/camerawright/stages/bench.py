"""A job as it lies on the bench: its state, what is known of its kind, and the way back."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta

from camerawright.journal.entries import CLOSING, Corrected, Entry, HoldPoint, part_key
from camerawright.journal.order import constraints_said, independent_pairs
from camerawright.journal.rules import Known, Problem, joint_text, problems, promise_text, standing
from camerawright.journal.state import State, fold
from camerawright.refit.learning import Lore, carried_over, learned
from camerawright.refit.reach import Reach, reach
from camerawright.refit.way_back import Contradiction, Waiting, WayBack, way_back
from camerawright.stages.remembered import Remembered
from camerawright.store.workshop import Workshop
from camerawright.workshop.rows import Job


class NotAllowed(Exception):
    """An entry was refused; `problems` are all its reasons."""

    def __init__(self, found: tuple[Problem, ...]) -> None:
        self.problems = found
        super().__init__("\n".join(f"{problem.what}; {problem.mend}" for problem in found))

    @property
    def can_overrule(self) -> bool:
        """Whether a stated reason would let the entry through."""
        return all(problem.can_overrule for problem in self.problems)


@dataclass(frozen=True, kw_only=True)
class Owed:
    """One thing that stands between this job and its closing."""

    kind: str  # "reminder", "hold point", "finding", "aid", "part", "screw", "shim"
    part: str
    what: str
    entry: str | None = None  # the id to answer


@dataclass(frozen=True, kw_only=True)
class Bench:
    """Everything about a job that is computed from its journal and those of its variant."""

    job: Job
    state: State
    lore: Lore
    way: WayBack
    known: Known
    now: datetime

    @property
    def stage(self) -> str:
        """Where the job stands, in one or two words."""
        if self.state.handed_back:
            return "handed back"
        if self.state.is_closed:
            return "closed"
        if self.way.waiting:
            return "waiting"
        if self.state.off:
            return "in parts"
        return "together"

    @property
    def owed(self) -> tuple[Owed, ...]:
        """What is still to be done before the closing, parts that are off left aside."""
        found = [
            Owed(
                kind={"reminded": "reminder", "hold point": "hold point", "found": "finding"}[promise.kind],
                part=promise.part,
                what=promise_text(promise),
                entry=promise.id,
            )
            for promise in self.state.open_promises
        ]
        found += [Owed(kind="aid", part=aid.place or CLOSING, what=f"take out: {aid.aid}") for aid in self.state.aids]
        for part in self.state.parts.values():
            if part.status == "on":
                found += [
                    Owed(kind=joint[0], part=part.name, what=f"{count} × {joint_text(joint)} not back")
                    for joint, count in sorted(part.out.items())
                ]
        return tuple(found)

    def reach(self, name: str) -> Reach | None:
        """What must come off to reach a part, by what other jobs taught and this one says; None if nobody knows it."""
        said = replace(
            self.lore,
            constraints=(*self.lore.constraints, *constraints_said(self.state)),
            free=self.lore.free | independent_pairs(self.state),
        )
        return reach(name, said, self.state)

    def hazards(self, name: str) -> tuple[str, ...]:
        """The cautions of a part, of this journal and of earlier ones."""
        here = tuple(caution.hazard for caution in self.state.part(name).cautions)
        lore = self.lore.parts.get(part_key(name))
        return tuple(dict.fromkeys((*here, *(lore.cautions if lore else ()))))

    def frees(self, name: str) -> tuple[str, ...]:
        """The springs, balls and pawls that nothing holds once this part moves."""
        here = tuple(freed for caution in self.state.part(name).cautions for freed in caution.frees)
        lore = self.lore.parts.get(part_key(name))
        return tuple(dict.fromkeys((*here, *(lore.frees if lore else ()))))

    def escapes(self, name: str) -> bool:
        """Whether something may get loose when this part moves."""
        lore = self.lore.parts.get(part_key(name))
        return any(caution.escapes for caution in self.state.part(name).cautions) or bool(lore and lore.escapes)


def bench(workshop: Workshop, job_id: str, *, now: datetime | None = None) -> Bench:
    """Read a job and compute where it stands.

    Parameters
    ----------
    now
        The clock, for waits that have an end.

    Raises
    ------
    camerawright.store.refused.Refused
        If there is no such job.
    """
    job = workshop.job(job_id)
    return _computed(job, state_of(workshop, job), lore_of(workshop, job), now or datetime.now(UTC))


def at_a_glance(workshop: Workshop, job: Job, *, now: datetime | None = None) -> Bench:
    """The same without what other jobs taught: for a list of many jobs."""
    return _computed(job, state_of(workshop, job), learned(()), now or datetime.now(UTC))


_STATES: Remembered[State] = Remembered(n_most=1024)
_LORES: Remembered[Lore] = Remembered(n_most=64)


def state_of(workshop: Workshop, job: Job) -> State:
    """The fold of a job's journal."""
    entries = workshop.journal(job.id)
    return _STATES.get((workshop.folder, job.id), (entries,), lambda: fold(entries))


def lore_of(workshop: Workshop, job: Job) -> Lore:
    """What the other jobs of this variant taught, and what those of its sister variants carry over."""
    others = [other for other in workshop.jobs_of_variant(job.camera.variant_key) if other.id != job.id]
    lore = _lore(workshop, others)
    for name, jobs in _sisters(workshop, job).items():
        lore = carried_over(lore, _lore(workshop, jobs), name)
    return lore


def _lore(workshop: Workshop, jobs: Sequence[Job]) -> Lore:
    """What some jobs taught, oldest first."""
    states = tuple(state_of(workshop, job) for job in jobs)
    ids = tuple(job.id for job in jobs)
    return _LORES.get((workshop.folder, ids), states, lambda: learned(list(zip(ids, states, strict=True))))


def _sisters(workshop: Workshop, job: Job) -> dict[str, list[Job]]:
    """The jobs of other variants of the same maker and model, by variant, oldest first."""
    camera = job.camera
    sisters: dict[str, list[Job]] = {}
    for other in reversed(workshop.jobs()):
        is_kin = part_key(other.camera.maker) == part_key(camera.maker) and part_key(other.camera.model) == part_key(
            camera.model
        )
        if is_kin and other.camera.variant_key != camera.variant_key:
            sisters.setdefault(other.camera.variant or other.camera.title, []).append(other)
    return sisters


def _computed(job: Job, state: State, lore: Lore, now: datetime) -> Bench:
    clash = None
    try:
        way = way_back(
            state.off,
            (*lore.constraints, *constraints_said(state)),
            free=lore.free | independent_pairs(state),
            now=now,
            holds=[promise for promise in state.open_promises if isinstance(promise, HoldPoint)],
            back=[part for part in state.parts.values() if part.status == "on" and part.removed],
        )
    except Contradiction as contradiction:
        clash = str(contradiction)
        way = WayBack(steps=(), waiting=tuple(Waiting(part=part, reason=clash, after=()) for part in state.off))
    known = Known(
        constraints=lore.constraints,
        marks_wanted={key: part.marks[0] for key, part in lore.parts.items() if part.marks},
        shims_seen={key: part.shims[0] for key, part in lore.parts.items() if part.shims},
        frees={key: part.frees for key, part in lore.parts.items() if part.frees},
        back_first=way.back_first,
        checks_first=way.checks_first,
        clash=clash,
    )
    return Bench(job=job, state=state, lore=lore, way=way, known=known, now=now)


def enter(workshop: Workshop, job_id: str, entry: Entry, *, now: datetime | None = None) -> Bench:
    """Put an entry into the journal, if nothing stands against it, and say where the job stands then.

    Parameters
    ----------
    entry
        Durable before this returns. An entry that is there already changes nothing.
    now
        The clock; for records that are made after the fact.

    Raises
    ------
    NotAllowed
        With every reason at once. If all can be overruled, the entry goes through when it carries `overruled`.
    """
    clock = now or datetime.now(UTC)
    before = bench(workshop, job_id, now=clock)
    if any(entry == old for old in before.state.journal):
        return before
    found = problems(before.state, entry, now=clock, known=before.known)
    against = standing(found, entry)
    if against:
        raise NotAllowed(against)
    workshop.append(before.job.id, entry, expected=len(before.state.journal))
    return _computed(before.job, fold((*before.state.journal, entry)), before.lore, clock)


def moment_after(here: Bench, *, now: datetime | None = None) -> datetime:
    """Now, or just after the last entry if the clock was set back: the order of a journal is its times."""
    clock = now or datetime.now(UTC)
    last = max((entry.at for entry in here.state.journal), default=clock - timedelta(seconds=1))
    return max(clock, last + timedelta(microseconds=1))


def undo(
    workshop: Workshop, job_id: str, *, entry_id: str | None = None, reason: str | None = None
) -> tuple[Entry, Bench]:
    """Strike out an entry, the last that still counts if none is named, and say which that was.

    An undo is itself an entry: naming it brings back what it struck out.

    Raises
    ------
    NotAllowed
        If there is nothing to undo, or undoing it would break something later.
    """
    here = bench(workshop, job_id)
    target = to_undo(here.state, entry_id)
    correction = Corrected(at=moment_after(here), entry=target.id, reason=reason)
    return target, enter(workshop, job_id, correction)


def to_undo(state: State, entry_id: str | None) -> Entry:
    """The named entry, or the newest that is neither struck out nor a mere undo."""
    for entry in reversed(state.journal):
        is_undo = isinstance(entry, Corrected) and entry.becomes is None
        if entry.id.startswith(entry_id) if entry_id else not is_undo and entry.id not in state.struck:
            return entry
    what = f"no entry begins with {entry_id}" if entry_id else "there is nothing left to undo"
    raise NotAllowed((Problem(what=what, mend="list the journal for its entries", can_overrule=False),))


def promise_called(here: Bench, prefix: str) -> str:
    """The id of the one open promise that begins so, or whose words hold the text.

    Raises
    ------
    NotAllowed
        If none or more than one fits.
    """
    fits = [
        owed
        for owed in here.owed
        if owed.entry
        and prefix.strip()
        and (owed.entry.startswith(prefix.casefold()) or prefix.casefold() in owed.what.casefold())
    ]
    if len(fits) == 1 and fits[0].entry:
        return fits[0].entry
    listed = "; ".join(f"{owed.entry[:8]} {owed.part}: {owed.what}" for owed in (fits or here.owed) if owed.entry)
    what = f"{len(fits)} things owed fit “{prefix}”" if fits else f"nothing owed fits “{prefix}”"
    raise NotAllowed((Problem(what=what, mend=f"owed now: {listed or 'nothing'}", can_overrule=False),))
