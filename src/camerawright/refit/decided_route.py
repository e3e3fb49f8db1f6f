"""How a part is cleaned if its repairer decided: the decision goes first, what speaks against it stands beside it."""

from collections.abc import Iterator, Sequence
from dataclasses import replace

from camerawright.handbook import cleaning, solvents
from camerawright.handbook.cleaning import Process
from camerawright.handbook.tables import COMMON_PRACTICE, Reason
from camerawright.journal.entries import CleaningDecided
from camerawright.journal.state import Part, State
from camerawright.refit.part_facts import Facts, PartSpec, facts_of, limits_of
from camerawright.refit.routes import Route, displacing_rinse, permitted, risk_of_fire, route, way_of_drying
from camerawright.refit.stripped import spec_of
from camerawright.wording.names import name_key


def decided_route(parts: Sequence[PartSpec], computed: Route, decision: CleaningDecided) -> Route:
    """Put the decision in the place of the route that was worked out.

    Parameters
    ----------
    parts
        The parts that are cleaned together.
    computed
        Their route by the handbook.
    decision
        A process of the handbook by its name, or any words: then temperature and time are the repairer's own.
    """
    process = next((each for each in cleaning.processes() if name_key(each.name) == name_key(decision.route)), None)
    facts = facts_of(parts)
    why = Reason(f"Decided at the bench: {decision.reason}.", COMMON_PRACTICE)
    instead = Reason(f"The handbook would take {computed.name}.", COMMON_PRACTICE)
    reasons = (why, instead) if name_key(computed.name) != name_key(decision.route) else (why,)
    decided = replace(computed, reasons=reasons, ask=(), never_wet=False, then=None)
    of_the_part = [caution for subject in facts.subjects for caution in subject.cautions]
    of_the_part += [caution for soil in facts.soils for caution in soil.cautions]
    if process is None:
        return replace(
            decided,
            process=decision.route,
            chemistry=cleaning.DRY,
            temperature_c=None,
            minutes=None,
            rinse="",
            last_rinse=None,
            drying="none",
            cautions=_each_once(*of_the_part, solvents.CARE),
        )
    last_rinse = displacing_rinse(process, permitted(parts), facts.subjects)
    return replace(
        decided,
        process=process.mode,
        chemistry=process.chemistry,
        rank=process.rank,
        temperature_c=process.temperature_c,
        minutes=process.minutes,
        rinse=process.rinse,
        last_rinse=last_rinse,
        drying=way_of_drying(process, limits_of(facts), facts.subjects, last_rinse),
        cautions=_each_once(*against(facts, process), *_of(process, last_rinse), *of_the_part, solvents.CARE),
    )


def route_at_the_bench(part: Part, state: State) -> Route:
    """Choose the route of one part: as was decided, else by the handbook."""
    spec = spec_of(part, state)
    computed = route(spec)
    return decided_route((spec,), computed, part.cleaning[-1]) if part.cleaning else computed


def against(facts: Facts, process: Process) -> Iterator[Reason]:
    """What speaks against a process, whatever the part is and by what is known of it."""
    fire = risk_of_fire(process)
    for reason in (*([fire] if fire else []), *(each.reason for each in limits_of(facts) if each.rules_out(process))):
        yield Reason(f"Against it: {reason.text}", reason.source)


def _of(process: Process, last_rinse: str | None) -> tuple[Reason, ...]:
    """The cautions of the process itself, and of its last rinse."""
    burns = filter(None, (process.solvent, last_rinse))
    return (*process.cautions, *(each for name in burns for each in solvents.cautions(solvents.solvents()[name])))


def _each_once(*cautions: Reason) -> tuple[Reason, ...]:
    return tuple(dict.fromkeys(cautions))
