"""A job as it lies on the bench: its state, what is known of its kind, and the way back."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime

from camerawright.job.remembered import Remembered
from camerawright.journal.entries import CLOSING, HoldPoint, part_key
from camerawright.journal.joints import joint_text
from camerawright.journal.known import Known
from camerawright.journal.order import constraints_said, independent_pairs
from camerawright.journal.state import State, fold
from camerawright.refit.learning import Lore, carried_over, learned
from camerawright.refit.reach import Reach, reach
from camerawright.refit.way_back import Contradiction, Waiting, WayBack, way_back
from camerawright.store.workshop import Workshop
from camerawright.workshop.rows import Job


@dataclass(frozen=True, kw_only=True)
class Owed:
    """One thing that stands between this job and its closing."""

    kind: str  # "reminder", "hold point", "finding", "aid", "part", "screw", "shim"
    part: str
    what: str
    entry: str | None = None  # the id to answer


@dataclass(frozen=True, kw_only=True)
class JobNow:
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
                what=promise.asks,
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

    def irreplaceable(self, name: str) -> str:
        """Why a part cannot be had again, by this journal or an earlier one; "" where it can."""
        lore = self.lore.parts.get(part_key(name))
        return self.state.part(name).irreplaceable or (lore.irreplaceable if lore else None) or ""

    def escapes(self, name: str) -> bool:
        """Whether something may get loose when this part moves."""
        lore = self.lore.parts.get(part_key(name))
        return any(caution.lets_loose for caution in self.state.part(name).cautions) or bool(lore and lore.escapes)


def job_now(workshop: Workshop, job_id: str, *, now: datetime | None = None) -> JobNow:
    """Read a job and compute where it stands.

    Parameters
    ----------
    now
        The clock, for waits that have an end.

    Raises
    ------
    camerawright.trouble.Refused
        If there is no such job.
    """
    job = workshop.job(job_id)
    return computed(job, state_of(workshop, job), lore_of(workshop, job), now or datetime.now(UTC))


def at_a_glance(workshop: Workshop, job: Job, *, now: datetime | None = None) -> JobNow:
    """The same without what other jobs taught: for a list of many jobs."""
    return computed(job, state_of(workshop, job), learned(()), now or datetime.now(UTC))


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


def computed(job: Job, state: State, lore: Lore, now: datetime) -> JobNow:
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
    return JobNow(job=job, state=state, lore=lore, way=way, known=known, now=now)
