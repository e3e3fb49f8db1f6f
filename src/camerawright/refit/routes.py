"""How to clean each part: its route, worked out from its material, its finish and its dirt.

We start from every process of the handbook. We strike out what harms the material, the finish or the kind of part, and
what could start a fire. The gentlest of the rest that removes the dirt is the route. Where something that matters is
not known, the route is not known either, and says what to find out.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

from camerawright.handbook import cleaning, solvents
from camerawright.handbook.cleaning import Limit, Process, Soil, Subject
from camerawright.handbook.part_words import meanings
from camerawright.handbook.tables import COMMON_PRACTICE, Reason
from camerawright.journal.state import Part
from camerawright.refit.part_facts import Doubt, Facts, PartSpec, dirt_question, facts_of, limits_of

WARM_AIR_MAX_C = 40.0
"""Drying air, unless the part needs it cooler. Common practice. [°C]"""

NOT_KNOWN = "not known yet"
"""The process of a part of which somebody has to find out more first."""

_UNTIL_KNOWN = Reason("Until the questions are answered, leave it as it is.", COMMON_PRACTICE)


@dataclass(frozen=True, slots=True)
class Route:
    """How to clean a part, or parts that stay together.

    Parameters
    ----------
    parts
        Names of the parts that are cleaned together.
    process, chemistry
        Mode and liquid, "ultrasonic bath" and "neutral detergent"; the chemistry may be "dry", and the process
        `NOT_KNOWN`.
    rank
        How hard the process is on the part: the smaller, the gentler.
    temperature_c, minutes
        `None` for dry work; minutes also for work by swab. [°C], [min]
    last_rinse
        A liquid that takes the water out of it after the rinse; `None` where none is needed, or none is safe.
    removes, left_on
        Soil that the route removes, `then` included, and soil that stays on.
    reasons
        Why this one, and why no stronger one.
    ask
        What to find out first; empty when the route is decided.
    never_wet
        No liquid at all is allowed, by what is known of the part.
    metals
        Metals of the parts: not all of them may share a bath.
    then
        The route that follows, where one process does not remove everything.
    is_likely
        It rests on a guess that somebody has to confirm.
    """

    parts: tuple[str, ...]
    process: str
    chemistry: str
    rank: int
    temperature_c: float | None
    minutes: float | None
    rinse: str
    last_rinse: str | None
    drying: str
    removes: tuple[str, ...]
    left_on: tuple[str, ...]
    reasons: tuple[Reason, ...]
    cautions: tuple[Reason, ...]
    ask: tuple[str, ...]
    never_wet: bool
    metals: tuple[str, ...]
    then: "Route | None" = None
    is_likely: bool = False

    @property
    def is_known(self) -> bool:
        """Whether enough is known of the part to say how it is cleaned."""
        return self.process != NOT_KNOWN

    @property
    def name(self) -> str:
        """How it is called on pages and in the journal."""
        return self.process if self.chemistry == cleaning.DRY else f"{self.process}, {self.chemistry}"

    @property
    def is_decided(self) -> bool:
        """Whether nothing has to be found out first."""
        return not self.ask and not self.is_likely

    def turns(self) -> tuple["Route", ...]:
        """This route and those that follow it, in order."""
        return (self, *(self.then.turns() if self.then else ()))


# -- what is allowed ---------------------------------------------------------------------------------------------------


def risk_of_fire(process: Process) -> Reason | None:
    """Say why the process could start a fire, whatever the part is."""
    if process.solvent is None or "cavitation" not in process.traits or process.temperature_c is None:
        return None
    return solvents.unfit_for_ultrasound(solvents.solvents()[process.solvent], bath_c=process.temperature_c)


@lru_cache(maxsize=4096)
def _allowed(limits: tuple[Limit, ...], *, places: frozenset[str]) -> tuple[Process, ...]:
    """The processes that no limit forbids and that cannot burn, gentlest first; those for one place, if it is there."""
    return tuple(
        process
        for process in cleaning.processes()
        if process.traits & cleaning.PLACES <= places
        and not any(limit.rules_out(process) for limit in limits)
        and risk_of_fire(process) is None
    )


def _has_glass(facts: Facts) -> bool:
    """Whether there is glass on it that may be wiped by itself."""
    return any(subject.is_in_a_cell for subject in facts.subjects)


def _has_thread(facts: Facts) -> bool:
    """Whether it is a lens cell: glass in a metal mount, whose thread alone may be wiped."""
    return bool(facts.metals) and _has_glass(facts)


def _places(facts: Facts) -> frozenset[str]:
    """The places that may be wiped by themselves."""
    thread = {cleaning.THREAD_ONLY} if _has_thread(facts) else set()
    return frozenset({cleaning.GLASS_ONLY, *thread}) if _has_glass(facts) else frozenset()


def permitted(parts: Sequence[PartSpec]) -> tuple[Process, ...]:
    """List every process that is safe for parts which stay together, gentlest first; never empty.

    What is not known counts as everything in the table at once: the worst case.
    """
    facts = facts_of(parts)
    return _allowed(limits_of(facts, facts.doubts), places=_places(facts))


def _gentlest(allowed: Sequence[Process], soils: Sequence[Soil]) -> Process:
    """The gentlest of those that remove most. Every part has dust on it; it counts only after what was named.

    Nothing watery, if something stays on that water feeds: rust.
    """
    if any(soil.grows_wet and not any(map(soil.yields, allowed)) for soil in soils):
        allowed = [process for process in allowed if "water" not in process.traits]
    dust = [soil for soil in cleaning.soils() if soil.name in {"loose dust", "dust"}]

    def removed(process: Process) -> tuple[int, int]:
        return sum(soil.yields(process) for soil in soils), sum(soil.yields(process) for soil in dust)

    return max(allowed, key=removed)  # of equals the first, and the gentlest comes first


_IN_ORDER = ("oil", "hydrocarbon", "ketone", "alcohol", "water", "acid")
"""What comes off first: grease before anything with water in it, which runs off grease; acid last, on clean metal.
Common practice."""


def _place_in_order(process: Process) -> int:
    """In which order the processes of one part are done: dry work first."""
    return max((n for n, trait in enumerate(_IN_ORDER, start=1) if trait in process.traits), default=0)


def _one_after_another(allowed: Sequence[Process], soils: Sequence[Soil]) -> list[Process]:
    """Processes that together remove all that allowed ones can, each the gentlest that removes most, in order."""
    chosen, left = [_gentlest(allowed, soils)], list(soils)
    while True:
        rest = [soil for soil in left if not soil.yields(chosen[-1])]
        if len(rest) == len(left) or not any(soil.yields(other) for soil in rest for other in allowed):
            return sorted(chosen, key=_place_in_order)
        chosen, left = [*chosen, _gentlest(allowed, rest)], rest


# -- the route ---------------------------------------------------------------------------------------------------------


def _why(process: Process, allowed: Sequence[Process], soils: Sequence[Soil], facts: Facts) -> Reason:
    """Why this process, and not a gentler one."""
    removed = facts.called(soil for soil in soils if soil.yields(process))
    if not removed:
        why = "nothing stronger that is safe for it would remove more" if soils else "no dirt was noted on it"
        return Reason(f"{_capital(process.name)}: {why}.", COMMON_PRACTICE)
    gentler = [
        other for other in allowed if other.rank < process.rank and other.powers and not other.traits & cleaning.PLACES
    ]
    text = f"{_capital(process.name)}: the gentlest cleaning that removes {_listed(removed)}."
    sources = {soil.source for soil in soils if soil.yields(process)}
    if gentler:
        last = gentler[-1]
        stays = facts.called(soil for soil in soils if soil.yields(process) and not soil.yields(last))
        text += f" {_capital(last.name)} would leave {_listed(stays)} on." if stays else ""
    return Reason(text, sources.pop() if len(sources) == 1 else COMMON_PRACTICE)


def _ruled_out(process: Process, limits: Sequence[Limit], soils: Sequence[Soil]) -> tuple[Reason, ...]:
    """Each limit that shortens or cools the process or strikes out a stronger one; fire where nothing else does."""
    bounds = [limit.reason for limit in limits if _turned_down(process, limit)]
    stronger = [other for other in cleaning.processes() if other.rank > process.rank]
    enough = [limit.reason for limit in limits if all(limit.rules_out(other) for other in stronger)]
    if enough:  # a mirror is not wiped at all: what balsam would not stand says nothing more
        return tuple(dict.fromkeys(enough))
    struck = [limit.reason for limit in limits if any(limit.rules_out(other) for other in stronger)]
    else_allowed = [other for other in stronger if not any(limit.rules_out(other) for limit in limits)]
    fires = [risk_of_fire(other) for other in else_allowed if any(soil.yields(other) for soil in soils)]
    return tuple(dict.fromkeys([*bounds, *struck, *filter(None, fires)]))


def _turned_down(process: Process, limit: Limit) -> bool:
    """Whether the limit shortens or cools the process."""
    return _temperature_c(process, (limit,)) != process.temperature_c or _minutes(process, (limit,)) != process.minutes


def _temperature_c(process: Process, limits: Sequence[Limit]) -> float | None:
    """The usual temperature, or the lowest that a limit allows. [°C]"""
    if process.temperature_c is None:
        return None
    bounds = [limit.temperature_max_c for limit in limits if limit.temperature_max_c is not None]
    return min([process.temperature_c, *bounds])


def _minutes(process: Process, limits: Sequence[Limit]) -> float | None:
    """The usual time, or the shortest that a limit allows. [min]"""
    if process.minutes is None:
        return None
    bounds = [
        limit.minutes_max for limit in limits if limit.minutes_max is not None and limit.when in {None, *process.traits}
    ]
    return min([process.minutes, *bounds])


_DISPLACES_WATER = "isopropyl alcohol"
"""The last rinse of watchmakers: it mixes with water, takes it out of pivots and joints, and evaporates. Common
practice."""


def displacing_rinse(process: Process, allowed: Sequence[Process], subjects: Sequence[Subject]) -> str | None:
    """The liquid that takes the water out of what rusts, if everything in the bath can take it."""
    if not (process.is_bath and "water" in process.traits) or not any(subject.rusts for subject in subjects):
        return None
    jar = (other for other in allowed if other.mode == "lidded jar" and other.chemistry == _DISPLACES_WATER)
    return next((other.chemistry for other in jar), None)


def way_of_drying(
    process: Process, limits: Sequence[Limit], subjects: Sequence[Subject], last_rinse: str | None
) -> str:
    """How it gets dry again."""
    if not process.is_wet or "oil" in process.traits:
        return "none"
    if process.solvent is not None or last_rinse is not None:
        words = "let it evaporate in moving air, away from anything that could light it"
        rust = (subject.drying for subject in subjects if subject.drying and last_rinse)
        return "; ".join([words, *dict.fromkeys(rust)])
    bounds = [limit.temperature_max_c for limit in limits if limit.temperature_max_c is not None]
    words = f"blot it, then dry it in moving air of {min([WARM_AIR_MAX_C, *bounds]):g} °C at most"
    if not process.is_bath:
        words = "take off the damp with a clean soft cloth, without rubbing"
    return "; ".join([words, *dict.fromkeys(subject.drying for subject in subjects if subject.drying)])


_TOUCH = frozenset({"touch"})


def _cautions(process: Process, facts: Facts, soils: Sequence[Soil], last_rinse: str | None) -> tuple[Reason, ...]:
    """What to be careful about: the process, what the part is made of, what is stuck to it."""
    said = [*process.cautions]
    for solvent in filter(None, (process.solvent, last_rinse)):
        said += solvents.cautions(solvents.solvents()[solvent])
    is_touched = not any(_TOUCH in limit.forbids for limit in facts.limits)
    subjects = (subject for subject in facts.subjects if is_touched or not subject.is_in_a_cell)
    said += [caution for subject in subjects for caution in subject.cautions]
    said += [caution for soil in soils for caution in soil.cautions]
    if said:
        said.append(solvents.CARE)
    return tuple(dict.fromkeys(said))


def _stuck(facts: Facts, left: Sequence[Soil]) -> tuple[str, ...]:
    """What to say about soil that no allowed process removes."""
    said = [
        f"“{words}” is not in the table: find out what it is before you try anything stronger."
        for words in facts.strange_soil
    ]
    if facts.wholes and (left or not facts.soils):
        said.append(_strip_first(facts))
    elif left:
        said.append(_what_stays(facts, left))
        said += [f"“{word}” may be {_listed(meanings(word))}: say which, and more may be safe." for word in facts.vague]
    if _has_thread(facts) and not _never_wet(facts) and any(soil.name == _GREASE for soil in left):
        said.append(f"Is the grease only in a thread? Then say so, “old grease in the thread”: {_THREAD}.")
    return tuple(said)


def _may_be_riveted(facts: Facts) -> bool:
    """Whether one of them is a train, which is bathed whole if it is riveted."""
    return any("riveted" in subject.unless for subject in facts.subjects)


def _strip_first(facts: Facts) -> str:
    """Why a whole assembly gets no more than this, and what to say if it is none any more."""
    said = (
        f"Strip the {_listed(facts.wholes)} first, and enter what comes out: each part then gets its own cleaning. "
        "Is nothing left in it? Then describe it as “empty”."
    )
    if _may_be_riveted(facts):
        said += " Are its plates riveted, so that nobody opens it? Then describe it as “riveted”."
    return said


def _what_stays(facts: Facts, left: Sequence[Soil]) -> str:
    """What to do about dirt that no allowed process removes."""
    said = f"No method that is safe for the {_listed(facts.parts)} removes {_listed(facts.called(left))}: "
    if any(subject.is_danger and not subject.metal for subject in facts.subjects):
        return said + "leave it on. Leave hazardous work to a licensed specialist."
    if _never_wet(facts) or not any(soil.yields_to for soil in left):
        return said + "leave it as it is."
    return said + "try a spot that does not show, or leave it on."


_GREASE = "dried grease"
_THREAD = "a cloth barely damp with naphtha may reach it there, away from glass and finish"


def _listed(names: Sequence[str]) -> str:
    """Names in a sentence."""
    return " and ".join([", ".join(names[:-1]), names[-1]] if len(names) > 1 else names)


def _capital(text: str) -> str:
    """The text as the beginning of a sentence."""
    return text[:1].upper() + text[1:]


def _route(facts: Facts, soils: Sequence[Soil], doubts: Sequence[Doubt]) -> Route:
    """The gentlest route within the limits, in its turns; cautious where there are doubts."""
    allowed = _allowed(limits_of(facts, doubts), places=_places(facts))
    made = None
    if not facts.wholes and not _has_thread(facts):  # there the grease is inside, or in a thread
        soils = [soil.among(allowed) for soil in soils]
    turns = _one_after_another(allowed, soils)
    for n in reversed(range(len(turns))):
        before = [soil for soil in soils if not any(soil.yields(process) for process in turns[:n])]
        made = _turn(facts, turns[n], before, doubts, made)
    assert made is not None  # there is one turn at least
    return made


def _turn(facts: Facts, process: Process, soils: Sequence[Soil], doubts: Sequence[Doubt], then: Route | None) -> Route:
    """One turn of a route, with the soil that is still on before it, and what follows."""
    known, limits = limits_of(facts), limits_of(facts, doubts)
    allowed = _allowed(limits, places=_places(facts))
    left = [soil for soil in soils if not soil.yields(process)]
    left_on = then.left_on if then else (*(soil.name for soil in left), *facts.strange_soil)
    last_rinse = displacing_rinse(process, allowed, facts.subjects)
    return Route(
        parts=facts.parts,
        process=process.mode,
        chemistry=process.chemistry,
        rank=process.rank,
        temperature_c=_temperature_c(process, limits),
        minutes=_minutes(process, limits),
        rinse=process.rinse,
        last_rinse=last_rinse,
        drying=way_of_drying(process, limits, facts.subjects, last_rinse),
        removes=tuple(soil.name for soil in soils if soil.name not in left_on),
        left_on=left_on,
        reasons=(
            _why(process, allowed, soils, facts),
            *_ruled_out(process, known, soils),
        ),
        cautions=_cautions(process, facts, soils, last_rinse),
        ask=_stuck(facts, [soil for soil in left if soil.name in left_on]),
        never_wet=_never_wet(facts),
        metals=facts.metals,
        then=then,
    )


def _never_wet(facts: Facts) -> bool:
    """Whether what is known of them allows no liquid."""
    return not _may_be_riveted(facts) and not any(
        process.is_wet for process in _allowed(limits_of(facts), places=_places(facts))
    )


def _not_known(facts: Facts, questions: Sequence[str]) -> Route:
    """What there is to say before the questions are answered."""
    known = limits_of(facts)
    still = next(process for process in cleaning.processes() if not process.powers)
    return Route(
        parts=facts.parts,
        process=NOT_KNOWN,
        chemistry=cleaning.DRY,
        rank=0,
        temperature_c=None,
        minutes=None,
        rinse="none",
        last_rinse=None,
        drying="none",
        removes=(),
        left_on=(*(soil.name for soil in facts.soils), *facts.strange_soil),
        reasons=(_UNTIL_KNOWN, *_ruled_out(still, known, facts.soils)),
        cautions=_cautions(still, facts, facts.soils, None),
        ask=tuple(questions),
        never_wet=_never_wet(facts),
        metals=facts.metals,
    )


def _same_work(route: Route, other: Route) -> bool:
    """Whether the hands do the same thing."""
    work, other_work = (
        [(turn.name, turn.temperature_c, turn.minutes, turn.drying) for turn in turned.turns()]
        for turned in (route, other)
    )
    return work == other_work


def assembly_route(parts: Sequence[PartSpec]) -> Route:
    """Choose the route of parts that stay together: what would harm one of them is done to none.

    Parameters
    ----------
    parts
        At least one.

    Returns
    -------
    Route
        The gentlest process that is safe for every part and removes all the soil. If none removes all, the one that
        removes most, with the rest in `then` or `left_on`. Where material, finish or dirt is not known and the answer
        depends on it, the process is `NOT_KNOWN`, and `ask` says what to find out.

    Raises
    ------
    ValueError
        No part was given.
    """
    if not parts:
        raise ValueError("a route needs at least one part")
    return _assembly_route(tuple(parts))


@lru_cache(maxsize=4096)  # a page asks for every part again, and the table does not change
def _assembly_route(parts: tuple[PartSpec, ...]) -> Route:
    """The same, worked out once."""
    facts = facts_of(parts)
    sure = _route(facts, facts.soils, ())
    dirt = None if sure.never_wet else dirt_question(facts)  # where no liquid is allowed, it makes no difference
    doubts = [doubt for doubt in facts.doubts if dirt or not _same_work(sure, _route(facts, facts.soils, (doubt,)))]
    questions = [*(doubt.question for doubt in doubts), *(soil.question for soil in facts.soils), dirt]
    open_questions = [question for question in questions if question]
    return _not_known(facts, open_questions) if open_questions else sure


def route(part: PartSpec) -> Route:
    """Choose the route of one part; as `assembly_route`."""
    return assembly_route((part,))


def route_of(part: Part) -> Route:
    """Choose the route of a part from what the journal says of it."""
    return route(PartSpec(part.name, part.material, part.finish, part.soil))
