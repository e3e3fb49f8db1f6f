"""What the certificate shows of the readings: every bench test's, as found beside as left, and their pictures."""

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from camerawright.bench.catalogue import CATALOGUE, find_test
from camerawright.bench.contract import BenchTest, Outcome
from camerawright.job.now import JobNow
from camerawright.journal.entries import Measured, Phase
from camerawright.papers import content
from camerawright.readings.apertures import stopped_name, widest_f_number
from camerawright.readings.measuring import profile_named, recording_of, told_of
from camerawright.readings.rows import (
    DECISION_RULE,
    Row,
    card_figure,
    is_of_now,
    late,
    reading_shown,
    rows,
    stops_text,
    svg,
    time_text,
    void,
)
from camerawright.readings.shown import ReadingRow, ToldRow
from camerawright.readings.side_by_side import told_rows
from camerawright.store.workshop import Workshop
from camerawright.trouble import Refused, Unreadable

_WIDE_IN = 174 / 25.4
"""Between the margins of the sheet: type in a picture is as large as it says."""
_MOST_HIGH_IN = 95 / 25.4
PHASES: tuple[Phase, ...] = ("as found", "as left")


@dataclass(frozen=True, kw_only=True)
class Shown:
    """Every test's readings, the pictures that they name, and the remarks."""

    readings: tuple[content.Readings, ...]
    images: dict[str, bytes]
    remarks: tuple[str, ...]


def readings_shown(workshop: Workshop, here: JobNow) -> Shown:
    """What the certificate shows of the readings. Those as left that are void are remarks, not readings."""
    why_void = void(here.state)
    measured = tuple(entry for entry in here.state.measured if entry.id not in why_void)
    shown: list[content.Readings] = []
    images: dict[str, bytes] = {}
    remarks = [
        f"{_about(entry)}: not shown, because {why_void[entry.id]}"
        for entry in here.state.measured
        if entry.id in why_void
    ]
    why_late = late(here.state)
    remarks += [f"{_about(entry)}: {why_late[entry.id]}" for entry in measured if entry.id in why_late]
    for test in CATALOGUE:
        table, told = rows(measured, test), told_rows(measured, test)
        if not table and not told:
            continue
        pictures, missing = _pictures(workshop, test, table, measured)
        images |= {picture.name: image for picture, image in pictures}
        remarks += missing
        shown.append(
            _readings(
                workshop,
                here,
                test,
                table,
                told,
                pictures=tuple(picture for picture, _ in pictures),
            )
        )
    titles = {one.title for one in shown}
    flagged = [entry for entry in measured if find_test(entry.test).title in titles]
    return Shown(readings=tuple(shown), images=images, remarks=(*remarks, *_flags(flagged)))


def _mark(entry: Measured) -> str:
    """The marked speed that was given with a recording, "" without one."""
    return str(entry.setup.get("marked") or "")


def _about(entry: Measured) -> str:
    return f"{_mark(entry) or entry.test}, {entry.phase}"


def _pictures(
    workshop: Workshop, test: BenchTest, table: Sequence[Row], measured: Iterable[Measured]
) -> tuple[list[tuple[content.Picture, bytes]], list[str]]:
    """All marks in one picture; then what tells most of one reading, the fastest as it was left. Remarks too."""
    pictures = []
    card = card_figure(test, table) if sum(len(row.read) for row in table) > 1 else None
    if card is not None:
        pictures.append((content.Picture(name=f"{test.name}, all", words=_card_words(table)), _printed(card, 0.42)))
    of_test = [entry for entry in measured if entry.test == test.name]
    best = _most_telling(table, of_test)
    if not is_of_now(test, best):
        return pictures, [f"{_about(best)}: no picture, it was read by an earlier version of the method"]
    try:
        figures = test.plots(recording_of(workshop, best), Outcome(dict(best.result)))
    except (Refused, Unreadable) as why:
        return pictures, [f"{_about(best)}: no picture, its recording cannot be read: {why}"]
    if figures:
        name, figure = next(iter(figures.items()))
        said = test.words(dict(best.result))[name]
        drawn = said.partition(":")[0]  # which firing, of which mark: not all that the reading holds
        of = best.phase if "," in _mark(best) else _about(best)
        picture = content.Picture(
            name=f"{test.name}, one",
            words=f"{name}: {of}. {said}",
            caption=f"{name}: {of}; {drawn[:1].lower()}{drawn[1:]}",
        )
        pictures.append((picture, _printed(figure)))
    return pictures, []


def _printed(figure: Any, high: float | None = None) -> bytes:
    """A figure as wide as the sheet, as SVG; `high` as a part of that, else as it was drawn."""
    wide_in, high_in = figure.get_size_inches()
    figure.set_size_inches(_WIDE_IN, min(_MOST_HIGH_IN, _WIDE_IN * (high or high_in / wide_in)))
    return svg(figure)


def _most_telling(table: Sequence[Row], of_test: Sequence[Measured]) -> Measured:
    """The fastest mark as left, as found where none was left; without marks the newest reading."""
    if table:
        left = [row for row in table if row.as_left] or table
        return left[-1].read[-1].entry
    left_only = [entry for entry in of_test if entry.phase == "as left"]
    return (left_only or of_test)[-1]


def _card_words(table: Iterable[Row]) -> str:
    """The picture of all marks in words."""
    return "; ".join(
        f"{row.marked}: {reading_shown(read).error} stops {read.entry.phase}" for row in table for read in row.read
    )


def _readings(
    workshop: Workshop,
    here: JobNow,
    test: BenchTest,
    table: tuple[Row, ...],
    told: tuple[ToldRow, ...],
    *,
    pictures: tuple[content.Picture, ...],
) -> content.Readings:
    """One test's section."""
    read = [one for row in table for one in row.read]
    entries = [one.entry for one in read] or [entry for entry in here.state.measured if entry.test == test.name]
    sources = dict.fromkeys(str(one.against["source"]) for one in read if one.against.get("source"))
    is_judged = bool(read) or any(one.verdict for row in told for one in (row.as_found, row.as_left) if one)
    return content.Readings(
        title=test.title,
        rows=tuple(
            ReadingRow(
                marked=row.marked,
                as_found=reading_shown(row.as_found) if row.as_found else None,
                as_left=reading_shown(row.as_left) if row.as_left else None,
            )
            for row in table
        ),
        told=told,
        stopped=_stopped(table, widest_f_number(here.job.camera, entries)),
        method="; ".join(dict.fromkeys(entry.method for entry in entries)),
        profile=profile_named(workshop, here.job.visit.profile).title if read else "",
        profile_source="; ".join(sources),
        decision_rule=DECISION_RULE if is_judged else "",
        coverage_factor=_coverage(sorted(one.against["U95_mean_stops"] / one.against["u_mean_stops"] for one in read)),
        setup="; ".join(dict.fromkeys(filter(None, (told_of(entry).in_words(entry.test) for entry in entries)))),
        pictures=pictures,
    )


def _stopped(table: Sequence[Row], widest: float | None) -> content.Stopped | None:
    """The speeds at smaller apertures, as left (as found where they were not): computed from the light curve."""
    rows, apertures = [], []
    for row in table:
        read = row.read[-1]
        for speed in read.record.get("speeds") or ():
            found = speed.get("stopped_down") or ()
            if not found:
                continue
            apertures = [stopped_name(one["stops_down"], widest) for one in found]
            times_s = [speed["effective_s"], *(one["effective_s"] for one in found)]
            cells = tuple(_off(time_s, read.against["target_s"]) for time_s in times_s)
            rows.append(content.StoppedRow(marked=row.marked, phase=read.entry.phase, cells=cells))
    return content.Stopped(apertures=("wide open", *apertures), rows=tuple(rows)) if rows else None


def _off(time_s: float, target_s: float) -> content.StoppedCell:
    return content.StoppedCell(time=time_text(time_s), error=stops_text(math.log2(time_s / target_s)))


def _coverage(factors: list[float]) -> str:
    """The coverage factor, or from the least to the greatest."""
    ends = dict.fromkeys(f"{factor:.1f}" for factor in (factors[:1] + factors[-1:]))
    return " to ".join(ends)


def _flags(measured: Iterable[Measured]) -> Iterator[str]:
    """Every flag of the newest readings once, with what it is about."""
    remarks: dict[str, None] = {}
    for entry in {(entry.test, _mark(entry), entry.phase): entry for entry in measured}.values():
        record: Any = entry.result
        flags = [*record.get("flags", ()), *(flag for firing in record.get("firings", ()) for flag in firing["flags"])]
        for flag in flags:
            remarks[f"{_about(entry)}: {flag}"] = None
    yield from remarks


def recordings_shown(here: JobNow) -> tuple[content.RecordingShown, ...]:
    """The recordings behind the readings."""
    return tuple(
        content.RecordingShown(
            label=" ".join(str(word) for word in (entry.test, entry.setup.get("marked"), entry.phase) if word),
            sha256=entry.recording,
        )
        for entry in here.state.measured
    )
