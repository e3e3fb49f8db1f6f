"""The annex of the certificate: how it was measured, each firing, the uncertainty budget, pictures, hashes, remarks."""

import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

from camerawright.bench.catalogue import CATALOGUE
from camerawright.bench.contract import BenchTest
from camerawright.bench.contract import Table as FiringTable
from camerawright.job.now import JobNow
from camerawright.journal.entries import Measured
from camerawright.papers.annex_pictures import about, pictures_of
from camerawright.papers.paper import Line, Picture
from camerawright.papers.work_done import Finding
from camerawright.quantity import Quantity
from camerawright.readings.measuring import profile_named
from camerawright.readings.recorded import record_of
from camerawright.readings.rows import DECISION_RULE, Row, reading_shown, rows
from camerawright.readings.set_up import marks_of, told_of
from camerawright.readings.side_by_side import FigureRow, ReadingRow, figure_rows
from camerawright.readings.validity import late, void
from camerawright.store.workshop import Workshop
from camerawright.wording import numbers

_SENTENCE_ENDS: Final = re.compile(r"(?<=[.?]) (?=[A-Z])")
_TO_DO: Final = re.compile(r"(Check|Clean|Find|Fire|Give|Look|Make|Measure|Put|Read|Record|Take|Tell|Turn|Use)\b")
"""How a sentence begins that tells the repairer what to do."""
_MOST_FIRINGS: Final = 24
"""Of one recording; of more the first are printed."""


@dataclass(frozen=True, kw_only=True)
class FiringsOf:
    """The firings of one recording, a row for each."""

    label: str  # "1/250, as left"
    rows: tuple[tuple[str, ...], ...]
    notes: tuple[str, ...] = ()  # what could not be measured, and why


@dataclass(frozen=True, kw_only=True)
class Firings:
    """The firings of recordings whose tables have the same columns."""

    heads: tuple[str, ...]
    recordings: tuple[FiringsOf, ...]


@dataclass(frozen=True, kw_only=True)
class Budget:
    """Standard uncertainties, a column for each quantity; `unit` is that of all of them, "" where the heads say it."""

    unit: str
    heads: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]  # name of the line, then a cell for each quantity


@dataclass(frozen=True, kw_only=True)
class MeasuredBy:
    """How one bench test measured."""

    title: str
    facts: tuple[Line, ...]
    rows: tuple[ReadingRow, ...] = ()
    told: tuple[FigureRow, ...] = ()
    budget: Budget | None = None
    firings: tuple[Firings, ...] = ()
    pictures: tuple[Picture, ...] = ()


@dataclass(frozen=True, kw_only=True)
class Annex:
    """From page 2 on."""

    tests: tuple[MeasuredBy, ...] = ()
    findings: tuple[Finding, ...] = ()  # all of them, where page 1 has room for some only
    work: tuple[Line, ...] = ()
    remarks: tuple[str, ...] = ()
    recordings: tuple[Line, ...] = ()  # of what, and the beginning of its SHA-256


def annex(workshop: Workshop, here: JobNow) -> tuple[Annex, dict[str, bytes]]:
    """The annex of a job, and the pictures that it names. Readings as left that are void are remarks, no readings."""
    why_void, why_late = void(here.state), late(here.state)
    measured = [entry for entry in here.state.measured if entry.id not in why_void]
    remarks = [
        f"{about(entry)}: not shown, because {why_void[entry.id]}"
        for entry in here.state.measured
        if entry.id in why_void
    ]
    remarks += [f"{about(entry)}: {_as_a_fact(why_late[entry.id])}" for entry in measured if entry.id in why_late]
    tests: list[MeasuredBy] = []
    images: dict[str, bytes] = {}
    for test in CATALOGUE:
        of_test = [entry for entry in measured if entry.test == test.name]
        table, told = rows(of_test, test), figure_rows(of_test, test)
        if test.record.is_relative or (not table and not told):
            continue
        pictures, missing = pictures_of(workshop, test, table, of_test)
        images |= {picture.name: image for picture, image in pictures}
        remarks += [*missing, *_flags(test, of_test)]
        tests.append(
            MeasuredBy(
                title=test.title,
                facts=tuple(_facts(workshop, here, table, told, of_test)),
                rows=tuple(map(_reading_row, table)),
                told=told,
                budget=_budget(table, of_test),
                firings=tuple(_firings(test, of_test)),
                pictures=tuple(picture for picture, _ in pictures),
            )
        )
    return Annex(
        tests=tuple(tests),
        remarks=tuple(dict.fromkeys(remarks)),
        recordings=tuple(_recording(entry) for entry in here.state.measured),
    ), images


def _recording(entry: Measured) -> Line:
    label = " ".join(filter(None, (entry.test, marks_of(entry), entry.phase)))
    return Line(label=label, words=entry.recording[:16])


def _reading_row(row: Row) -> ReadingRow:
    return ReadingRow(
        marked=row.marked,
        as_found=reading_shown(row.as_found.against) if row.as_found else None,
        as_left=reading_shown(row.as_left.against) if row.as_left else None,
    )


# How it was measured


def _facts(
    workshop: Workshop, here: JobNow, table: Sequence[Row], told: Sequence[FigureRow], entries: Sequence[Measured]
) -> Iterator[Line]:
    """Limits, decision rule, method, set-up, and what ± stands for. What was not used is not told."""
    read = [one for row in table for one in row.read]
    if read:
        sources = "; ".join(dict.fromkeys(one.against.source for one in read if one.against.source))
        profile = profile_named(workshop, here.job.visit.profile).title
        yield Line(label="Limits", words=f"{profile} ({sources})" if sources else profile)
    told_by = dict.fromkeys(
        f"{figure.label} {figure.allowed}{f' ({figure.source})' if figure.source else ''}"
        for entry in entries
        for figure in record_of(entry).figures
        if figure.allowed
    )
    if told_by:
        yield Line(label="Limits", words="; ".join(told_by))
    if any(one.against.verdict for one in read) or any(
        one.verdict for row in told for one in (row.as_found, row.as_left) if one
    ):
        yield Line(label="Verdict", words=f"{DECISION_RULE}.")
    yield Line(label="Method", words="; ".join(dict.fromkeys(entry.method for entry in entries)))
    if setup := _set_ups(entries):
        yield Line(label="Set-up", words=setup)
    yield Line(label="Uncertainty", words=uncertainty_words([one.against.mean for one in read]))


def _set_ups(entries: Sequence[Measured]) -> str:
    """What was told of the set-up: once where all readings were told the same, else by phase."""
    told: dict[str, dict[str, None]] = {}
    for entry in entries:
        told.setdefault(entry.phase, {})[told_of(entry).in_words(entry.test)] = None
    by_phase = {phase: "; ".join(filter(None, words)) for phase, words in told.items()}
    if len(set(by_phase.values())) == 1:
        return next(iter(by_phase.values()))
    return ". ".join(f"{phase}: {words or 'nothing told'}" for phase, words in by_phase.items())


def uncertainty_words(means: Sequence[Any]) -> str:
    """What ± stands for, with the coverage factors from the least to the greatest.

    References
    ----------
    [jcgm-100] 6.2, 7.2.
    """
    factors = sorted(mean.expanded_u / mean.u for mean in means if mean.u > 0)
    ends = dict.fromkeys(numbers.fixed(factor, 1) for factor in (factors[:1] + factors[-1:]))
    k = f" with the coverage factor k = {' to '.join(ends)}" if ends else ""
    return (
        f"± is the expanded uncertainty{k}, for a coverage probability of about 95 %. n is the number of firings or"
        " readings behind a figure."
    )


def _budget(table: Sequence[Row], entries: Sequence[Measured]) -> Budget | None:
    """The lines of each mark's newest reading, or of what the newest reading found; the largest first."""
    if table:
        return _budget_of({row.marked: row.read[-1].against.mean for row in table}, unit="stops")
    found = record_of(entries[-1]).budgeted
    return _budget_of({f"{name} [{quantity.unit}]": quantity for name, quantity in found}) if found else None


def _budget_of(means: Mapping[str, Quantity], *, unit: str = "") -> Budget:
    largest: dict[str, float] = {}
    for mean in means.values():
        for line in mean.budget:
            largest[line.name] = max(line.u, largest.get(line.name, 0.0))
    by_name = [{line.name: line.u for line in mean.budget} for mean in means.values()]
    lines = [
        (name, *(_small(of[name]) if name in of else "–" for of in by_name))
        for name in sorted(largest, key=lambda name: -largest[name])
    ]
    combined = ("combined", *(_small(mean.u) for mean in means.values()))
    return Budget(unit=unit, heads=tuple(means), rows=(*lines, combined))


def _small(u: float) -> str:
    """Two digits, never as a power of ten."""
    return "–" if u == 0 else "< 0.0001" if u < 1e-4 else numbers.significant(u, 2)


# Each firing


def _firing_table(test: BenchTest[Any], entry: Measured) -> FiringTable:
    """The single readings of an entry; none where its record cannot be read."""
    record = record_of(entry)
    return test.table(record) if isinstance(record, test.record) and record.refused is None else FiringTable()


def _firings(test: BenchTest[Any], entries: Iterable[Measured]) -> Iterator[Firings]:
    """The tables of all readings, those of the same columns together."""
    by_heads: dict[tuple[str, ...], list[FiringsOf]] = {}
    for entry in entries:
        table = _firing_table(test, entry)
        n_more = len(table.rows) - _MOST_FIRINGS
        notes = (*table.notes, *([f"and {n_more} more, in the workshop's record"] if n_more > 0 else []))
        if table.rows or notes:
            shown = FiringsOf(label=about(entry), rows=table.rows[:_MOST_FIRINGS], notes=notes)
            by_heads.setdefault(table.heads, []).append(shown)
    return (Firings(heads=heads, recordings=tuple(shown)) for heads, shown in by_heads.items())


def _flags(test: BenchTest[Any], entries: Iterable[Measured]) -> Iterator[str]:
    """What limits the newest readings, with what it is about: of a recording, and of its firings."""
    newest = {(marks_of(entry), entry.phase): entry for entry in entries}
    for entry in newest.values():
        yield from (f"{about(entry)}: {said}" for flag in record_of(entry).flags if (said := what_limits(flag)))
        firings: dict[str, list[int]] = {}
        for n, flags in enumerate(_firing_table(test, entry).flags, start=1):
            for flag in flags:
                firings.setdefault(flag, []).append(n)
        for flag, which in firings.items():
            if said := what_limits(flag):
                named = f"firing{'s' * (len(which) != 1)} {', '.join(map(str, which))}"
                yield f"{about(entry)}, {named}: {said}"


def _as_a_fact(why_late: str) -> str:
    """Why a reading came late, without what to do about it: that is for the bench."""
    fact = why_late.partition(":")[0]
    return f"{fact[:1].lower()}{fact[1:]}"


def what_limits(flag: str) -> str:
    """What a flag says of the result. Questions, what names an option, and what to do next are for the bench."""
    sentences = _SENTENCE_ENDS.split(flag.strip())
    facts = [one for one in sentences if not one.endswith("?") and "“" not in one and not _TO_DO.match(one)]
    return " ".join(facts) if facts and facts[0] == sentences[0] else ""
