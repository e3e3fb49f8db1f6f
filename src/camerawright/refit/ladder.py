"""What to try next on a seized fastener: what was tried, what these materials allow, and when to stop."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import Literal, cast

from camerawright.handbook import seized, solvents
from camerawright.handbook.seized import Gain, Liquid, Step, Way
from camerawright.handbook.tables import COMMON_PRACTICE, Reason
from camerawright.journal.dangers import InUse
from camerawright.journal.entries import Rung, Tried, part_key
from camerawright.journal.state import State
from camerawright.refit.fastener_place import Place, place_of, warming_of

Hand = Literal["right", "left"]
Verdict = Literal["try", "wait", "ask", "stop", "free"]

LAST_WORD = "Stop and think. Drill it out only in a jig, and with the owner's consent."
"""What to say when no rung is left. Common practice."""

_HARMLESS = frozenset({"clean the slot", "right driver"})
"""Rungs that harm nothing beside the fastener, so nobody needs to know what lies there."""


@dataclass(frozen=True, slots=True)
class LeftOut:
    """A rung that is not to be tried on this fastener, and why."""

    rung: str
    reasons: tuple[Reason, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Advice:
    """What to try next on a seized fastener.

    Parameters
    ----------
    verdict
        "try" the rung; "wait" until a moment; "ask": find out first; "stop"; "free": it moves.
    rung
        What to try now; `None` with every other verdict.
    wait_minutes
        How long to leave it after this rung, for `Tried.wait_until`; `None` if not at all. [min]
    until
        When the wait is over, with the verdict "wait".
    stop
        When to stop; with the verdict "stop", why.
    ask
        What to find out; with the verdict "try" it may be answered later.
    n_try, n_tries
        Which try of the rung this is, and how many it gets.
    left_out
        Rungs passed over, with the reasons.
    warm_all, warm_seat
        What the bore gains when both, or only what the screw sits in, are warmed; `None` where no figure is at hand.
    """

    verdict: Verdict
    stop: str
    rung: Rung | None = None
    why: tuple[Reason, ...] = ()
    how: tuple[Reason, ...] = ()
    cautions: tuple[Reason, ...] = ()
    wait_minutes: float | None = None
    until: datetime | None = None
    ask: tuple[str, ...] = ()
    n_try: int = 0
    n_tries: int = 0
    left_out: tuple[LeftOut, ...] = ()
    warm_all: Gain | None = None
    warm_seat: Gain | None = None

    @property
    def sources(self) -> tuple[str, ...]:
        """What it rests on, each once."""
        reasons = [*self.why, *self.how, *self.cautions, *(reason for out in self.left_out for reason in out.reasons)]
        return tuple(dict.fromkeys(key for reason in reasons for key in reason.source.split(", ")))


@dataclass(frozen=True, slots=True)
class Stuck:
    """A fastener that was tried and has not moved yet."""

    part: str
    fastener: str
    tried: tuple[Tried, ...]


def stuck(state: State) -> tuple[Stuck, ...]:
    """List the fasteners with a try on them that have not moved, of parts that are still on."""
    found: dict[tuple[str, str], list[Tried]] = {}
    for part in state.parts.values():
        if part.status == "on":
            for tried in part.tried_now:
                found.setdefault((part.key, part_key(tried.fastener)), []).append(tried)
    return tuple(
        Stuck(part=tries[-1].part, fastener=tries[-1].fastener, tried=tuple(tries))
        for tries in found.values()
        if tries[-1].outcome != "moved"
    )


# -- the next rung -----------------------------------------------------------------------------------------------------


def _run(tried: Sequence[Tried]) -> list[Tried]:
    """The tries since it last moved, in order; the last alone if that moved it."""
    ordered = sorted(tried, key=lambda entry: (entry.at, entry.id))
    moved = [i for i, entry in enumerate(ordered[:-1]) if entry.outcome == "moved"]
    return ordered[moved[-1] + 1 :] if moved else ordered


def next_rung(
    tried: Sequence[Tried],
    materials: Sequence[str],
    *,
    now: datetime,
    beside: Sequence[str] = (),
    hand: Hand | None = None,
    diameter_mm: float | None = None,
    about: Sequence[InUse] = (),
) -> Advice:
    """Say what to try next on a seized fastener.

    Parameters
    ----------
    tried
        What was tried on this one fastener, in any order.
    materials
        The screw, what it sits in, and after these what lies beside it, in free words; if empty, those of the latest
        try that names any.
    now
        The caller's clock, with offset.
    beside
        What else lies next to it and could be reached by a drop, warm air or a blow, in free words. “None” says that
        somebody looked; where nothing is said, the ladder asks before anything that reaches beyond the screw.
    hand
        Of the thread; `None` where nobody has made sure of it.
    diameter_mm
        Of the thread; without it, what the bore gains is given for each millimetre. [mm]
    about
        Flammable liquids and warmth elsewhere on the job: no heat beside the one, no solvent beside the other.

    Returns
    -------
    Advice
        The gentlest rung that has tries left and that nothing speaks against; or why there is none.

    Raises
    ------
    ValueError
        If the tries are of more than one fastener, or the diameter is not positive.
    """
    if len({(part_key(entry.part), part_key(entry.fastener)) for entry in tried}) > 1:
        raise ValueError("these are tries on more than one fastener: give those on one fastener only")
    run = _run(tried)
    if run:
        ended = _ended(run) or _soaking(run, now)
        if ended:
            return ended
    named = materials or next((entry.materials for entry in reversed(run) if entry.materials), ())
    return _climb(run, place_of(named, beside), now, hand, diameter_mm, about)


def _ended(run: Sequence[Tried]) -> Advice | None:
    """It moves, or it got worse: either way there is nothing more to try."""
    if run[-1].outcome == "moved":
        how = Reason(
            "Turn it back and forth with a drop of oil, a little further each time. Never force it in one go.",
            COMMON_PRACTICE,
        )
        return Advice(verdict="free", how=(how,), stop="Stop when it binds again, and go back a turn.")
    worse = next((entry for entry in run if entry.outcome == "worse"), None)
    if worse is None:
        return None
    said = Reason(f"It got worse at “{worse.rung}”: what gave way will give way further.", COMMON_PRACTICE)
    return Advice(verdict="stop", why=(said,), stop=f"No more force. {LAST_WORD}")


def _soaking(run: Sequence[Tried], now: datetime) -> Advice | None:
    """Keep a wait that somebody set."""
    waits = [(entry.wait_until, entry) for entry in run if entry.wait_until and entry.wait_until > now]
    if not waits:
        return None
    until, entry = max(waits, key=lambda wait: wait[0])
    return _waiting(until, Reason(f"Leave “{entry.rung}” to work until then.", COMMON_PRACTICE))


def _waiting(until: datetime, why: Reason) -> Advice:
    return Advice(verdict="wait", until=until, why=(why,), stop="Leave it alone until then.")


def _climb(
    run: Sequence[Tried],
    place: Place,
    now: datetime,
    hand: Hand | None,
    diameter_mm: float | None,
    about: Sequence[InUse],
) -> Advice:
    """The first rung with tries left that nothing speaks against."""
    left_out: list[LeftOut] = []
    if (
        run and run[-1].rung == "solvent and wait" and run[-1].wait_until
    ):  # it was put on; whether it helped is not known
        return _again(place, hand)
    for step in seized.ladder():
        n_done = sum(entry.rung == step.name for entry in run)
        against = place.against(step)
        if against:
            left_out.append(LeftOut(step.name, against))
            continue
        if n_done >= _n_tries(step, place):
            continue
        questions = _questions(step, place, hand)
        if questions:
            return Advice(
                verdict="ask",
                ask=questions,
                stop=f"Do not try “{step.name}” before you know that.",
                left_out=tuple(left_out),
            )
        apart = _apart(step, run, now) or _apart_on_the_job(step, about, now)
        return apart or _advice(step, place, n_done, hand, diameter_mm, tuple(left_out))
    return Advice(
        verdict="stop",
        why=(Reason("You have tried every rung that is safe here as often as makes sense.", COMMON_PRACTICE),),
        stop=LAST_WORD,
        left_out=tuple(left_out),
    )


def _again(place: Place, hand: Hand | None) -> Advice:
    """The driver, after a soak."""
    driver = next(step for step in seized.ladder() if step.name == "right driver")
    soaked = Reason("The solvent has soaked in: see whether it moves now.", COMMON_PRACTICE)
    advice = _advice(driver, place, 0, hand, None, ())
    return replace(advice, why=(soaked, *advice.why), n_try=1, n_tries=1)


def _n_tries(step: Step, place: Place) -> int:
    """How often a rung is tried: of liquids, once each."""
    return min(step.tries, len(place.liquids)) if step.name == "solvent and wait" else step.tries


def _questions(step: Step, place: Place, hand: Hand | None) -> tuple[str, ...]:
    """What has to be known before this rung."""
    asked = () if step.name in _HARMLESS else place.questions
    return (*asked, _WHICH_HAND) if step.force and hand is None else asked


_WHICH_HAND = (
    "Is the thread right-hand or left-hand? Wind shafts, counters and some pivots have left-hand threads. Look at a "
    "similar screw, at the end of the thread, and at the way in which it would work loose."
)


def _apart(step: Step, run: Sequence[Tried], now: datetime) -> Advice | None:
    """Flammable solvent and warmth are never together: one has gone before the other comes."""
    others = {"heat": "solvent and wait", "solvent and wait": "heat"}
    gone = timedelta(minutes=seized.heat().gone_minutes)
    ends = [max(entry.at, entry.wait_until or entry.at) for entry in run if entry.rung == others.get(step.name)]
    if not ends or max(ends) + gone <= now:
        return None
    text = (
        "Let the solvent go before you warm it: wipe it off, and let moving air take the rest."
        if step.name == "heat"
        else "Let it get cold before any solvent comes near it."
    )
    return _waiting(max(ends) + gone, Reason(text, COMMON_PRACTICE))


def _apart_on_the_job(step: Step, about: Sequence[InUse], now: datetime) -> Advice | None:
    """The same for the whole job: vapour creeps along the bench, whichever screw the solvent was for."""
    if step.name not in {"heat", "solvent and wait"}:
        return None
    others = [use for use in about if use.is_warmth != (step.name == "heat") and use.lasts(now)]
    if not others:
        return None
    last = max(others, key=lambda use: (use.until is None, use.until or now))
    text = f"{last.what[:1].upper()}{last.what[1:]} is about ({last.where}): keep flammable liquids and heat apart."
    return Advice(
        verdict="wait",
        until=last.until,
        why=(Reason(text, COMMON_PRACTICE),),
        cautions=(Reason(last.caution, COMMON_PRACTICE),) if last.caution else (),
        stop="Leave it alone until it has gone.",
    )


def _advice(
    step: Step, place: Place, n_done: int, hand: Hand | None, diameter_mm: float | None, left_out: tuple[LeftOut, ...]
) -> Advice:
    """One rung in full."""
    liquid = place.liquids[n_done] if step.name == "solvent and wait" else None
    warming = warming_of(place, diameter_mm) if step.name == "heat" else None
    ways = _ways(place) if step.name == "extract" else ()
    how = {
        "solvent and wait": lambda: _drops(liquid) if liquid else (),
        "heat": lambda: warming.how if warming else (),
        "extract": lambda: tuple(way.text for way in ways),
    }.get(step.name, tuple)()
    turning = () if step.name == "clean the slot" else tuple(_turning(hand))
    return Advice(
        verdict="try",
        rung=cast(Rung, step.name),
        why=(step.why,),
        how=(*how, *step.how, *turning),
        cautions=tuple(dict.fromkeys(_cautions(step, place, liquid, ways))),
        wait_minutes=liquid.soak_minutes if liquid else None,
        stop=step.stop,
        ask=(_WHICH_HAND,) if hand is None and step.name != "clean the slot" else (),
        n_try=n_done + 1,
        n_tries=_n_tries(step, place),
        left_out=left_out,
        warm_all=warming.both if warming else None,
        warm_seat=warming.seat_only if warming else None,
    )


def _ways(place: Place) -> tuple[Way, ...]:
    """The ways of taking it out in pieces that suit the place."""
    return tuple(way for way in seized.ways() if way.suits(place.screw, place.seat, place.beside))


def _cautions(step: Step, place: Place, liquid: Liquid | None, ways: Sequence[Way]) -> Iterator[Reason]:
    """Those of the rung, of the liquid, of the ways, and of what is about."""
    yield from step.cautions
    for way in ways:
        yield from way.cautions
    if liquid and liquid.process.solvent:
        yield from solvents.cautions(solvents.solvents()[liquid.process.solvent])
    if step.name not in _HARMLESS:
        for row in place.all:
            yield from row.cautions


def _turning(hand: Hand | None) -> Iterator[Reason]:
    """Which way undoes it."""
    if hand is None:
        yield Reason(
            "If it does not move with the usual force, stop: is the thread left-hand, or is it locked?", COMMON_PRACTICE
        )
    else:
        way = "anticlockwise" if hand == "right" else "clockwise"
        yield Reason(f"{hand.capitalize()}-hand thread: {way} undoes it.", COMMON_PRACTICE)


def _span(minutes: float) -> str:
    """Minutes, or hours where there are many."""
    return f"{minutes:g} minutes" if minutes < 120 else f"{minutes / 60:g} hours"


def _drops(liquid: Liquid) -> tuple[Reason, ...]:
    """How much of which liquid, and for how long."""
    times, each = ("", "") if liquid.drops == 1 else (f", {liquid.drops} times", " after each")
    text = (
        f"Put one drop of {liquid.process.chemistry} on the thread{times}. Wait {_span(liquid.minutes)}{each}, then "
        f"wipe it off. It loosens {liquid.loosens}."
    )
    return (Reason(text, liquid.source),)
