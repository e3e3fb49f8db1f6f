"""A flash contact's record in words: lines for the terminal, the table of its firings, what the picture shows."""

from collections.abc import Sequence

from camerawright.bench import contract
from camerawright.bench.contract import Fired, Table, refused_lines
from camerawright.bench.sync.record import ClassVerdict, Firing, Speed, SyncRecord
from camerawright.bench.sync.uses import decided
from camerawright.handbook.exposure import name_of
from camerawright.quantity import Quantity
from camerawright.wording import numbers

_HEAD = (
    f"{'':>3} {'at':>8} {'open':>7} {'from half light':>18} {'from full open':>18} {'closed for':>18} {'bounces':>9}"
    "  flash"
)


def lines(record: SyncRecord) -> list[str]:
    """The summary for the terminal."""
    if record.refused or record.input is None:
        return refused_lines(record)
    out = [
        f"{numbers.counted(len(record.firings), 'firing')}; light on channel {record.input.light_channel}; a delay is"
        " from the instant to the make, − where the contact makes first; ± is the 95 % interval",
    ]
    for speed in record.at_speeds:
        out.extend(["", *_speed_lines(record, speed)])
    out.extend(f"      - at {numbers.fixed(s.at_s, 2)} s: not measured, {s.reason}" for s in record.skipped)
    if len(record.at_speeds) > 1:
        out.extend(["", *_lights_by_speed(record.at_speeds)])
    out.extend(f"! {flag}" for flag in record.flags)
    return out


def table(record: SyncRecord) -> Table:
    """Every firing in a row."""
    return Table(
        heads=(
            "at [s]", "half-peak [ms]", "make from full open [ms]", "closed for [ms]", "bounces",
            "for electronic flash", "signal to noise [dB]",
        ),
        rows=tuple(_cells(firing) for firing in record.firings),
        flags=tuple(firing.flags for firing in record.firings),
        notes=tuple(f"at {numbers.fixed(one.at_s, 2)} s: {one.reason}" for one in record.skipped),
    )  # fmt: skip


def _cells(firing: Firing) -> tuple[str, ...]:
    """One firing in the table."""
    return (
        numbers.fixed(firing.at_s, 2),
        _cell(firing.half_peak),
        _cell(firing.delay("full open"), has_sign=True) if firing.has_closed else "does not close",
        _cell(firing.dwell) if firing.dwell else "",
        "" if firing.n_bounces is None else f"{firing.n_bounces}",
        firing.usable_for_flash,
        numbers.fixed(firing.snr_db, 0),
    )


def _cell(time: Quantity, *, has_sign: bool = False) -> str:
    """A time with its 95 % interval, in milliseconds."""
    return numbers.with_interval(1e3 * time.value, 1e3 * time.expanded_u, has_sign=has_sign)


def dial(record: SyncRecord) -> tuple[contract.Speed, ...]:
    """The settings of the dial, slowest first."""
    return tuple(
        contract.Speed(marked=one.marked or "", likely=one.likely or "", i_firings=one.i_firings)
        for one in record.at_speeds
    )


def fired(record: SyncRecord) -> tuple[Fired, ...]:
    """Its firings, as they are told while they are recorded."""
    return tuple(Fired(at_s=one.at_s, stop_s=one.stop_s, time=None, flags=one.flags) for one in record.firings)


def words(record: SyncRecord) -> dict[str, str]:
    """What the picture shows, by its name."""
    if not record.firings:
        return {}
    firing = record.firings[0]
    text = f"Firing 1 at {numbers.fixed(firing.at_s, 2)} s: half light for {_ms(firing.half_peak)} ms"
    if firing.dwell is None:
        return {"contact": f"{text}; the contact does not close."}
    delays = ", ".join(f"{_delay(one.delay, 2)} from {one.instant}" for one in firing.delays)
    bounces = f"bounces {numbers.counted(firing.n_bounces, 'time')}" if firing.n_bounces else "does not bounce"
    return {
        "contact": f"{text}, fully open for {_ms(firing.open_for)} ms; the contact makes {delays}, stays closed for"
        f" {_ms(firing.dwell)} ms and {bounces}."
    }


def _ms(time: Quantity) -> str:
    """A time in milliseconds to three digits."""
    return numbers.significant(1e3 * time.value)


def _speed_lines(record: SyncRecord, speed: Speed) -> list[str]:
    """The firings of one speed, its classes and its lights."""
    head = f"Marked {speed.marked}" if speed.marked else f"Open for {name_of(speed.open_s)}"
    out = [f"{head}; the nearest mark is {speed.likely}" if speed.likely else head, _HEAD]
    for i in speed.i_firings:
        out.append(_row(i + 1, record.firings[i]))
        out.extend(f"      ! {flag}" for flag in record.firings[i].flags)
    if speed.contact:
        out.extend(_class_line(one) for one in speed.classes if one.contact == speed.contact)
    else:
        out.append("Class of the contact: UNDECIDED, because nobody said which contact it is")
        out.extend(f"  {_would_line(one)}" for one in speed.classes)
    out.extend(
        f"Usable for {one.light}: {one.usable.upper()} ({one.says}; probability {numbers.fixed(one.probability, 3)})"
        for one in speed.lights
    )
    return out


def _lights_by_speed(speeds: Sequence[Speed]) -> list[str]:
    """A table: speeds down, lights across."""
    out = [f"{'Usable':<10} " + "  ".join(one.light for one in speeds[0].lights)]
    for speed in speeds:
        cells = (f"{one.usable.upper():<{len(one.light)}}" for one in speed.lights)
        out.append(f"{speed.name:<10} " + "  ".join(cells).rstrip())
    return out


def _row(n: int, firing: Firing) -> str:
    """One firing."""
    start = f"{n:>3} {numbers.fixed(firing.at_s, 2):>6} s {name_of(firing.half_peak.value):>7}"
    if firing.dwell is None:
        return f"{start} {'did not close':>18}{'':>48}  {firing.usable_for_flash}"
    dwell = f"{numbers.fixed(1e3 * firing.dwell.value, 3)} ± {numbers.fixed(2e3 * firing.dwell.u, 3)} ms"
    half, full = (f"{_delay(firing.delay(instant)):>18}" for instant in ("half light", "full open"))
    return f"{start} {half} {full} {dwell:>18} {_bounces(firing):>9}  {firing.usable_for_flash}"


def _bounces(firing: Firing) -> str:
    """How often it bounces, and the longest."""
    if not firing.n_bounces or firing.longest_bounce is None:
        return "none"
    return f"{firing.n_bounces}, {numbers.fixed(1e3 * firing.longest_bounce.value, 2)} ms"


def _delay(delay: Quantity, digits: int = 3) -> str:
    """A delay in milliseconds with its sign and its 95 % interval."""
    return f"{numbers.signed(1e3 * delay.value, digits)} ± {numbers.fixed(1e3 * delay.expanded_u, digits)} ms"


def _class_line(one: ClassVerdict) -> str:
    """The class under test in a line."""
    if one.verdict is None:
        return f"Class {one.contact}: not judged: {one.says}"
    return f"Class {one.contact}: {one.verdict.upper()} ({_against(one)})"


def _would_line(one: ClassVerdict) -> str:
    """What the delay would mean for a class."""
    if one.probability_within is None:
        return f"for class {one.contact} not judged: {one.says}"
    return f"for class {one.contact} it would be {decided(one.probability_within).word} ({_against(one)})"


def _against(one: ClassVerdict) -> str:
    """What a class asks for, and the mean delay."""
    mean, source = one.mean_delay, one.source.split(":")[0]
    if mean is None:
        return f"{one.says}; {source}"
    text = f"{numbers.signed(1e3 * mean.value)} ± {numbers.never_less(1e3 * mean.expanded_u)} ms"
    return f"{one.says}; mean {text} from {one.instant}; {source}"
