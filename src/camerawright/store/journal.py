"""Journals in the database: entries go in once and never change."""

import hashlib
import threading
from collections import OrderedDict
from collections.abc import Iterable, Iterator, Sequence
from sqlite3 import Connection
from typing import TYPE_CHECKING, Any, Final

from camerawright.store import glances, seals
from camerawright.store.columns import instant_text, list_text, value
from camerawright.trouble import Damaged, Refused, Stale

if TYPE_CHECKING:  # lists need no entry, and what reads one takes long to load
    from camerawright.journal.entries import Entry

_CACHED_ENTRIES: Final = 100_000  # about 200 MB


def append(connection: Connection, n_job: int, entries: Sequence["Entry"], *, expected: int | None = None) -> int:
    """Put entries into a job's journal; those that are there already, with the same content, change nothing.

    Parameters
    ----------
    connection
        In a writing transaction, which the caller leaves without committing when this raises.
    n_job
        The job's number.
    entries
        Any number; an id may come twice.
    expected
        How many entries the journal had when the caller decided on these.

    Returns
    -------
    int
        How many were new.

    Raises
    ------
    Stale
        The journal has another number of entries than `expected`.
    Refused
        An id is there already with other content, or in another job; or JSON cannot hold an entry.
    """
    new: dict[str, dict[str, Any]] = {}
    for row in _rows(n_job, entries):
        _check_same(new.setdefault(row["id"], row), row)
    for known in _known(connection, list(new)):
        _check_same(known, new.pop(known["id"]))
    if not new:
        return 0
    if expected is not None:
        n_there = value(connection, "SELECT count(*) FROM entry WHERE job = :job", job=n_job)
        if n_there != expected:
            raise Stale(
                f"it has {n_there} entries by now, not {expected}",
                "look at it again, then do it again",
                f"the journal of J{n_job}",
            )
    end = seals.of_journal(connection, n_job)
    chain = end.sha256
    for row in new.values():
        row["chain"] = chain = seals.link(chain, n_job, row["sha256"])
    connection.executemany(
        "INSERT INTO entry (job, id, at, kind, body, sha256, chain)"
        " VALUES (:job, :id, :at, :kind, :body, :sha256, :chain)",
        new.values(),
    )
    glances.forget(connection, n_job)
    seals.put(connection, seals.JOURNAL, str(n_job), seals.Seal(sha256=chain, n_entries=end.n_entries + len(new)))
    return len(new)


def parsed(body: str) -> "Entry":
    """The entry that a row's body holds."""
    from camerawright.journal.entries import ENTRY  # noqa: PLC0415  (lists need no entry)

    return ENTRY.validate_json(body, is_kept=True)


def body_sha256(body: str) -> str:
    """The SHA-256 of an entry's line of JSON."""
    return hashlib.sha256(body.encode()).hexdigest()


def _rows(n_job: int, entries: Sequence["Entry"]) -> Iterator[dict[str, Any]]:
    """Entries as rows."""
    from camerawright.journal.entries import written  # noqa: PLC0415  (lists need no entry)

    for entry in entries:
        try:
            body = written(entry)
            if _content(parsed(body)) != _content(entry):
                raise ValueError("infinity and not-a-number become null")
            at = instant_text(entry.at)
        except (ValueError, OverflowError) as error:  # pydantic's own errors are ValueErrors
            raise Refused(
                f"JSON cannot hold it: {error}",
                "give it finite numbers, plain text and a date within the calendar",
                f"the entry {entry.id} ({entry.kind})",
            ) from error
        yield {
            "job": n_job,
            "id": entry.id,
            "at": at,
            "kind": entry.kind,
            "body": body,
            "sha256": body_sha256(body),
        }


def _content(entry: "Entry") -> dict[str, Any]:
    """All of an entry but its moments, which Python calls unequal to themselves where summer time ends."""
    return entry.model_dump(exclude={"at": True, "becomes": {"at"}})


def _known(connection: Connection, ids: Sequence[str]) -> Iterator[dict[str, Any]]:
    """Those rows of the journal, of whichever job, that have one of these ids."""
    found = "SELECT id, job, sha256 FROM entry WHERE id IN (SELECT value FROM json_each(:ids))"
    yield from map(dict, connection.execute(found, {"ids": list_text(ids)}))


def _check_same(known: dict[str, Any], row: dict[str, Any]) -> None:
    """Refuse a second content, or a second job, under one id."""
    mend = "give the new entry an id of its own; to change an entry, add a correction"
    if known["job"] != row["job"]:
        mend = f"this is J{known['job']}'s journal: name J{known['job']}, or give the entry an id of its own"
        raise Refused(f"it is in the journal of J{known['job']} already", mend, f"the entry {row['id']}")
    if known["sha256"] != row["sha256"]:
        raise Refused("it is there already, with other content", mend, f"the entry {row['id']}")


def said(connection: Connection, job_ids: Sequence[str], kinds: Sequence[str]) -> dict[str, tuple["Entry", ...]]:
    """The entries of these kinds in the journals of some jobs, with the corrections and what those correct."""
    from camerawright.journal.entries import Corrected  # noqa: PLC0415  (lists need no entry)

    found: dict[str, dict[str, Entry]] = {job_id: {} for job_id in job_ids}
    damaged: set[str] = set()

    def take(where: str, **named: Iterable[object]) -> None:
        lists = {name: list_text(each) for name, each in named.items()}
        for row in connection.execute(f"SELECT job, body FROM entry WHERE {where}", lists):
            try:
                entry = parsed(row["body"])
            except ValueError:
                damaged.add(f"J{row['job']}")
            else:
                found.get(f"J{row['job']}", {})[entry.id] = entry  # a correction may name an entry of another job

    take(
        "job IN (SELECT value FROM json_each(:jobs))"
        " AND kind || '' IN (SELECT value FROM json_each(:kinds))",  # so that the index of jobs is used, not of kinds
        jobs=[int(job_id[1:]) for job_id in job_ids],
        kinds=[*kinds, "corrected"],
    )
    corrected = [
        each.entry
        for of_job in found.values()
        for each in of_job.values()
        if isinstance(each, Corrected) and each.entry not in of_job
    ]
    take("id IN (SELECT value FROM json_each(:ids))", ids=corrected)
    return {job_id: tuple(of_job.values()) for job_id, of_job in found.items() if job_id not in damaged}


class Journals:
    """Reads journals, and remembers the last ones read: a page folds the same journal again and again.

    Rows only ever get added, so what was read stays right and only later rows are read again.
    """

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._read: OrderedDict[int, tuple[int, tuple[Entry, ...]]] = OrderedDict()  # job: last row, entries in order

    def read(self, connection: Connection, n_job: int, newest: int | None = None) -> tuple["Entry", ...]:
        """The entries of a job, in the order of `in_order`; `newest` is the number of its last row, where known."""
        with self._lock:
            last, entries = self._read.get(n_job, (0, ()))
        if last == newest:
            return entries
        later = connection.execute(
            "SELECT n, body FROM entry WHERE job = :job AND n > :last ORDER BY n", {"job": n_job, "last": last}
        ).fetchall()
        if later:
            from camerawright.journal.entries import in_order  # noqa: PLC0415  (lists need no entry)

            last = later[-1]["n"]
            try:
                entries = tuple(in_order([*entries, *(parsed(row["body"]) for row in later)]))
            except ValueError as error:
                mend = "see `camerawright verify`, and restore a backup"
                raise Damaged("an entry cannot be read", mend, f"the journal of J{n_job}") from error
        with self._lock:
            if last >= self._read.get(n_job, (0, ()))[0]:  # another thread may have read further meanwhile
                self._read[n_job] = (last, entries)
                self._read.move_to_end(n_job)
            while len(self._read) > 1 and sum(len(read) for _, read in self._read.values()) > _CACHED_ENTRIES:
                self._read.popitem(last=False)
        return entries
