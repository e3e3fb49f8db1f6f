"""What an adjuster's turn does, from readings before and after it, and how far to turn it next.

Errors are in stops, positive slow; turns are positive in the sense in which the adjuster's turns are entered.
"""

import math
from collections.abc import Sequence, Set
from dataclasses import dataclass, replace

from camerawright.bench.contract import NotMeasurable
from camerawright.quantity import BudgetLine, Quantity

U_TURNS = 1 / 48  # a turn read to a twelfth, as on a clock's face: half of that, taken as 95 %. Common practice


@dataclass(frozen=True)
class Suggestion:
    """How far to turn [turn], and where the error would then lie [stop], each with its uncertainty."""

    turns: Quantity
    lands: Quantity


def sensitivity(
    before: Quantity, after: Quantity, turns: float, *, shared: Set[str] = frozenset(), u_turns: float = U_TURNS
) -> Quantity:
    """Stops of exposure for one turn of an adjuster.

    Parameters
    ----------
    before, after
        Mean errors before and after the turn. [stop]
    turns
        How far it was turned.
    shared
        Names of the budget lines that are the same error in both readings, so that they cancel in the difference.
    u_turns
        Of reading the turn.

    Raises
    ------
    NotMeasurable
        The turn did nothing that stands out of the readings.

    References
    ----------
    [jcgm-100] 5.1.2, and 5.2 for what both readings share.
    """
    if turns == 0:
        raise NotMeasurable("the adjuster was not turned", "Enter how far it was turned, and in which sense")
    change = after.value - before.value
    budget = (
        *_part("before", before, shared, 1 / turns),
        *_part("after", after, shared, 1 / turns),
        BudgetLine("turn", u_turns * abs(change) / turns**2),
    )
    found = Quantity(change / turns, "stop/turn", budget)
    if abs(found.value) < found.expanded_u:
        raise NotMeasurable(
            f"the turn changed the exposure by {change:+.2f} stop, no more than the readings scatter",
            "Take more firings before and after, or turn further",
        )
    return found


def pooled(sensitivities: Sequence[Quantity]) -> Quantity:
    """One sensitivity from several of the same adjuster: weighted mean, its u no less than their spread tells.

    References
    ----------
    Weighted mean with the larger of internal and external consistency, common practice.
    """
    if len(sensitivities) == 1:
        return sensitivities[0]
    weights = [one.u**-2 for one in sensitivities]
    mean = sum(w * one.value for w, one in zip(weights, sensitivities, strict=True)) / sum(weights)
    away = sum(w * (one.value - mean) ** 2 for w, one in zip(weights, sensitivities, strict=True))
    dof = len(sensitivities) - 1
    u = math.sqrt(max(1.0, away / dof) / sum(weights))
    return Quantity(mean, "stop/turn", (BudgetLine("earlier turns", u, dof if away > dof else math.inf, "A"),))


def suggestion(
    now: Quantity, per_turn: Quantity, *, target: float = 0.0, u_turns: float = U_TURNS, is_from_now: bool = False
) -> Suggestion:
    """How far to turn an adjuster so that the error becomes `target`.

    Parameters
    ----------
    now
        Mean error as it is. [stop]
    per_turn
        The adjuster's sensitivity. [stop/turn]
    target
        Error aimed at. [stop]
    u_turns
        Of making the turn.
    is_from_now
        Whether `now` is also the reading after the only turn that `per_turn` is from: its error then counts in both.

    Raises
    ------
    NotMeasurable
        The sensitivity is not known well enough to divide by.

    References
    ----------
    [jcgm-100] 5.1.2; 5.2.2 for `is_from_now`.
    """
    if abs(per_turn.value) < per_turn.expanded_u:
        raise NotMeasurable(
            "what a turn does is not known well enough", "Turn it by a known amount and take six firings more"
        )
    turns = (target - now.value) / per_turn.value
    ratio = -turns / per_turn.value  # d(turns) / d(per_turn)
    # the reading is in the sensitivity too: its part of `per_turn` moves with it, in the worst sense where that is open
    both = [line for line in per_turn.budget if is_from_now and line.name.startswith("after: ")]
    only = [line for line in per_turn.budget if line not in both]
    lines = [replace(line, name=f"per turn, {line.name}", u=abs(ratio) * line.u) for line in only]
    share = abs(ratio) * math.hypot(*(line.u for line in both)) if both else 0.0
    now_u = now.u / abs(per_turn.value)
    lines.append(BudgetLine("reading", now_u + share if both else now_u, now.dof))
    turned = Quantity(turns, "turn", tuple(lines))
    moved = abs(per_turn.value)
    lands = (*(replace(line, u=line.u * moved) for line in lines), BudgetLine("turn", u_turns * moved))
    return Suggestion(turned, Quantity(target, "stop", lands))


def _part(name: str, reading: Quantity, shared: Set[str], factor: float) -> list[BudgetLine]:
    """The lines of a reading that its fellow does not share."""
    return [
        replace(line, name=f"{name}: {line.name}", u=line.u * abs(factor))
        for line in reading.budget
        if line.name not in shared
    ]
