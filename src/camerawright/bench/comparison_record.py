"""Comparisons with a marked speed as JSON and in words; what every test that compares shows alike."""

import math
from collections.abc import Mapping
from typing import Final

from camerawright.bench.comparison import Comparison
from camerawright.bench.contract import Json
from camerawright.handbook.exposure import name_of
from camerawright.quantity import Quantity, Verdict, Word


def budget_as_json(quantity: Quantity) -> list[Json]:
    """Budget lines; infinite degrees of freedom are null."""
    return [
        {"name": line.name, "u": line.u, "dof": line.dof if math.isfinite(line.dof) else None, "kind": line.kind}
        for line in quantity.budget
    ]


def comparison_as_json(comparison: Comparison) -> Json:
    """The comparison with a marked speed."""
    return {
        "marked": comparison.speed.text,
        "target_s": comparison.speed.target_s,
        "series": comparison.speed.series,
        "profile": comparison.profile.name,
        "lower_ev": comparison.limits.lower_ev if comparison.limits else None,
        "upper_ev": comparison.limits.upper_ev if comparison.limits else None,
        "source": comparison.limits.source if comparison.limits else None,
        "firings": [
            {
                "stops": c.error_ev.value,
                "u_stops": c.error_ev.u,
                "U95_stops": c.error_ev.expanded_u,
                **_verdict(c.verdict),
            }
            for c in comparison.firings
        ],
        "mean_stops": comparison.mean_ev.value,
        "u_mean_stops": comparison.mean_ev.u,
        "U95_mean_stops": comparison.mean_ev.expanded_u,
        "dof": comparison.mean_ev.dof if math.isfinite(comparison.mean_ev.dof) else None,
        "mean_s": comparison.speed.target_s * 2.0**comparison.mean_ev.value,
        "repeatability_stops": comparison.repeatability_ev,
        **_verdict(comparison.verdict),
        "more_firings": comparison.more_firings,
        "budget_mean": budget_as_json(comparison.mean_ev),
    }


def summary(compared: Json) -> list[str]:
    """A set of firings against its marked speed, in lines for the terminal."""
    mean, target_s = compared["mean_stops"], compared["target_s"]
    side = "slow, over-exposes" if mean > 0 else "fast, under-exposes"
    if abs(mean) <= compared["U95_mean_stops"]:
        side = "zero is within"
    out = [
        f"Marked {compared['marked']} (target {name_of(target_s)}, {1e3 * target_s:.4g} ms): mean"
        f" {name_of(compared['mean_s'])},"
        f" {mean:+.2f} ± {never_less(compared['U95_mean_stops'])} stops ({side})",
        f"  {bar(mean, compared['U95_mean_stops'], compared)}",
    ]
    if compared["repeatability_stops"] is not None:
        out.append(f"Repeatability {compared['repeatability_stops']:.3f} stops (standard deviation of a firing)")
    if compared["verdict"] is None:
        out.append(f"Profile {compared['profile']} has no limits for this speed")
        return out
    out.append(
        f"{compared['verdict'].upper()} {compared['lower_ev']:+.2f} to {compared['upper_ev']:+.2f} stops"
        f" (profile {compared['profile']}, {compared['source']}); probability within"
        f" {compared['probability_within']:.3f}"
    )
    if compared["verdict"] == "undecided":
        more = compared["more_firings"]
        out.append(
            f"{more} more firing{'s' * (more != 1)} would decide"
            if more
            else "More firings alone would not decide: it lies too near a limit"
        )
    return out


SIGNS: Final[Mapping[Word, str]] = {"within": "✓", "outside": "✕", "undecided": "?"}
"""The sign of a verdict on pages, papers, in pictures and in the terminal: never told by colour alone."""

_HALF: Final = 24  # characters from as marked to the end of a bar


def bar(mean: float, expanded: float, judged: Json, verdict: Word | None = None) -> str:
    """An error in stops on a line: its 95 % interval, the tolerance in brackets, its sign by the verdict.

    Parameters
    ----------
    judged
        What holds the limits (`lower_ev`, `upper_ev`), and the verdict unless it is given.
    """
    limits: list[float] = [] if judged["lower_ev"] is None else [judged["lower_ev"], judged["upper_ev"]]
    scale: float = max(0.5, math.ceil(2 * max(abs(mean) + expanded, *(abs(limit) for limit in limits), 0.0)) / 2)

    def column(stops: float) -> int:
        return round(_HALF * (1 + max(-1.0, min(1.0, stops / scale))))

    drawn = ["."] * (2 * _HALF + 1)
    drawn[_HALF] = "|"
    first, last = column(mean - expanded), column(mean + expanded)
    drawn[first : last + 1] = "-" * (last + 1 - first)
    for limit, sign in zip(limits, "[]", strict=False):
        drawn[column(limit)] = sign
    word: Word | None = verdict or judged["verdict"]
    drawn[column(mean)] = SIGNS[word] if word else "o"
    return f"fast -{scale:g} {''.join(drawn)} +{scale:g} slow"


def never_less(expanded_stops: float) -> str:
    """An expanded uncertainty to a hundredth, never rounded below what it is (JCGM 100:2008, 7.2.6)."""
    return f"{math.ceil(round(expanded_stops * 100, 6)) / 100:.2f}"


def time_text(time_s: float, expanded_ms: float) -> str:
    """A time with its expanded uncertainty, to two digits of the latter, in milliseconds."""
    digits = max(0, min(3, 1 - math.floor(math.log10(max(expanded_ms, 1e-3)))))
    return f"{1e3 * time_s:.{digits}f} ± {expanded_ms:.{digits}f} ms"


def firing_time_text(firing: Json, name: str) -> str:
    """A time of a firing (``effective``, ``half_peak``, ``total``) with its 95 % interval, in milliseconds."""
    return time_text(firing[f"{name}_s"], 1e3 * coverage(firing, name) * firing[f"u_{name}_s"])


def coverage(firing: Json, name: str) -> float:
    """The coverage factor of a time of a firing; where its record has none, that of the effective time, whose budget
    has the same lines, and never less than 2."""
    own = firing.get(f"k95_{name}")
    return float(own or max(2.0, firing.get("k95_effective") or 0.0))


def _verdict(verdict: Verdict | None) -> Json:
    """The word and its probability; both null without limits."""
    return {
        "verdict": verdict.word if verdict else None,
        "probability_within": verdict.probability if verdict else None,
    }
