"""A leaf shutter's record in words: lines for the terminal, the table of its firings, what each picture shows."""

import math
from collections.abc import Iterator, Sequence

from camerawright.bench import contract
from camerawright.bench.comparison import Comparison
from camerawright.bench.comparison_words import (
    comparison_lines,
    comparison_table,
    off_the_mark,
    repeatability_line,
    repeatability_remark,
)
from camerawright.bench.contract import Fired, Table, input_words, refused_lines, verdict_cells
from camerawright.bench.shutter.record import Chain, Firing, Input, ShutterRecord, Speed
from camerawright.handbook.exposure import name_of
from camerawright.quantity import Quantity
from camerawright.wording import numbers
from camerawright.wording.verdicts import word

_HEAD = f"{'':>3} {'at':>8} {'effective [ms]':>17} {'':>7} {'half-peak [ms]':>17} {'10 % to 10 % [ms]':>17} {'eff.':>5}"


def lines(record: ShutterRecord) -> list[str]:
    """The summary for the terminal."""
    if record.refused or record.input is None or record.chain is None:
        return refused_lines(record)
    out = [_header(record, record.input), *filter(None, [input_words(record.input.remembered)]), ""]
    for speed in record.speeds:
        compared = speed.compared
        out.append(_HEAD + (f" {'stops from ' + compared.marked:>22}  verdict" if compared else ""))
        for n, i in enumerate(speed.i_firings):
            out.append(_row(i + 1, record.firings[i], compared, n))
            out.extend(f"      ! {flag}" for flag in record.firings[i].flags)
        out.extend(["", *(comparison_lines(compared) if compared else _uncompared(speed))])
        own = [record.firings[i] for i in speed.i_firings]
        out.extend([*_opening_lines(own), *_stopped_lines(speed), *_bounce_lines(own), ""])
    out.extend(f"      - at {numbers.fixed(s.at_s, 2)} s: not measured, {s.reason}" for s in record.skipped)
    out.extend(comparison_table(record.comparisons))
    out.append(_chain_line(record.chain))
    out.extend(f"! {flag}" for flag in record.flags)
    return out


def table(record: ShutterRecord) -> Table:
    """Every firing in a row."""
    errors = {i: speed.compared.firings[n] for speed in record.speeds if speed.compared
              for n, i in enumerate(speed.i_firings)}  # fmt: skip
    heads = (
        "at [s]", "effective [ms]", "half-peak [ms]", "total [ms]", "opening [ms]", "closing [ms]", "efficiency [%]",
        "signal to noise [dB]", *(("off by [stops]", "verdict") if errors else ()),
    )  # fmt: skip
    rows = tuple(
        (
            numbers.fixed(one.at_s, 2),
            *(_ms(one, time) for time in (one.effective, one.half_peak, one.total, one.opening, one.closing)),
            numbers.fixed(100 * one.efficiency, 0),
            numbers.fixed(one.snr_db, 0),
            *(verdict_cells(errors.get(i)) if errors else ()),
        )
        for i, one in enumerate(record.firings)
    )
    return Table(
        heads=heads,
        rows=rows,
        flags=tuple(one.flags for one in record.firings),
        notes=tuple(f"at {numbers.fixed(one.at_s, 2)} s: {one.reason}" for one in record.skipped),
    )


def dial(record: ShutterRecord) -> tuple[contract.Speed, ...]:
    """The settings of the dial, slowest first."""
    return tuple(
        contract.Speed(
            marked=one.compared.marked if one.compared else "",
            likely=one.likely or "",
            i_firings=one.i_firings,
            effective=one.effective,
            compared=one.compared,
            remarks=tuple(_remarks(one)),
            stopped_down=tuple((each.stops_down, each.effective) for each in one.stopped_down),
        )
        for one in record.speeds
    )


def _remarks(speed: Speed) -> Iterator[str]:
    """What the firings of one speed say together."""
    if speed.repeatability_stops is not None:
        yield repeatability_remark(speed.repeatability_stops)
    if speed.first:
        yield (
            f"First firing after rest: {numbers.signed(speed.first.stops)} stops from the others; chance takes one"
            f" {numbers.fixed(speed.first.by_chance_stops, 2)} stop."
        )
    if speed.drift:
        yield (
            f"Drift from the first to the last: {numbers.signed(speed.drift.stops)} stops; chance does that"
            f" {numbers.percent(speed.drift.probability)} of the time."
        )


def fired(record: ShutterRecord) -> tuple[Fired, ...]:
    """Its firings, as they are told while they are recorded."""
    against = record.compared.firings if record.compared else (None,) * len(record.firings)
    return tuple(
        Fired(at_s=one.at_s, stop_s=one.stop_s, time=one.effective, flags=one.flags, compared=compared)
        for one, compared in zip(record.firings, against, strict=True)
    )


def words(record: ShutterRecord) -> dict[str, str]:
    """What each picture shows, by the pictures' names."""
    if not record.firings:
        return {}
    first = record.firings[0]
    marked = next((one.compared.marked for one in record.speeds if 0 in one.i_firings and one.compared), "")
    of = f", marked {marked}" if marked and len(record.speeds) > 1 else ""
    times = ", ".join(
        f"{name} {_ms(first, time)} ms"
        for name, time in (("effective", first.effective), ("half-peak", first.half_peak), ("total", first.total))
    )
    out = {
        "waveform": (
            f"Firing 1 at {numbers.fixed(first.at_s, 2)} s{of}, as recorded and with the AC coupling undone: {times}"
            " (95 %)."
        ),
        "overlaid": "; ".join(_overlaid(record, one) for one in record.speeds) + ".",
    }
    if record.comparisons:
        out["speed card"] = off_the_mark(record.comparisons)
    return out


def _overlaid(record: ShutterRecord, speed: Speed) -> str:
    """Firings of one speed on one another."""
    name, own = name_of(speed.effective.value), [record.firings[i] for i in speed.i_firings]
    ms = [1e3 * one.effective.value for one in own]
    if len(own) == 1:
        return f"{name}: one firing, effective {_ms(own[0], own[0].effective)} ms"
    return (
        f"{name}: {len(ms)} firings, effective from {numbers.significant(min(ms))} to"
        f" {numbers.significant(max(ms))} ms, the first {numbers.significant(ms[0])} ms"
    )


def _ms(firing: Firing, time: Quantity) -> str:
    """One of a firing's times with its 95 % interval, in milliseconds."""
    return numbers.milliseconds(time.value, firing.expanded_s(time)).removesuffix(" ms")


def _uncompared(speed: Speed) -> list[str]:
    """A set of firings without a mark."""
    likely = f"; the nearest mark is {speed.likely}" if speed.likely else ""
    time = speed.effective
    out = [
        f"Mean of {len(speed.i_firings)}: {numbers.milliseconds(time.value, time.expanded_u)}, {name_of(time.value)}"
        f"{likely}"
    ]
    if speed.repeatability_stops is not None:
        out.append(repeatability_line(speed.repeatability_stops))
    return out


def _stopped_lines(speed: Speed) -> list[str]:
    """What the curve of light says of smaller apertures."""
    wide_open_s = speed.effective.value
    shown = [
        f"{numbers.short(one.stops_down)} stops: {name_of(one.effective.value)},"
        f" {numbers.milliseconds(one.effective.value, one.effective.expanded_u)}"
        f" ({numbers.signed(math.log2(one.effective.value / wide_open_s))} stop)"
        for one in speed.stopped_down
        if one.stops_down in (2, 4)
    ]
    return [f"Stopped down by {', by '.join(shown)}"] if shown else []


def _opening_lines(firings: Sequence[Firing]) -> list[str]:
    """How far a speed opens that is too fast to stay fully open."""
    short = [firing for firing in firings if firing.level_from == "slower firings"]
    if not short:
        return []
    least = min(short, key=lambda firing: firing.opens_to)
    return [
        f"Does not stay fully open: it opens to {numbers.fixed(100 * least.opens_to, 0)} ±"
        f" {numbers.percent(2 * least.u_opens_to)} of what the slower firings open to; their level is used"
    ]


def _bounce_lines(firings: Sequence[Firing]) -> list[str]:
    """What would have been seen of a bounce, where none was."""
    if any(firing.bounce or firing.dip for firing in firings):
        return []
    limits = [firing.bounce_seen_from for firing in firings]
    seen = [limit for limit in limits if limit is not None]
    if len(seen) < len(limits):
        return ["Nobody can tell whether the blades bounce: the dark beside a firing is disturbed"]
    return [f"No bounce; a bounce of more than {numbers.percent(max(seen))} would have been seen"]


def _chain_line(chain: Chain) -> str:
    """How far the set-up is from what the standard asks; never a claim."""
    return (
        f"Set-up: ISO 516 asks for a chain that is flat from DC to {_khz(chain.asked_hz)}. This one passes"
        f" {numbers.short(chain.from_hz, 2)} Hz to {_khz(chain.reached_hz)}; what it loses below is computed. We do not"
        " claim conformity"
    )


def _khz(frequency_hz: float) -> str:
    """A frequency in kilohertz."""
    return f"{numbers.short(frequency_hz / 1e3, 3)} kHz"


def _header(record: ShutterRecord, made: Input) -> str:
    """One line on what was heard."""
    corners = " and ".join(numbers.short(corner, 2) for corner in made.corners_hz)
    return (
        f"{numbers.counted(len(record.firings), 'firing')}; light on channel {made.channel}; the input is AC coupled at"
        f" {corners} Hz, and that is undone; ± is the 95 % interval"
    )


def _row(n: int, firing: Firing, compared: Comparison | None, n_of_set: int) -> str:
    """One firing in milliseconds, a fraction, and stops."""
    effective, half_peak, total = (
        f"{_ms(firing, time):>17}" for time in (firing.effective, firing.half_peak, firing.total)
    )
    text = (
        f"{n:>3} {numbers.fixed(firing.at_s, 2):>6} s {effective} {name_of(firing.effective.value):>7} {half_peak}"
        f" {total} {numbers.percent(firing.efficiency):>5}"
    )
    if compared is None:
        return text
    one = compared.firings[n_of_set]
    return f"{text} {numbers.stops(one.error.value, one.error.expanded_u):>20}    {word(one.verdict)}"
