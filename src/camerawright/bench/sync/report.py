"""A sync result as JSON for scripts, storage and plots, and as lines for the terminal."""

import math
from typing import Any

from camerawright.bench.contract import Json, NotMeasurable, Told, refused_record
from camerawright.bench.sync.contact import Closure
from camerawright.bench.sync.judge import ClassVerdict, Judged
from camerawright.bench.sync.measure import METHOD
from camerawright.bench.sync.result import Firing, SyncResult
from camerawright.handbook import sync
from camerawright.handbook.exposure import name_of
from camerawright.quantity import Quantity, Word, coverage_factor, verdict

_USABLE: dict[Word, str] = {"within": "yes", "outside": "no", "undecided": "undecided"}


def as_json(result: SyncResult, judged: Judged) -> Json:
    """The whole result. `compared` stays null: a delay is no error in stops; the verdicts stand in `judged`."""
    return {
        "test": "sync",
        "method": METHOD,
        "firings": [_firing(firing, judged, i) for i, firing in enumerate(result.firings)],
        "skipped": [{"at_s": s.at_s, "reason": s.reason, "advice": s.advice} for s in result.skipped],
        "flags": [*result.flags, *judged.flags],
        "refused": None,
        "input": {
            "rate_hz": result.rate_hz,
            "light_channel": result.i_light + 1,
            "corners_hz": list(result.light_corners_hz),
            "crosstalk_db": result.crosstalk_db,
            "is_bridged": result.is_bridged,
            "sensor": result.sensor.name,
        },
        "judged": _judged(judged),
        "compared": None,
    }


def refused_as_json(why: NotMeasurable) -> Json:
    """The record of a refusal: same keys, no firings."""
    return refused_record("sync", METHOD, why, judged=None)


def _firing(firing: Firing, judged: Judged, i: int) -> Json:
    """One firing; what needs a closed contact is null without."""
    closure = firing.closure
    return {
        "at_s": firing.at_s,
        "half_peak_s": firing.half_peak_s,
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
        **_quantity("resistance_ohm", firing.resistance_ohm),
        "resistance_class": _resistance_class(firing.resistance_ohm),
        "verdicts": {c.contact: v.word if (v := c.singles[i]) else None for c in judged.classes},
        "usable_for_flash": _USABLE[judged.flash[i].word],
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


def _resistance_class(ohm: Quantity | None) -> str | None:
    """Low, raised, high, or undecided between them."""
    if ohm is None:
        return None
    classes = {
        "low": (-math.inf, sync.MOST_OHM),
        "raised": (sync.MOST_OHM, sync.HIGH_OHM),
        "high": (sync.HIGH_OHM, math.inf),
    }
    sure = [name for name, (low, top) in classes.items() if _word(ohm, low, top) == "within"]
    return sure[0] if sure else "undecided"


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
    if _word(firing.resistance_ohm, -math.inf, sync.MOST_OHM) == "outside":
        flags.append("The closed contact has more than 1 ohm: dirty, burnt, or a bad joint on the way.")
    return flags


def _judged(judged: Judged) -> Json:
    """Verdicts."""
    flash = judged.flash_verdict
    return {
        "marked": judged.speed.text if judged.speed else None,
        "target_s": judged.speed.target_s if judged.speed else None,
        "shutter": judged.setup.shutter,
        "sensor_at": judged.setup.sensor_at if judged.setup.shutter == "focal-plane" else None,
        "contact": judged.setup.contact,
        "classes": [_class(one) for one in judged.classes],
        "flash": {
            "usable": _USABLE[flash.word],
            "probability": flash.probability,
            "flash_s": judged.setup.flash_s,
            "says": judged.flash_says,
            "source": "flash-duration",
        },
    }


def _class(one: ClassVerdict) -> Json:
    """One class."""
    mean = one.mean
    return {
        "contact": one.contact,
        "verdict": one.verdict.word if one.verdict else None,
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


def lines(record: Json) -> list[str]:
    """The summary for the terminal, from the record."""
    if record["refused"]:
        return [f"Not measurable: {record['refused']['reason']}.", f"{record['refused']['advice']}."]
    judged = record["judged"]
    n = len(record["firings"])
    out = [
        f"{n} firing{'s' * (n != 1)}; light on channel {record['input']['light_channel']}; a delay is from the"
        f" instant to the"
        " make, − where the contact makes first; ± is the 95 % interval",
        "",
        f"{'':>3} {'at':>8} {'open':>7} {'from half light':>18} {'from full open':>18} {'closed for':>10}"
        f" {'bounces':>9}  flash",
    ]  # fmt: skip
    for i, firing in enumerate(record["firings"], start=1):
        out.append(_row(i, firing))
        out.extend(f"      ! {flag}" for flag in firing["flags"])
    out.extend(f"      - at {s['at_s']:.2f} s: not measured, {s['reason']}" for s in record["skipped"])
    out.append("")
    out.extend(_class_line(one) for one in judged["classes"] if judged["contact"] in (None, one["contact"]))
    flash = judged["flash"]
    out.append(
        f"Usable for electronic flash: {flash['usable'].upper()} ({flash['says']}; probability"
        f" {flash['probability']:.3f})"
    )
    out.extend(f"! {flag}" for flag in record["flags"])
    return out


def _row(i: int, firing: Json) -> str:
    """One firing."""
    start = f"{i:>3} {firing['at_s']:>6.2f} s {name_of(firing['half_peak_s']):>7}"
    if not firing["has_closed"]:
        return f"{start} {'did not close':>18}{'':>40}  {firing['usable_for_flash']}"
    delays = {delay["from"]: delay for delay in firing["delays"]}
    bounces = f"{firing['n_bounces']}, {1e3 * firing['longest_bounce_s']:.2f} ms" if firing["n_bounces"] else "none"
    return (
        f"{start} {_ms(delays['half light']):>18} {_ms(delays['full open']):>18} {1e3 * firing['dwell_s']:>7.2f} ms"
        f" {bounces:>9}  {firing['usable_for_flash']}"
    )


def _ms(delay: Json) -> str:
    """A delay in ms with its interval."""
    return f"{1e3 * delay['delay_s']:+.3f} ± {1e3 * delay['k95'] * delay['u_delay_s']:.3f} ms".replace("-", "−")


def tells(record: Json) -> tuple[Told, ...]:
    """For the certificate: the class under test (else those that fit), and whether an electronic flash may be used."""
    judged = record["judged"]
    if judged is None:
        return ()
    n = len(record["firings"])
    wanted = judged["contact"]
    classes = [c for c in judged["classes"] if c["contact"] == wanted or (wanted is None and c["verdict"] == "within")]
    out = [_told(one, n) for one in classes if one["verdict"] is not None]
    flash = judged["flash"]
    word = next(word for word, usable in _USABLE.items() if usable == flash["usable"])
    return (*out, Told(f"electronic flash of {1e3 * flash['flash_s']:g} ms", flash["usable"], n, word))


def _told(one: Json, n: int) -> Told:
    """One class: its mean delay, negative where the contact makes first."""
    what = f"class {one['contact']} contact, from {one['from']} to the make"
    if one["mean_delay_s"] is None:
        return Told(what, "does not close", n, one["verdict"])
    half_ms = math.ceil(round(1e5 * one["U95_mean_delay_s"], 6)) / 100  # never less than it is
    read = f"{1e3 * one['mean_delay_s']:+.2f} ± {half_ms:.2f} ms".replace("-", "−")
    return Told(what, read, n, one["verdict"])


def _class_line(one: Json) -> str:
    """One class in a line."""
    if one["verdict"] is None:
        return f"Class {one['contact']}: not judged: {one['says']}"
    delay: Any = one["mean_delay_s"]
    mean = (
        ""
        if delay is None
        else f"; mean {1e3 * delay:+.2f} ± {1e3 * one['U95_mean_delay_s']:.2f} ms from {one['from']}"
    )
    text = f"Class {one['contact']}: {one['verdict'].upper()} ({one['says']}{mean}; {one['source'].split(':')[0]})"
    return text.replace("-0.", "−0.")
