"""A footage record in words: lines for the terminal, the table of its firings, what each picture shows."""

from collections.abc import Sequence

from camerawright.bench import contract
from camerawright.bench.comparison import Comparison
from camerawright.bench.comparison_words import comparison_lines, off_the_mark, repeatability_remark
from camerawright.bench.contract import Table, refused_lines, verdict_cells
from camerawright.bench.footage.measure import mean_effective
from camerawright.bench.footage.plot import frame_words, from_half_open, part_text, turning
from camerawright.bench.footage.record import Firing, FootageRecord, Input, LineTime
from camerawright.handbook.exposure import name_of
from camerawright.wording import numbers
from camerawright.wording.verdicts import word


def lines(record: FootageRecord) -> list[str]:
    """The summary for the terminal."""
    doubts = [f"! {flag}" for flag in record.flags]
    if record.line_time:
        return [*_line_time(record.line_time), *doubts]
    if record.refused or record.input is None:
        return refused_lines(record)
    compared = record.compared
    head = f" {'stops from ' + compared.marked:>22}  verdict" if compared else ""
    out = [
        _header(record, record.input),
        "",
        f"{'':>3} {'at':>8} {'effective':>20} {'frames':>8}{head}",
    ]
    for i, firing in enumerate(record.firings):
        out.append(_row(i, firing, compared))
        out.extend(f"      ! {flag}" for flag in firing.flags)
    out.extend(f"      - at {numbers.fixed(s.at_s, 2)} s: not measured, {s.reason}" for s in record.skipped)
    if compared:
        out.extend(["", *comparison_lines(compared)])
    return [*out, *doubts]


def table(record: FootageRecord) -> Table:
    """Every firing in a row."""
    compared = record.compared
    rows = tuple(
        (
            numbers.fixed(one.at_s, 2),
            _effective(one).removesuffix(" ms"),
            str(one.frames_open),
            *(verdict_cells(compared.firings[i]) if compared else ()),
        )
        for i, one in enumerate(record.firings)
    )
    return Table(
        heads=("at [s]", "effective [ms]", "frames", *(("off by [stops]", "verdict") if compared else ())),
        rows=rows,
        flags=tuple(one.flags for one in record.firings),
        notes=tuple(f"at {numbers.fixed(one.at_s, 2)} s: {one.reason}" for one in record.skipped),
    )


def dial(record: FootageRecord) -> tuple[contract.Speed, ...]:
    """The one setting of the dial that was filmed; none where the firings are of several and no mark was given."""
    compared, effective = record.compared, mean_effective(record.firings)
    if compared is None and effective is None:
        return ()
    spread = compared.repeatability_stops if compared else None
    return (
        contract.Speed(
            marked=compared.marked if compared else "",
            i_firings=tuple(range(len(record.firings))),
            effective=effective,
            compared=compared,
            remarks=() if spread is None else (repeatability_remark(spread),),
        ),
    )


def words(record: FootageRecord) -> dict[str, str]:
    """What each picture shows, by the pictures' names."""
    if not record.firings:
        return {}
    first = record.firings[0]
    sheet = ", ".join(frame_words(one, first) for one in turning(first.frames))
    area = ", ".join(
        f"{from_half_open(one, first)} {part_text(one.area)} ± {numbers.percent(2 * one.u_area)}"
        for one in first.frames
    )
    times = ", ".join(_effective(one) for one in record.firings)
    out = {
        "light": f"{_overlaid(record.firings)}; each with its 95 % interval: {times}.",
        "contact sheet": f"Frames of firing 1 by time from half open, with their light: {sheet}.",
        "open area": f"Uncovered part of the gate in firing 1 by time from half open: {area}.",
    }
    if record.compared:
        out["speed card"] = off_the_mark([record.compared])
    return out


def _header(record: FootageRecord, made: Input) -> str:
    """One line on what was seen."""
    held = f", {numbers.counted(made.n_references, 'opening')} held to show the level" if made.n_references else ""
    return (
        f"{numbers.counted(len(record.firings), 'firing')}{held}; {numbers.short(made.fps, 4)} frames a second; ± is"
        " the 95 % interval"
    )


def _line_time(found: LineTime) -> list[str]:
    """A calibration in words."""
    line = found.line
    value = numbers.with_interval(1e6 * line.value, 1e6 * line.expanded_u, most=9)
    return [
        f"Line time of the camera that filmed: {value} µs (95 %), from {found.n_frames} frames",
        f"All rows are read in {numbers.short(1e3 * found.readout_s, 3)} ms",
        "You can measure clips of that camera by the band in one frame: give the line time and its u with them (line"
        f" us): {numbers.fixed(1e6 * line.value, 4)},{numbers.fixed(1e6 * line.u, 4)}",
    ]


def _row(i: int, firing: Firing, compared: Comparison | None) -> str:
    """One firing in milliseconds, a fraction, frames, and stops."""
    text = (
        f"{i + 1:>3} {numbers.fixed(firing.at_s, 2):>6} s {_effective(firing):>12}"
        f" {name_of(firing.effective.value):>7} {firing.frames_open:>8}"
    )
    if compared is None:
        return text
    one = compared.firings[i]
    error = numbers.signed(one.error.value)
    return f"{text} {error:>13} ± {numbers.never_less(one.error.expanded_u)}    {word(one.verdict)}"


def _overlaid(firings: Sequence[Firing]) -> str:
    """Firings on one another."""
    ms = [1e3 * one.effective.value for one in firings]
    if len(ms) == 1:
        return f"Light of the frames over each other: one firing, effective {_effective(firings[0])}"
    return (
        f"Light of the frames over each other: {len(ms)} firings, effective from {numbers.significant(min(ms))} to"
        f" {numbers.significant(max(ms))} ms, the first {numbers.significant(ms[0])} ms"
    )


def _effective(firing: Firing) -> str:
    """The effective time with its 95 % interval."""
    return numbers.milliseconds(firing.effective.value, firing.effective.expanded_u)
