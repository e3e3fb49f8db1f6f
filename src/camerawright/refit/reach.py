"""What must come off to reach a part: the smallest set, its order, its hazards and marks, and how long it takes."""

import math
from collections import deque
from collections.abc import Mapping
from dataclasses import dataclass
from statistics import fmean

from camerawright.journal.entries import part_key
from camerawright.journal.order import Constraint
from camerawright.journal.state import State
from camerawright.refit.bonds import stable_order
from camerawright.refit.learning import Lore, PartLore, sequences_of, variance
from camerawright.refit.lesson import lesson


@dataclass(frozen=True, kw_only=True)
class ToComeOff:
    """One part in the way. `reason` is why; `certain` is false where only the order of earlier strip-downs says so."""

    part: PartLore
    reason: str
    certain: bool


@dataclass(frozen=True, kw_only=True)
class Reach:
    """The parts in the way, in the order in which they come off, the target last.

    `minutes` is the expected hands-on time of those with a recorded time, `u_minutes` its standard uncertainty; the
    parts of `untimed` are not in it. What is certain is the smallest set; with what is assumed it is the safe one.
    """

    target: str
    parts: tuple[ToComeOff, ...]
    minutes: float | None
    u_minutes: float | None
    untimed: tuple[str, ...]

    @property
    def certain(self) -> tuple[ToComeOff, ...]:
        """The smallest set that is known to be needed."""
        return tuple(item for item in self.parts if item.certain)

    @property
    def assumed(self) -> tuple[ToComeOff, ...]:
        """What was off each time, without a reason on record."""
        return tuple(item for item in self.parts if not item.certain)


def reach(target: str, lore: Lore, state: State) -> Reach | None:
    """Find what must come off before a part can; None if the part is not known.

    Parameters
    ----------
    target
        Name of the part.
    lore
        What is known of the variant.
    state
        The camera on the bench: what is off already is not in the way.

    Notes
    -----
    Certain: the closure of the certain constraints. Assumed: what was off whenever the target, or one of those, came
    off in any strip-down, and was not declared independent. Times add, and so do their variances
    (JCGM 100:2008, 5.1.2), each that of one more observation after n: s²(1 + 1/n). A part seen once takes the relative
    scatter of those seen more often.
    """
    key = part_key(target)
    known = {**_only_named(lore), **lore.parts}
    if key not in known:
        return None
    on = {k for k in known if k not in state.parts or state.parts[k].status == "on"}
    why = _nearest_reasons(key, lore.firsts)
    needed = {k: constraint for k, constraint in why.items() if k in on}
    here = sequences_of([lesson("", state)])
    assumed = lore.always_before([key, *needed], on - {key, *needed}, here)
    chosen = sorted({*needed, *assumed}, key=lambda k: lore.place.get(k, -1))  # what was never off yet stands outermost
    parts = [
        ToComeOff(
            part=known[k],
            reason=needed[k].reason if k in needed else _seen(known[assumed[k]]),
            certain=k in needed,
        )
        for k in _in_order(chosen, lore.firsts)
    ]
    parts.append(ToComeOff(part=known[key], reason="the part itself", certain=True))
    minutes, u_minutes, untimed = _expected_minutes([item.part for item in parts], lore.relative_variance)
    return Reach(
        target=known[key].name, parts=tuple(parts), minutes=minutes, u_minutes=u_minutes, untimed=tuple(untimed)
    )


def _seen(then: PartLore) -> str:
    """How often a part came off first, that was off each time another one came off."""
    return f"came off before {then.name} {'every time' if then.n_jobs > 1 else 'in the one job that shows it'}"


def _only_named(lore: Lore) -> dict[str, PartLore]:
    """Parts that a reason names and nobody has had off yet."""
    return {
        part_key(name): PartLore(key=part_key(name), name=name, n_jobs=0)
        for constraint in lore.constraints
        for name in (constraint.first, constraint.then)
        if part_key(name) not in lore.groups.assemblies or part_key(name) in lore.groups.parts
    }


def _nearest_reasons(key: str, firsts: Mapping[str, Mapping[str, Constraint]]) -> dict[str, Constraint]:
    """Everything that certainly comes off before a part, each with the reason nearest to it: breadth first."""
    why: dict[str, Constraint] = {}
    queue = deque([key])
    while queue:
        for first, constraint in firsts.get(queue.popleft(), {}).items():
            if first not in why and first != key:
                why[first] = constraint
                queue.append(first)
    return why


def _in_order(keys: list[str], firsts: Mapping[str, Mapping[str, Constraint]]) -> list[str]:
    """The usual order of removal, mended where a certain constraint says otherwise."""
    place = {key: i for i, key in enumerate(keys)}
    order = stable_order([[place[first] for first in firsts.get(key, ()) if first in place] for key in keys])
    # A contradiction is told where the constraints are; here the usual order still helps.
    return keys if order is None else [keys[i] for i in order]


def _expected_minutes(parts: list[PartLore], relative: float | None) -> tuple[float | None, float | None, list[str]]:
    """Sum of the mean times, its standard uncertainty, and the names of the parts without one."""
    timed = [p for p in parts if p.minutes]
    untimed = [p.name for p in parts if not p.minutes]
    if not timed:
        return None, None, untimed
    total = sum(fmean(p.minutes) for p in timed)
    variances = []
    for p in timed:
        if len(p.minutes) > 1:
            variances.append(variance(p.minutes) * (1 + 1 / len(p.minutes)))
        elif relative is not None:
            variances.append(2 * relative * p.minutes[0] ** 2)
        else:
            return total, None, untimed
    return total, math.sqrt(sum(variances)), untimed
