"""Where each job stands, kept beside the journals, so that a list of thousands of jobs reads no journal.

A glance is computed from a journal and can be computed again at any time: it has no seal, and is in no export. An entry
takes the glance of its job away in the same transaction. Each row says all it says once more, in one text. Where the
two differ, another program altered the row, and it is computed again. An index holds these rows: whoever asks reads no
other, however many jobs there are.
"""

from collections.abc import Iterable
from datetime import datetime
from sqlite3 import Connection, Row
from typing import Final

from camerawright.store import directory
from camerawright.store.columns import instant, instant_text, list_text, value
from camerawright.store.tables import GLANCE_ALTERED, GLANCE_SAID
from camerawright.wording.names import name_key
from camerawright.workshop.rows import Glance, Job

_CAMERAS: Final = " JOIN job ON job.n = glance.job JOIN camera ON camera.n = job.camera"
_LAST_WORKED_ON: Final = "COALESCE(date(last), taken_in) DESC, last DESC NULLS FIRST, job DESC"
"""By the last entry, the newest first; a job without any counts on the day it was taken in."""


def forget(connection: Connection, n_job: int) -> None:
    """Something was entered: where the job stands has to be computed again."""
    connection.execute("DELETE FROM glance WHERE job = :job", {"job": n_job})


def altered(connection: Connection) -> tuple[int, ...]:
    """The numbers of the jobs whose glance is not as it was kept."""
    return tuple(row["job"] for row in connection.execute(f"SELECT job FROM glance WHERE {GLANCE_ALTERED}"))


def missing(connection: Connection, now: datetime, *, most: int | None) -> tuple[Job, ...]:
    """Jobs whose glance is missing, altered, or no longer holds, the newest first."""
    ended = connection.execute("SELECT job FROM glance WHERE good_until <= :now", {"now": instant_text(now)})
    found = [*altered(connection), *(row["job"] for row in ended)]
    if value(connection, "SELECT (SELECT count(*) FROM job) <> (SELECT count(*) FROM glance)"):
        without = connection.execute(
            "SELECT n FROM job WHERE NOT EXISTS (SELECT 1 FROM glance WHERE job = job.n) ORDER BY n DESC LIMIT :most",
            {"most": _limit(most)},
        )
        found += [row["n"] for row in without]
    return directory.jobs_numbered(connection, sorted(found, reverse=True)[:most])[::-1] if found else ()


def put(connection: Connection, found: Iterable[tuple[str, int, Glance]]) -> None:
    """Keep glances of jobs that have as many entries as they were computed from."""
    for job_id, n_entries, glance in found:
        n_job = directory.number(connection, job_id)
        forget(connection, n_job)
        if value(connection, "SELECT count(*) FROM entry WHERE job = :job", job=n_job) == n_entries:
            good_until = None if glance.good_until is None else instant_text(glance.good_until)
            connection.execute(
                "INSERT INTO glance (job, stage, is_done, n_off, n_owed, next_step, good_until)"
                " VALUES (:job, :stage, :is_done, :n_off, :n_owed, :next_step, :good_until)",
                {**vars(glance), "job": n_job, "good_until": good_until},
            )
            connection.execute(f"UPDATE glance SET said = {GLANCE_SAID} WHERE job = :job", {"job": n_job})


def count(connection: Connection, *, is_done: bool, words: str = "") -> int:
    """How many jobs there are, on the bench or done."""
    where, named = _of(is_done, words)
    return int(value(connection, f"SELECT count(*) FROM {where}", **named))


def page(
    connection: Connection, *, is_done: bool, first: int, most: int | None, words: str = ""
) -> tuple[tuple[Job, Glance], ...]:
    """Some of the jobs on the bench, what was worked on last first; or of those that are done, the newest first."""
    where, named = _of(is_done, words)
    found = f"SELECT glance.job FROM {where} ORDER BY glance.job DESC"
    if not is_done:
        last = "(SELECT at FROM entry WHERE entry.job = glance.job ORDER BY entry.n DESC LIMIT 1)"
        taken_in = "(SELECT taken_in FROM job WHERE job.n = glance.job)"
        found = f"SELECT job FROM (SELECT glance.job, {last} AS last, {taken_in} AS taken_in FROM {where})"
        found += f" ORDER BY {_LAST_WORKED_ON}"
    shown = connection.execute(f"{found} LIMIT :most OFFSET :first", {**named, "most": _limit(most), "first": first})
    numbers = [row["job"] for row in shown]
    kept = connection.execute(
        "SELECT job, stage, is_done, n_off, n_owed, next_step, good_until FROM glance"
        f" WHERE job IN (SELECT value FROM json_each(:jobs)) AND said = {GLANCE_SAID}",
        {"jobs": list_text(numbers)},
    )
    glances = {f"J{row['job']}": _glance(row) for row in kept}
    jobs = {job.id: job for job in directory.jobs_numbered(connection, numbers)}
    return tuple((jobs[f"J{n}"], glances[f"J{n}"]) for n in numbers if f"J{n}" in glances)


def _limit(most: int | None) -> int:
    """How many rows at most, as SQLite takes it: -1 is all."""
    return -1 if most is None else most


def _of(is_done: bool, words: str) -> tuple[str, dict[str, object]]:
    """The jobs with a glance, whose camera or owner has all those words in its name; and what that names."""
    where, named = "glance.is_done = :is_done", dict[str, object]({"is_done": is_done})
    for n, word in enumerate(words.split()):
        keys = " OR ".join(f"instr(camera.{each}_key, :key_{n}) > 0" for each in ("maker", "model", "serial"))
        owners = f"SELECT n FROM owner WHERE instr(lower(name), lower(:word_{n})) > 0"  # once, and not for every job
        where += f" AND ({keys} OR job.owner IN ({owners}))"
        named |= {f"key_{n}": name_key(word), f"word_{n}": word}
    return f"glance{_CAMERAS if words.split() else ''} WHERE {where}", named


def _glance(row: Row) -> Glance:
    """A row of `page` as a glance."""
    return Glance(
        stage=row["stage"],
        is_done=bool(row["is_done"]),
        n_off=row["n_off"],
        n_owed=row["n_owed"],
        next_step=row["next_step"],
        good_until=None if row["good_until"] is None else instant(row["good_until"]),
    )
