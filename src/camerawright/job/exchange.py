"""A journal out and in again, as JSON Lines."""

import io
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from itertools import islice
from typing import Final

from pydantic import ValidationError

from camerawright.bench.catalogue import BY_NAME
from camerawright.bench.readable import NotReadable, record_read, setup_problem
from camerawright.journal.clock import CLOCK_SLACK
from camerawright.journal.entries import CLOSING, ENTRY, Corrected, Entry, Measured, Reminded, in_order, written
from camerawright.journal.known import Known
from camerawright.journal.naming import names_in
from camerawright.journal.replay import brought_by
from camerawright.journal.rules import judged_again
from camerawright.journal.sentences import briefly
from camerawright.journal.state import fold
from camerawright.store.workshop import Workshop
from camerawright.trouble import Refused

MOST_SIGNS: Final = 100_000
MOST_OF_A_REMINDER: Final = 3_000
MOST_SIGNS_OF_A_READING: Final = 4_000_000
"""A day of firings: a firing takes some two thousand."""


@dataclass(frozen=True, kw_only=True)
class Imported:
    """How many lines were new, how many were there already, and what the rules would have refused of them."""

    n_new: int
    n_known: int
    odd: tuple[str, ...] = ()
    is_owed: bool = False  # whether it was entered as reminders


def exported(workshop: Workshop, job_id: str) -> Iterator[str]:
    """The journal of a job, one JSON object a line, in order."""
    for entry in workshop.journal(workshop.job(job_id).id):
        yield written(entry)


def lines_of(text: str) -> Iterator[str]:
    """The lines of a journal file. JSON leaves U+2028 and its like inside texts, where `str.splitlines` would cut."""
    return io.StringIO(text, newline=None)


def wrong_with(entry: Entry, n_signs: int) -> Iterator[str]:
    """What no form or measurement would have let in.

    Parameters
    ----------
    n_signs
        How long the entry's line is.
    """
    said = entry.becomes if isinstance(entry, Corrected) and entry.becomes else entry
    most = MOST_SIGNS_OF_A_READING if isinstance(said, Measured) else MOST_SIGNS
    if n_signs > most:
        yield f"it is {n_signs} signs long, and {most} are the most"
    for each in {id(one): one for one in (entry, said)}.values():
        if entry.id in (getattr(each, name) for name in type(each).model_fields if name != "id"):
            yield "it refers to itself"
    if isinstance(said, Measured):
        yield from _wrong_with_reading(said)


def _wrong_with_reading(reading: Measured) -> Iterator[str]:
    """What is wrong with a reading, by the model of its own test."""
    test = BY_NAME.get(reading.test)
    if test is None:
        yield f"test: there is no bench test {reading.test}"
        return
    if what := setup_problem(test, reading.setup):
        yield f"setup.{what}"
    try:
        record_read(test, reading.method, reading.result)
    except NotReadable as error:
        yield f"result: {error}"


def parse(lines: Iterable[str], *, now: datetime) -> tuple[Entry, ...]:
    """Read JSON Lines; blank lines are passed over.

    Raises
    ------
    Refused
        Naming every line that is wrong, and how, up to ten of them. Nothing is taken in then.
    """
    entries: list[Entry] = []
    wrong: list[str] = []
    for n_line, line in enumerate(lines, start=1):
        if not line.strip():
            continue
        try:
            entry = ENTRY.validate_json(line)
        except ValidationError as error:
            first = error.errors()[0]
            where = ".".join(str(step) for step in first["loc"])
            wrong.append(f"line {n_line}: {where + ': ' if where else ''}{first['msg']}")
            continue
        if entry.at > now + CLOCK_SLACK:
            wrong.append(f"line {n_line}: at: {entry.at.isoformat()} is in the future")
        wrong += [f"line {n_line}: {what}" for what in wrong_with(entry, len(line))]
        entries.append(entry)
    if wrong:
        more = f"; and {len(wrong) - 10} more" if len(wrong) > 10 else ""
        raise Refused("; ".join(wrong[:10]) + more, "mend those lines; nothing was taken in", "the journal file")
    return tuple(entries)


def imported(workshop: Workshop, job_id: str, lines: Iterable[str], *, now: datetime | None = None) -> Imported:
    """Take a journal file in, all of it or nothing; what is there already changes nothing.

    Entries are facts from another bench or an earlier day, so all are kept. They are judged in their order by the same
    rules as at the bench. What the rules would have refused, and nobody gave a reason for, becomes a reminder at the
    closing, one for each entry: somebody answers how that was, and until then the job does not close. To a job that is
    closed or handed back nothing is added.

    Raises
    ------
    Refused
        A line is wrong; or a recording or photo that an entry refers to is not here: no backup would be whole then.

    Notes
    -----
    A reminder is what bars a closing already, and what everybody knows how to answer. It stands in the journal, so an
    export takes it along, answered or not. One that is there already is not entered again.
    """
    clock = now or datetime.now(UTC)
    job = workshop.job(job_id)
    entries = parse(lines, now=clock)
    before = workshop.journal(job.id)
    _check_kept(workshop, before, entries)
    merged = tuple(in_order([*{entry.id: entry for entry in (*before, *entries)}.values()]))
    odd = _odd(before, merged, is_film_in=job.visit.film_inside) if len(merged) > len(before) else ()
    state = fold(merged)
    is_open = not (state.is_closed or state.handed_back)
    reminders = _reminders(odd, merged, clock) if is_open else ()
    n_new = workshop.append_all(job.id, (*entries, *reminders)) - len(reminders)
    return Imported(n_new=n_new, n_known=len(entries) - n_new, odd=odd, is_owed=is_open)


def _check_kept(workshop: Workshop, before: Sequence[Entry], entries: Sequence[Entry]) -> None:
    """Refuse new entries whose recording or photo is not here."""
    there = {entry.id for entry in before}
    missing = list(islice(workshop.not_kept(entry for entry in entries if entry.id not in there), 10))
    if missing:
        raise Refused("; ".join(f"{each.where}: {each.what}" for each in missing), missing[0].mend, "the journal file")


def _odd(before: Sequence[Entry], merged: Sequence[Entry], *, is_film_in: bool) -> tuple[str, ...]:
    """What the rules would have refused, one text for each entry."""
    state = fold(merged)
    known = Known(film_inside=is_film_in, names=frozenset(names_in(state)))  # other jobs taught the other bench
    found: dict[str, list[str]] = {}
    for broken in brought_by(before, merged, known, judged_again):
        found.setdefault(broken.entry.id, [f"“{briefly(broken.entry, state.by_id)[:300]}”"]).append(broken.trouble.what)
    return tuple(f"{said}: {'; '.join(whats)}"[:MOST_OF_A_REMINDER] for said, *whats in found.values())


def _reminders(odd: Sequence[str], merged: Sequence[Entry], now: datetime) -> tuple[Entry, ...]:
    """What is owed for it at the closing, each once."""
    there = {entry.todo for entry in merged if isinstance(entry, Reminded)}
    last = max((entry.at for entry in merged), default=now)
    at = max(now, last + timedelta(microseconds=1))
    wanted = (f"say how that was: {what}" for what in odd)
    return tuple(Reminded(at=at, part=CLOSING, todo=todo) for todo in wanted if todo not in there)
