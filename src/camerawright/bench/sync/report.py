"""A sync result as JSON for scripts, storage and plots."""

import math

from camerawright.bench.contract import Json, refused_record
from camerawright.bench.sync.contact import Closure
from camerawright.bench.sync.judge import ClassVerdict, Judged
from camerawright.bench.sync.measure import METHOD
from camerawright.bench.sync.result import Firing, SyncResult
from camerawright.bench.sync.uses import Setup, resistance, resistance_class
from camerawright.handbook import sync
from camerawright.quantity import Quantity, Verdict, Word, coverage_factor, verdict
from camerawright.trouble import NotMeasurable

_USABLE: dict[Word, str] = {"within": "yes", "outside": "no", "undecided": "undecided"}


def as_json(result: SyncResult, judged: tuple[Judged, ...]) -> Json:
    """The whole result. `compared` stays null: a delay is no error in stops; the verdicts stand in `at_speeds`."""
    by_firing = {i: (one, n) for one in judged for n, i in enumerate(one.at.i_firings)}
    named = [
        f"{one.at.name}: {flag}" if len(judged) > 1 else flag
        for one in judged
        for flag in (*_class_flags(one), *one.flags)
    ]
    return {
        "test": "sync",
        "method": METHOD,
        "firings": [_firing(firing, *by_firing[i]) for i, firing in enumerate(result.firings)],
        "skipped": [skipped.as_json for skipped in result.skipped],
        "flags": [*result.flags, *_resistance_flags(result, judged[0].setup), *named],
        "refused": None,
        "input": {
            "rate_hz": result.rate_hz,
            "light_channel": result.i_light + 1,
            "corners_hz": list(result.light_corners_hz),
            "crosstalk_db": result.crosstalk_db,
            "is_bridged": result.is_bridged,
            "sensor": result.sensor.name,
        },
        "at_speeds": [_at_speed(one) for one in judged],
        "compared": None,
    }


def refused_as_json(why: NotMeasurable) -> Json:
    """The record of a refusal: same keys, no firings."""
    return refused_record("sync", METHOD, why, at_speeds=[])


def _firing(firing: Firing, judged: Judged, i: int) -> Json:
    """One firing; what needs a closed contact is null without."""
    closure = firing.closure
    ohm = resistance(firing, judged.setup) if closure else None
    rated = resistance_class(ohm)
    return {
        "at_s": firing.at_s,
        **_quantity("half_peak_s", firing.half_peak),
        "has_closed": closure is not None,
        "make_s": closure.make_s if closure else None,
        "break_s": closure.break_s if closure else None,
        "delays": [_delay(name, delay) for name, delay in firing.delays.items()],
        **_quantity("to_closing_s", firing.to_closing),
        **_quantity("open_for_s", firing.open_for),
        **_quantity("dwell_s", firing.dwell),
        "dwell_verdict": _word(firing.dwell, sync.LEAST_DWELL_S, math.inf),
        **_bounce(closure),
        "open_at_make": firing.open_at_make,
        **_quantity("resistance_ohm", ohm),
        "resistance_class": (rated.name if rated else "undecided") if ohm else None,
        "verdicts": {c.contact: _decided(c.singles[i], judged.setup) for c in judged.classes},
        "usable_for_flash": _USABLE[judged.uses[0].singles[i].word],
        "has_plateau": firing.has_plateau,
        "snr_db": firing.snr_db,
        "contact_snr_db": closure.snr_db if closure else None,
        "flags": [*firing.flags, *_contact_flags(firing)],
    }


def _quantity(name: str, quantity: Quantity | None) -> Json:
    """Value and u; null without."""
    return {name: quantity.value if quantity else None, f"u_{name}": quantity.u if quantity else None}


def _delay(name: str, delay: Quantity) -> Json:
    """One delay with its budget."""
    return {
        "from": name,
        "delay_s": delay.value,
        "u_delay_s": delay.u,
        "k95": coverage_factor(delay.dof),
        "budget": [
            {"name": line.name, "u": line.u, "dof": line.dof if math.isfinite(line.dof) else None, "kind": line.kind}
            for line in delay.budget
        ],
    }


def _bounce(closure: Closure | None) -> Json:
    """How it bounced."""
    if closure is None:
        return {"n_bounces": None, "longest_bounce_s": None, "u_longest_bounce_s": None, "bounce_verdict": None,
                "settling_s": None, "n_late": None}  # fmt: skip
    u_s = math.sqrt(2) * closure.u_edge_s
    longest = verdict(closure.longest_bounce_s, u_s, math.inf, -1.0, sync.MOST_BOUNCE_S).word
    return {
        "n_bounces": closure.n_bounces,
        "longest_bounce_s": closure.longest_bounce_s,
        "u_longest_bounce_s": u_s if closure.n_bounces else 0.0,
        "bounce_verdict": longest if closure.n_bounces else "within",
        "settling_s": closure.settled_s - closure.make_s,
        "n_late": closure.n_late,
    }


def _word(quantity: Quantity | None, lower: float, upper: float) -> str | None:
    """The verdict's word."""
    return verdict(quantity.value, quantity.u, quantity.dof, lower, upper).word if quantity else None


def _resistance_flags(result: SyncResult, setup: Setup) -> list[str]:
    """What a resistance that is not low means, once for each class that was found."""
    found = {resistance_class(resistance(firing, setup)) for firing in result.firings if firing.closure}
    return [
        f"The closed contact's resistance is {one.name}: it {one.says} ({one.source})."
        for one in sync.RESISTANCES[1:]
        if one in found
    ]


def _contact_flags(firing: Firing) -> list[str]:
    """What is wrong with how the contact closed."""
    closure = firing.closure
    flags: list[str] = []
    if closure is None or firing.dwell is None:
        return flags
    if _bounce(closure)["bounce_verdict"] == "outside":
        flags.append(
            f"The contact bounces: {closure.n_bounces} time(s), the longest {1e3 * closure.longest_bounce_s:.2f} ms"
            f" (common practice lets {1e3 * sync.MOST_BOUNCE_S:g} ms pass)."
        )
    if closure.n_late:
        flags.append(f"The contact closes again after it let go, {closure.n_late} time(s): a flash may fire twice.")
    if _word(firing.dwell, sync.LEAST_DWELL_S, math.inf) == "outside":
        flags.append(f"The contact is closed for {1e3 * firing.dwell.value:.2f} ms only: a flash may not fire.")
    return flags


def _at_speed(judged: Judged) -> Json:
    """The verdicts at one speed."""
    at, setup = judged.at, judged.setup
    return {
        "marked": at.mark.text if at.mark else None,
        "likely": at.likely.text if at.likely else None,
        "target_s": at.mark.target_s if at.mark else None,
        "open_s": at.usual_s,
        "i_firings": list(at.i_firings),
        "shutter": setup.shutter,
        "sensor_at": setup.sensor_at if setup.shutter == "focal-plane" else None,
        "contact": setup.contact,
        "classes": [_class(one, setup) for one in judged.classes],
        "lights": [
            {
                "light": use.light,
                "is_bulb": use.is_bulb,
                "usable": _USABLE[use.verdict.word],
                "verdict": use.verdict.word,
                "probability": use.verdict.probability,
                "says": use.says,
                "source": use.source,
            }
            for use in judged.uses
        ],
    }


def _decided(one: Verdict | None, setup: Setup) -> Word | None:
    """A class's verdict; undecided where nobody said which contact it is: some class fits almost any delay."""
    if one is None:
        return None
    return one.word if setup.contact else "undecided"


def _class_flags(judged: Judged) -> list[str]:
    """Where nobody said which contact it is: how to say it, and what the delay would mean for each class."""
    if judged.setup.contact:
        return []
    would = [f"as {one.contact} it would be {one.verdict.word}" for one in judged.classes if one.verdict]
    return [
        "Which contact this is was not told, so its class is undecided: by this delay "
        f"{', '.join(would)}. Tell it with the set-up: contact X, M, F or FP."
    ]


def _class(one: ClassVerdict, setup: Setup) -> Json:
    """One class; `probability_within` says what the delay would mean for it, whether or not it is the contact's."""
    mean = one.mean
    return {
        "contact": one.contact,
        "verdict": _decided(one.verdict, setup),
        "probability_within": one.verdict.probability if one.verdict else None,
        "from": one.instant,
        "lower_s": one.lower_s,
        "upper_s": one.upper_s,
        "mean_delay_s": mean.value if mean else None,
        "u_mean_delay_s": mean.u if mean else None,
        "U95_mean_delay_s": mean.expanded_u if mean else None,
        "repeatability_s": one.repeatability_s,
        "source": one.source,
        "says": one.says,
    }
