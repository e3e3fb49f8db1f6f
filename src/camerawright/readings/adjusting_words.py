"""The adjustment log in words and as JSON."""

import math
from dataclasses import asdict
from typing import Any

from camerawright.bench.codec import lines_written
from camerawright.readings.adjusting import Adjusting, Sensitivity, Suggestion, Turn
from camerawright.wording import numbers


def turns_words(turns: float) -> str:
    """An amount and its direction: "0.24 turn anticlockwise"."""
    return f"{numbers.fixed(abs(turns), 2)} turn {'clockwise' if turns >= 0 else 'anticlockwise'}"


def sensitivity_words(one: Sensitivity) -> str:
    """What a turn does."""
    per_turn = one.per_turn
    jobs = ", ".join(dict.fromkeys(turn.job for turn in one.turns))
    n = len(one.turns)
    told = "" if one.is_told_from_zero else "; not told from zero"
    return (
        f"{numbers.stops(per_turn.value, per_turn.expanded_u)} stops a turn clockwise"
        f" ({numbers.signed(one.ms_per_turn)} ms a turn at the mark), from {numbers.counted(n, 'turn')} of {jobs}{told}"
    )


def turn_words(turn: Turn) -> str:
    """What a turn did."""
    before, after = numbers.signed(turn.before_stops), numbers.signed(turn.after_stops)
    return f"{turns_words(turn.turns)}: {before} → {after} stops ({turn.job})"


def suggestion_words(suggestion: Suggestion) -> str:
    """What to do next."""
    if not suggestion.turns or suggestion.low is None or suggestion.high is None:
        return suggestion.says
    far = f"{turns_words(suggestion.turns)}"
    if suggestion.is_capped:
        far += f"; zero would take {_from_to(suggestion)}"
    else:
        far += f" ({_from_to(suggestion)})"
    expected, u = suggestion.expected_stops or 0.0, suggestion.expected_u_stops or 0.0
    return f"{far}; expected then {numbers.stops(expected, 2 * u)} stops. {suggestion.says.capitalize()}."


def _from_to(suggestion: Suggestion) -> str:
    """The interval of the turn that is needed."""
    ends = sorted((suggestion.low or 0.0, suggestion.high or 0.0), key=abs)
    return (
        f"{numbers.fixed(abs(ends[0]), 2)} to {turns_words(ends[1])}"
        if ends[0] * ends[1] > 0
        else " to ".join(map(turns_words, ends))
    )


def adjusting_json(known: Adjusting) -> dict[str, Any]:
    """The same for scripts."""
    return {
        "sensitivities": [
            {
                "adjuster": one.adjuster,
                "test": one.test,
                "marked": one.marked,
                "stops_per_turn": one.per_turn.value,
                "u_stops_per_turn": one.per_turn.u,
                "U95_stops_per_turn": one.per_turn.expanded_u,
                "dof": one.per_turn.dof if math.isfinite(one.per_turn.dof) else None,
                "budget": lines_written(one.per_turn.budget),
                "ms_per_turn": one.ms_per_turn,
                "is_told_from_zero": one.is_told_from_zero,
                "turns": [{**asdict(turn), "at": turn.at.isoformat()} for turn in one.turns],
                "suggestion": asdict(one.suggestion),
                "flags": list(one.flags),
            }
            for one in known.sensitivities
        ],
        "useless": list(known.useless),
    }
