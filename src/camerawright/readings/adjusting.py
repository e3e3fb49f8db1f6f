"""The adjustment log: what an adjuster's turn did to a reading, what one turn is worth, and how far to turn next."""

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Final

from camerawright.handbook.exposure import marked_speed
from camerawright.job.remembered import Remembered
from camerawright.job.states import states_of
from camerawright.journal.entries import Adjusted, Entry, Measured, part_key
from camerawright.journal.state import State
from camerawright.numeric.shared_slope import SharedSlope, move_to_zero, shared_slope, value_after
from camerawright.quantity import Quantity, coverage_factor
from camerawright.readings.adjusted import OfMark, Stretch, is_elsewhere, of_marks
from camerawright.store.workshop import Workshop
from camerawright.trouble import NotUnderstood
from camerawright.wording import numbers

WITHIN_TURN: Final = 10 / 360
"""A turn is made and entered within ±10° (common practice). [turn]"""
U_TURN: Final = WITHIN_TURN / math.sqrt(3)
"""Its standard uncertainty, rectangular. [turn; jcgm-100 4.3.7]"""
MOST_TIMES_TRIED: Final = 2.0
"""Nothing is suggested beyond this many times the largest turn tried (common practice)."""


@dataclass(frozen=True, kw_only=True)
class Turn:
    """What was turned between two readings of one mark, clockwise positive, and what they said. [stops]"""

    job: str
    at: datetime
    turns: float
    before_stops: float
    after_stops: float
    u_change_stops: float


@dataclass(frozen=True, kw_only=True)
class Suggestion:
    """How far to turn next so that the reading becomes zero stops.

    `turns` is clockwise positive, None where nothing can be suggested, and zero where it is to be left alone; `low` and
    `high` are the ends of the 95 % interval of the turn that is needed, before the stop rule. `expected_stops` is where
    the next reading may be expected, `expected_u_stops` its k = 1, the reading's own left aside.
    """

    says: str
    turns: float | None = None
    low: float | None = None
    high: float | None = None
    is_capped: bool = False
    expected_stops: float | None = None
    expected_u_stops: float | None = None


@dataclass(frozen=True, kw_only=True)
class Sensitivity:
    """What one turn of an adjuster does to the reading of one mark, from all jobs of the variant.

    `per_turn` is in stops, for a turn clockwise; `flags` say why it is doubtful.
    """

    adjuster: str
    test: str
    marked: str
    per_turn: Quantity
    ms_per_turn: float  # the same at the mark, for small turns
    is_told_from_zero: bool
    turns: tuple[Turn, ...]
    suggestion: Suggestion
    flags: tuple[str, ...]
    is_meant: bool = True  # turned for this mark, as far as it was said what for


@dataclass(frozen=True, kw_only=True)
class Adjusting:
    """What is known of a job's adjusters, and why some turns tell nothing."""

    sensitivities: tuple[Sensitivity, ...]
    useless: tuple[str, ...]


def adjusting(workshop: Workshop, job_id: str) -> Adjusting:
    """What every adjuster does that was turned in this job or another one of its variant, and what comes next.

    Raises
    ------
    camerawright.trouble.Refused
        There is no such job.
    """
    job = workshop.job(job_id)
    of_variant = [each for each in workshop.kin(job.camera) if each.variant_key == job.camera.variant_key]
    last = tuple((each.job, each.last_entry) for each in of_variant)
    others = [each.job for each in of_variant if each.job != job.id]
    return _ADJUSTING.get(
        (workshop.folder, job.id, last), (), lambda: _from(states_of(workshop, (*others, job.id)), job.id)
    )


_ADJUSTING: Remembered[Adjusting] = Remembered(n_most=64)


def _from(states: Mapping[str, State], job_id: str) -> Adjusting:
    """What the journals of a variant tell, that of the job at hand last."""
    journals = {each: state.entries for each, state in states.items()}
    moved: dict[str, list[Adjusted]] = {}
    tests: dict[str, None] = {}
    for entry in (entry for entries in journals.values() for entry in entries):
        if isinstance(entry, Adjusted):
            moved.setdefault(part_key(entry.adjuster), []).append(entry)
        elif isinstance(entry, Measured):
            tests[entry.test] = None
    found: list[Sensitivity] = []
    useless: list[str] = []
    for of_adjuster in moved.values():
        name = of_adjuster[-1].adjuster
        told = [
            one
            for test in tests
            if not all(is_elsewhere(turn, test) for turn in of_adjuster)
            for one in sensitivities(journals, job_id, adjuster=name, test=test)
        ]
        aims = {(part_key(entry.test), _mark(entry.marked)) for entry in of_adjuster if entry.test and entry.marked}
        found += [_aimed(one, aims) for one in told]
        if not told:
            useless.append(_why_useless(of_adjuster))
    return Adjusting(sensitivities=tuple(found), useless=tuple(useless))


def _mark(text: str) -> str:
    """One spelling of a marked speed."""
    try:
        return marked_speed(text).text
    except NotUnderstood:  # a journal may come from elsewhere
        return text


def _aimed(one: Sensitivity, aims: set[tuple[str, str]]) -> Sensitivity:
    """Where it was said what an adjuster is turned for, the other marks get no suggestion."""
    if not aims or (part_key(one.test), one.marked) in aims:
        return one
    return replace(one, suggestion=Suggestion(says="none: it is not turned for this mark"), is_meant=False)


def _why_useless(moved: Sequence[Adjusted]) -> str:
    """Why nothing follows from how an adjuster was turned."""
    name = moved[-1].adjuster
    if not any(entry.turns for entry in moved):
        return f"{name}: it is not entered how far it was turned; give the turns with each adjustment"
    return f"{name}: no mark was measured before and after with nothing else moved in between; measure before you turn"


def sensitivities(
    journals: Mapping[str, Sequence[Entry]], job_id: str, *, adjuster: str, test: str
) -> Iterator[Sensitivity]:
    """For each mark of a test that an adjuster's turns tell something of, what a turn is worth and how far to go next.

    Parameters
    ----------
    journals
        The entries in force of each job of the variant, by its id.
    job_id
        The job at hand: the suggestion starts from its newest reading.
    """
    marks: dict[str, dict[str, OfMark]] = {}
    for each, entries in journals.items():
        for one in of_marks(entries, job=each, adjuster=adjuster, test=test):
            marks.setdefault(one.marked, {})[each] = one
    for marked, by_job in sorted(marks.items(), key=lambda item: -next(iter(item[1].values())).target_s):
        stretches = [s for one in by_job.values() for s in one.stretches if s.is_told]
        if not stretches:
            continue
        fit = shared_slope([s.run for s in stretches], u_move=U_TURN, unit="stop/turn")
        turns = tuple(turn for s in stretches for turn in _turns(s))
        target_s = next(iter(by_job.values())).target_s
        yield Sensitivity(
            adjuster=adjuster,
            test=test,
            marked=marked,
            per_turn=fit.slope,
            ms_per_turn=1e3 * target_s * math.log(2) * fit.slope.value,
            is_told_from_zero=fit.is_told_from_zero,
            turns=turns,
            suggestion=_suggestion(fit, stretches, by_job.get(job_id), max(abs(turn.turns) for turn in turns)),
            flags=_flags(fit),
        )


def _turns(stretch: Stretch) -> Iterator[Turn]:
    """Each pair of neighbouring readings with a turn between them."""
    for before, after in zip(stretch.seen, stretch.seen[1:], strict=False):
        if after.n_moves > before.n_moves:
            yield Turn(
                job=stretch.job,
                at=after.reading.at,
                turns=after.place - before.place,
                before_stops=before.against.mean.value,
                after_stops=after.against.mean.value,
                u_change_stops=math.hypot(before.against.mean.u, after.against.mean.u),
            )


def _flags(fit: SharedSlope) -> tuple[str, ...]:
    """Why the sensitivity is doubtful."""
    flags = []
    if fit.stretch > 1:
        flags.append(
            f"The readings lie {numbers.fixed(fit.stretch, 1)} times farther from one line than their uncertainties"
            " say: play where the direction changed, an eccentric past its top, cameras that differ. The uncertainty"
            " is stretched by that."
        )
    if fit.dof_scatter == 0:
        flags.append("It rests on one turn: whether the adjuster works evenly is not known.")
    return tuple(flags)


def _suggestion(fit: SharedSlope, stretches: list[Stretch], here: OfMark | None, largest: float) -> Suggestion:
    """How far to turn next."""
    if here is None:
        return Suggestion(says="measure this mark on this camera first")
    if here.stale:
        return Suggestion(says=f"measure again first: {here.stale}")
    last = here.stretches[-1]
    run = last.run
    value, u, dof = float(run.value[-1]), float(run.u[-1]), float(run.dof[-1])
    if abs(value) <= coverage_factor(dof) * u:
        return Suggestion(says="leave it: zero is within the reading's uncertainty", turns=0.0)
    i_run = next((i for i, stretch in enumerate(stretches) if stretch is last), None)
    move = move_to_zero(fit, run, i_run)
    if move is None:
        return Suggestion(
            says="undecided: what a turn does is not told from zero; try a larger turn, or more firings a reading"
        )
    if abs(move.value) < WITHIN_TURN:
        return Suggestion(says="leave it: what is left is less than a turn can be made to", turns=0.0)
    most = MOST_TIMES_TRIED * largest
    is_capped = abs(move.value) > most
    turns = math.copysign(most, move.value) if is_capped else move.value
    after = value_after(fit, run, i_run, turns)
    return Suggestion(
        says=f"turn no farther than {numbers.short(MOST_TIMES_TRIED)} times the largest turn tried, then measure again"
        if is_capped
        else "turn, then measure again",
        turns=turns,
        low=move.low,
        high=move.high,
        is_capped=is_capped,
        expected_stops=after.value,
        expected_u_stops=math.hypot(after.u, fit.slope.value * U_TURN),
    )
