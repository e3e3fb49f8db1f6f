"""A sync record in words: lines for the terminal, and what a certificate is told."""

from camerawright.bench.comparison_record import never_less
from camerawright.bench.contract import Json, Told
from camerawright.bench.plot_words import signed
from camerawright.bench.sync.uses import decided
from camerawright.handbook.exposure import name_of
from camerawright.quantity import Word

_USABLE = {"yes": "usable", "no": "not usable", "undecided": "undecided"}
_NOT_NAMED = "a contact that was not named"


def lines(record: Json) -> list[str]:
    """The summary for the terminal, from the record."""
    if record["refused"]:
        return [f"Not measurable: {record['refused']['reason']}.", f"{record['refused']['advice']}."]
    n = len(record["firings"])
    out = [
        f"{n} firing{'s' * (n != 1)}; light on channel {record['input']['light_channel']}; a delay is from the"
        " instant to the make, − where the contact makes first; ± is the 95 % interval",
    ]
    for at in record["at_speeds"]:
        out.extend(["", *_speed_lines(record, at)])
    out.extend(f"      - at {s['at_s']:.2f} s: not measured, {s['reason']}" for s in record["skipped"])
    if len(record["at_speeds"]) > 1:
        out.extend(["", *_lights_by_speed(record["at_speeds"])])
    out.extend(f"! {flag}" for flag in record["flags"])
    return out


def _speed_lines(record: Json, at: Json) -> list[str]:
    """The firings of one speed, its classes and its lights."""
    head = f"Marked {at['marked']}" if at["marked"] else f"Open for {name_of(at['open_s'])}"
    if at["likely"]:
        head += f"; the nearest mark is {at['likely']}"
    out = [
        head,
        f"{'':>3} {'at':>8} {'open':>7} {'from half light':>18} {'from full open':>18} {'closed for':>18}"
        f" {'bounces':>9}  flash",
    ]
    for i in at["i_firings"]:
        out.append(_row(i + 1, record["firings"][i]))
        out.extend(f"      ! {flag}" for flag in record["firings"][i]["flags"])
    if at["contact"]:
        out.extend(_class_line(one) for one in at["classes"] if one["contact"] == at["contact"])
    else:
        out.append("Class of the contact: UNDECIDED, as nobody said which contact it is")
        out.extend(f"  {_would_line(one)}" for one in at["classes"])
    out.extend(
        f"Usable for {one['light']}: {one['usable'].upper()} ({one['says']}; probability {one['probability']:.3f})"
        for one in at["lights"]
    )
    return out


def _lights_by_speed(speeds: list[Json]) -> list[str]:
    """A table: speeds down, lights across."""
    lights = [one["light"] for one in speeds[0]["lights"]]
    out = [f"{'Usable':<10} " + "  ".join(lights)]
    for at in speeds:
        cells = (f"{one['usable'].upper():<{len(one['light'])}}" for one in at["lights"])
        out.append(f"{_name(at):<10} " + "  ".join(cells).rstrip())
    return out


def _name(at: Json) -> str:
    """A speed by its mark, or by its time."""
    return str(at["marked"] or name_of(at["open_s"]))


def _row(i: int, firing: Json) -> str:
    """One firing."""
    start = f"{i:>3} {firing['at_s']:>6.2f} s {name_of(firing['half_peak_s']):>7}"
    if not firing["has_closed"]:
        return f"{start} {'did not close':>18}{'':>48}  {firing['usable_for_flash']}"
    delays = {delay["from"]: delay for delay in firing["delays"]}
    bounces = f"{firing['n_bounces']}, {1e3 * firing['longest_bounce_s']:.2f} ms" if firing["n_bounces"] else "none"
    return (
        f"{start} {_ms(delays['half light']):>18} {_ms(delays['full open']):>18} {_dwell(firing):>18}"
        f" {bounces:>9}  {firing['usable_for_flash']}"
    )


def _dwell(firing: Json) -> str:
    """How long the contact is closed."""
    return f"{1e3 * firing['dwell_s']:.3f} ± {2e3 * firing['u_dwell_s']:.3f} ms"


def _ms(delay: Json) -> str:
    """A delay in ms with its interval."""
    return f"{1e3 * delay['delay_s']:+.3f} ± {1e3 * delay['k95'] * delay['u_delay_s']:.3f} ms".replace("-", "−")


def tells(record: Json) -> tuple[Told, ...]:
    """For the certificate, at each speed: the class under test (undecided where nobody said which), and the lights
    that may be used by that contact: a shutter may have two, and what one fires the other may not."""
    return tuple(told for at in record.get("at_speeds") or [] for told in _told_at(at))


def _told_at(at: Json) -> list[Told]:
    """What one speed tells."""
    n, contact, marked = len(at["i_firings"]), at["contact"], _name(at)
    by = f"the {contact} contact" if contact else _NOT_NAMED
    judged = [one for one in at["classes"] if one["contact"] == (contact or "X") and one["verdict"]]
    return [
        *(_told(one, n, marked, is_named=contact is not None) for one in judged),
        *(Told(f"{one['light']} by {by}", _USABLE[one["usable"]], n, marked=marked) for one in at["lights"]),
    ]


def _told(one: Json, n: int, marked: str, *, is_named: bool) -> Told:
    """The class under test; where nobody said which that is, the delay that X is judged by, of no class."""
    what = f"class {one['contact']} contact" if is_named else _NOT_NAMED
    verdict: Word = one["verdict"] if is_named else "undecided"
    return Told(f"{what}, from {one['from']} to the make", _mean_delay(one), n, verdict, marked)


def _mean_delay(one: Json) -> str:
    """Mean and interval, negative where the contact makes first."""
    if one["mean_delay_s"] is None:
        return "does not close"
    return f"{signed(1e3 * one['mean_delay_s'])} ± {never_less(1e3 * one['U95_mean_delay_s'])} ms"


def _class_line(one: Json) -> str:
    """The class under test in a line."""
    if one["verdict"] is None:
        return f"Class {one['contact']}: not judged: {one['says']}"
    return f"Class {one['contact']}: {one['verdict'].upper()} ({_against(one)})"


def _would_line(one: Json) -> str:
    """What the delay would mean for a class."""
    if one["probability_within"] is None:
        return f"for class {one['contact']} not judged: {one['says']}"
    word = decided(one["probability_within"]).word
    return f"for class {one['contact']} it would be {word} ({_against(one)})"


def _against(one: Json) -> str:
    """What a class asks for, and the mean delay."""
    delay = one["mean_delay_s"]
    mean = (
        ""
        if delay is None
        else f"; mean {signed(1e3 * delay)} ± {never_less(1e3 * one['U95_mean_delay_s'])} ms from {one['from']}"
    )
    return f"{one['says']}{mean}; {one['source'].split(':')[0]}"
