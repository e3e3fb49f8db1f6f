"""A slow train's record in words: lines for the terminal, the table of its runs, what the picture shows."""

from collections.abc import Iterator, Sequence

from camerawright.bench import contract
from camerawright.bench.contract import Fired, Table, refused_lines
from camerawright.bench.escapement.record import EscapementRecord, OpenClose, Run, Speed
from camerawright.handbook.exposure import name_of
from camerawright.quantity import Quantity
from camerawright.wording import numbers


def lines(record: EscapementRecord) -> list[str]:
    """The summary for the terminal."""
    if record.refused:
        return refused_lines(record)
    out = [
        f"{numbers.counted(len(record.runs), 'run')} of the slow train; ± is the 95 % interval",
        "",
        f"{'':>3} {'at':>8} {'beats':>6} {'a second':>15} {'uneven':>14} {'other beat':>14} {'slows by':>14}",
    ]
    for n, run in enumerate(record.runs, start=1):
        out.extend(_run_lines(n, run))
    if len(record.at_speeds) > 1:
        out.extend(["", *_speed_table(record.at_speeds)])
    out.extend(f"      - at {numbers.fixed(s.at_s, 2)} s: no beat, {s.reason}" for s in record.skipped)
    if record.hypotheses:
        out.extend(["", "Hypotheses, not findings:"])
    for one in record.hypotheses:
        out.extend([f"- {one.seen}: may be {one.may_be}.", f"  To find out: {one.test}"])
    out.extend(f"! {flag}" for flag in record.flags)
    return out


def table(record: EscapementRecord) -> Table:
    """Every run in a row."""
    return Table(
        heads=(
            "at [s]", "beats", "not heard", "beats a second", "uneven [%]", "every other beat [%]", "slows by [%]",
            "opening to closing [ms]",
        ),
        rows=tuple(_cells(run) for run in record.runs),
        flags=tuple(run.flags for run in record.runs),
        notes=(
            *(
                f"opening to closing of firing {n}: {why.reason}; {why.advice}"
                for n, run in enumerate(record.runs, start=1)
                if (why := run.open_close.refused)
            ),
            *(f"at {numbers.fixed(one.at_s, 2)} s: {one.reason}" for one in record.skipped),
        ),
    )  # fmt: skip


def _cells(run: Run) -> tuple[str, ...]:
    """One run in the table."""
    time = run.open_close.time
    return (
        numbers.fixed(run.at_s, 2),
        f"{run.n_beats}",
        f"{run.n_missed}",
        numbers.with_interval(run.beat_rate.value, run.beat_rate.expanded_u),
        *(
            numbers.with_interval(100 * one.value, 100 * one.expanded_u)
            for one in (run.unevenness, run.alternation, run.drift)
        ),
        numbers.with_interval(1e3 * time.value, 1e3 * time.expanded_u) if time else "refused",
    )


def dial(record: EscapementRecord) -> tuple[contract.Speed, ...]:
    """The settings of the dial, slowest first."""
    return tuple(
        contract.Speed(marked=one.marked or "", likely=one.likely or "", i_firings=one.i_firings)
        for one in record.at_speeds
    )


def fired(record: EscapementRecord) -> tuple[Fired, ...]:
    """Its runs, as they are told while they are recorded."""
    return tuple(Fired(at_s=one.at_s, stop_s=one.stop_s, time=None, flags=one.flags) for one in record.runs)


def words(record: EscapementRecord) -> dict[str, str]:
    """What the picture shows, by its name."""
    if not record.runs:
        return {}
    run = record.runs[0]
    percents = [100 * beat.deviation for beat in run.beats]
    stalls = "; ".join(
        f"stands still for {_ms(stall.length_s)} at {numbers.fixed(stall.at_s, 2)} s" for stall in run.stalls
    )
    return {
        "beat": f"Run 1 from {numbers.fixed(run.at_s, 2)} to {numbers.fixed(run.stop_s, 2)} s: {run.n_beats} beats,"
        f" {_rate(run.beat_rate)} a second; a beat is from {numbers.signed(min(percents), 1)} to"
        f" {numbers.signed(max(percents), 1)} % longer than the line through all; {stalls or 'no stall'}."
    }


def _rate(rate: Quantity) -> str:
    """Beats a second with their 95 % interval."""
    return f"{numbers.fixed(rate.value, 2)} ± {numbers.fixed(rate.expanded_u, 2)}"


def _ms(time_s: float) -> str:
    """A time to a millisecond."""
    return f"{numbers.fixed(1e3 * time_s, 0)} ms"


def _numbers(one: Run | Speed) -> str:
    """Rate, unevenness, alternation and drift with their intervals."""
    parts = (
        numbers.percent_with_interval(part.value, part.expanded_u, has_sign=has_sign)
        for part, has_sign in ((one.unevenness, False), (one.alternation, False), (one.drift, True))
    )
    return f"{_rate(one.beat_rate):>14} " + " ".join(f"{part:>14}" for part in parts)


def _speed_table(speeds: Sequence[Speed]) -> list[str]:
    """A line for each speed: the mean beat, and what stands still."""
    out = [f"{'speed':<8} {'runs':>4} {'beats a second':>15} {'uneven':>14} {'other beat':>14} {'slows by':>14} stalls"]
    out.extend(f"{one.name:<8} {len(one.i_firings):>4} {_numbers(one)} {one.n_stalls:>6}" for one in speeds)
    return out


def _run_lines(n: int, run: Run) -> Iterator[str]:
    """One run: its numbers, what is odd in it, the time by sound."""
    yield f"{n:>3} {numbers.fixed(run.at_s, 2):>6} s {run.n_beats:>6} {_numbers(run)}"
    if run.n_missed:
        yield f"      {numbers.counted(run.n_missed, 'beat')} not heard"
    for stall in run.stalls:
        yield (
            f"      stands still for {_ms(stall.length_s)} at {numbers.fixed(stall.at_s, 2)} s,"
            f" {numbers.percent(stall.part)} along"
        )
    if run.late:
        worst = max(run.late, key=lambda beat: abs(beat.deviation))
        yield (
            f"      {numbers.counted(len(run.late), 'beat')} off by more than 15 %, the worst"
            f" {numbers.signed(100 * worst.deviation, 0)} % at {numbers.fixed(worst.at_s, 2)} s"
        )
    yield f"      {_open_close_line(run.open_close)}"
    yield from (f"      ! {flag}" for flag in run.flags)


def _open_close_line(timed: OpenClose) -> str:
    """The time from opening to closing."""
    if timed.time is None:
        why = f": {timed.refused.reason}; {timed.refused.advice}" if timed.refused else ""
        return f"no time from opening to closing{why}"
    off = timed.stops_from_mark
    stops = "" if off is None else f", {numbers.signed(off)} stops from the mark"
    time, u = 1e3 * timed.time.value, 1e3 * timed.time.expanded_u
    return (
        f"opening to closing {numbers.fixed(time, 1)} ± {numbers.fixed(u, 1)} ms ({name_of(timed.time.value)}){stops};"
        " by sound, relative"
    )
