"""A job as it lies on the bench: its state, what is known of its kind, and the way back."""

from dataclasses import dataclass, field, replace
from datetime import UTC, datetime
from typing import TYPE_CHECKING, Any, Final

from camerawright.job.lore import lore_of
from camerawright.job.states import state_of
from camerawright.journal.aids import where
from camerawright.journal.balance import closing
from camerawright.journal.entries import CLOSING, HoldPoint, Reminded, Removed, part_key
from camerawright.journal.film import film_said, is_film_inside
from camerawright.journal.joints import joint_text, of_these
from camerawright.journal.known import Known
from camerawright.journal.notation import written_lead
from camerawright.journal.order import Constraint, OrderFacts, order_facts, spread
from camerawright.journal.slack import slack_words
from camerawright.journal.springs import springs_owed
from camerawright.journal.state import State
from camerawright.refit.learning import Lore, learned
from camerawright.refit.way_back import Contradiction, Waiting, WayBack, way_back
from camerawright.store.workshop import Workshop
from camerawright.trouble import Trouble
from camerawright.workshop.rows import Job

if TYPE_CHECKING:
    from camerawright.refit.reach import Reach

_OWED: Final = {"reminded": "reminder", "hold point": "hold point", "found": "finding", "tried": "fastener"}
"""What an open promise of each kind is called."""


@dataclass(frozen=True, kw_only=True)
class Owed:
    """One thing that stands between this job and its closing."""

    kind: str  # "reminder", "hold point", "finding", "fastener", "aid", "spring", "screw", "shim", "loose part", "lead"
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
    facts: OrderFacts = field(default_factory=OrderFacts)
    ring: tuple[Constraint, ...] = ()  # constraints that cannot all be true

    @property
    def is_film_inside(self) -> bool:
        """Whether film is inside, as far as anybody said."""
        return is_film_inside(self.state, self.known)

    @property
    def film_said(self) -> str:
        """Whether film is inside, as it was said last."""
        return film_said(self.state, self.known)

    @property
    def is_shut(self) -> bool:
        """Whether nothing is added or undone before the job is reopened."""
        return self.state.is_closed or self.state.handed_back is not None

    @property
    def against_closing(self) -> tuple[Trouble, ...]:
        """What stands against closing the job."""
        return closing(self.state, self.known, now=self.now)

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
        if self.state.in_parts:  # it went home as it was
            return ()
        found = [
            Owed(
                kind=_OWED[promise.kind],
                part=promise.part or CLOSING,
                what=self.state.asked_by(promise),
                entry=promise.id,
            )
            for promise in self.state.open_promises
        ]
        found += [Owed(kind="aid", part=aid.aid, what=f"take it out{where(aid)}") for aid in self.state.aids]
        for spring in springs_owed(self.state):
            of = "" if part_key(spring.part) == part_key(spring.spring) else f"{spring.spring}, "
            found.append(Owed(kind="spring", part=spring.part, what=f"{of}{spring.todo}"))
        for part in self.state.parts.values():
            if part.status == "on":
                found += [
                    Owed(kind=joint[0], part=part.name, what=f"{count} × {joint_text(joint)} not back")
                    for joint, count in sorted(part.out.items())
                ]
                found += [
                    Owed(kind="screw", part=part.name, what=slack_words(joint, count))
                    for joint, count in sorted(part.slack.items())
                ]
        return tuple(found)

    @property
    def missing(self) -> dict[str, dict[str, tuple[Any, ...]]]:
        """Of each part that is on, by name, what of it is still out: as an entry of its refit would name it."""
        return {
            part.name: of_these(
                part.out,
                [
                    entry
                    for entry in reversed(self.state.entries)
                    if isinstance(entry, Removed) and part_key(entry.part) == part.key
                ],
            )
            for part in self.state.parts.values()
            if part.status == "on" and part.out
        }

    def reach(self, name: str) -> "Reach | None":
        """What must come off to reach a part, by what other jobs taught and this one says; None if nobody knows it."""
        from camerawright.refit.reach import reach  # noqa: PLC0415  most commands ask for none

        facts = self.facts
        said = replace(self.lore, constraints=facts.constraints, free=facts.free, groups=facts.groups, last=facts.last)
        return reach(name, said, self.state)

    def hazards(self, name: str) -> tuple[str, ...]:
        """The cautions of a part: of this journal, of earlier ones, and of the handbook for what it is made of."""
        part, lore = self.state.parts.get(part_key(name)), self.lore.parts.get(part_key(name))
        here = tuple(caution.hazard for caution in part.cautions) if part else ()
        return tuple(dict.fromkeys((*here, *(lore.cautions if lore else ()), *self.dangers(name))))

    def dangers(self, name: str) -> tuple[str, ...]:
        """The cautions of the handbook, for the name of a part and for what it is made of."""
        from camerawright.handbook.part_words import dangers  # noqa: PLC0415  a table, read where it is needed

        part, lore = self.state.parts.get(part_key(name)), self.lore.parts.get(part_key(name))
        material = (part and part.material) or (lore and lore.material)
        finish = (part and part.finish) or (lore and lore.finish)
        return tuple(map(str, dangers(name, material, finish)))

    @property
    def at_hand(self) -> tuple[str, tuple[str, ...]]:
        """The part that was just taken off, and what the handbook warns of there; nothing where nothing does."""
        last = self.state.entries[-1] if self.state.entries else None
        if not isinstance(last, Removed) or self.state.part(last.part).status != "off":
            return "", ()
        return last.part, self.dangers(last.part)

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
    from camerawright.recordings.kept import WAITING, waiting  # noqa: PLC0415  nothing else here needs recordings

    job = workshop.job(job_id)
    n_waiting = len(waiting(workshop.folder / WAITING, job.id))
    return computed(job, state_of(workshop, job.id), lore_of(workshop, job), now or datetime.now(UTC), n_waiting)


def at_a_glance(workshop: Workshop, job: Job, *, now: datetime | None = None) -> JobNow:
    """The same without what other jobs taught: for a list of many jobs."""
    return computed(job, state_of(workshop, job.id), learned(()), now or datetime.now(UTC))


def facts_of(state: State, lore: Lore) -> OrderFacts:
    """What is known of the order, by this journal and earlier ones.

    Where a pair came off here in another order than in an earlier job, either order will do.
    """
    came_off = list(dict.fromkeys(part_key(entry.part) for entry in state.entries if isinstance(entry, Removed)))
    facts = lore.facts | order_facts(state)
    return replace(facts, free=facts.free | lore.sequences.in_the_other_order(came_off))


def _later(state: State, now: datetime) -> dict[str, str]:
    """Why a part, by its key, or a check, by its id, waits for a day to come."""
    today = now.astimezone().date()
    later = {}
    for promise in state.open_promises:
        if isinstance(promise, Reminded | HoldPoint) and promise.due and today < promise.due:
            key = promise.id if isinstance(promise, HoldPoint) else part_key(promise.part)
            later[key] = f"{promise.asks}, not before {promise.due.isoformat()}"
    return later


def computed(job: Job, state: State, lore: Lore, now: datetime, n_waiting: int = 0) -> JobNow:
    facts = facts_of(state, lore)
    clash: str | None = None
    ring: tuple[Constraint, ...] = ()
    try:
        way = way_back(
            state.off,
            facts,
            now=now,
            later=_later(state, now),
            holds=[promise for promise in state.open_promises if isinstance(promise, HoldPoint)],
            back=[part for part in state.parts.values() if part.status == "on" and part.removed],
        )
    except Contradiction as contradiction:
        clash, ring = str(contradiction), contradiction.ring
        way = WayBack(steps=(), waiting=tuple(Waiting(part=part, reason=clash, after=()) for part in state.off))
    known = Known(
        named={key: part.name for key, part in lore.parts.items()} | dict(facts.groups.names),
        constraints=spread(facts.constraints, facts.groups),
        learned=lore.facts,
        marks_wanted={key: part.marks[0] for key, part in lore.parts.items() if part.marks},
        shims_seen={key: part.shims[0] for key, part in lore.parts.items() if part.shims},
        leads_seen={
            key: "; ".join(map(written_lead, part.last.leads))
            for key, part in lore.parts.items()
            if part.last and part.last.leads
        },
        frees={key: part.frees for key, part in lore.parts.items() if part.frees},
        back_first=way.back_first,
        checks_first=way.checks_first,
        curing=way.curing,
        one_step=way.one_step,
        clash=clash,
        names=frozenset(lore.parts),
        film_inside=job.visit.film_inside,
        n_waiting=n_waiting,
    )
    return JobNow(job=job, state=state, lore=lore, way=way, known=known, now=now, facts=facts, ring=ring)
