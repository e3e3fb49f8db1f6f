"""Where each job stands, kept beside the journals, so that a list of thousands of jobs reads no journal.

A glance is computed from a journal and can be computed again at any time: it has no seal, and is in no export. An entry
takes the glance of its job away in the same transaction. Each row says all it says once more, in one text. Where the
two differ, another program altered the row, and it is computed again. An index holds these rows: whoever asks reads no
other, however many jobs there are.
"""

from collections.abc import Iterable, Sequence
from dataclasses import asdict
from datetime import datetime
from typing import Any

from sqlalchemy import (
    ColumnElement,
    Connection,
    Row,
    Select,
    Table,
    delete,
    func,
    insert,
    literal_column,
    or_,
    select,
    text,
    update,
)

from camerawright.store import directory
from camerawright.store.tables import CAMERA, ENTRY, GLANCE, GLANCE_ALTERED, GLANCE_SAID, JOB, OWNER
from camerawright.wording.names import name_key
from camerawright.workshop.rows import Glance, Job


def forget(connection: Connection, n_job: int) -> None:
    """Something was entered: where the job stands has to be computed again."""
    connection.execute(delete(GLANCE).where(GLANCE.c.job == n_job))


def altered(connection: Connection) -> tuple[int, ...]:
    """The numbers of the jobs whose glance is not as it was kept."""
    return tuple(connection.scalars(select(GLANCE.c.job).where(text(GLANCE_ALTERED))))


def missing(connection: Connection, now: datetime, *, most: int | None) -> tuple[Job, ...]:
    """Jobs whose glance is missing, altered, or no longer holds, the newest first."""
    found = [*altered(connection), *connection.scalars(select(GLANCE.c.job).where(GLANCE.c.good_until <= now))]
    if connection.scalar(_count(JOB)) != connection.scalar(_count(GLANCE)):
        has_one = select(GLANCE.c.job).where(GLANCE.c.job == JOB.c.n).exists()
        found += connection.scalars(select(JOB.c.n).where(~has_one).order_by(JOB.c.n.desc()).limit(most))
    return directory.jobs(connection, JOB.c.n.in_(sorted(found, reverse=True)[:most]))[::-1] if found else ()


def _count(table: Table) -> Select[Any]:
    return select(func.count()).select_from(table)


def put(connection: Connection, found: Iterable[tuple[str, int, Glance]]) -> None:
    """Keep glances of jobs that have as many entries as they were computed from."""
    for job_id, n_entries, glance in found:
        n_job = directory.number(connection, job_id)
        forget(connection, n_job)
        if connection.scalar(select(func.count()).where(ENTRY.c.job == n_job)) == n_entries:
            connection.execute(insert(GLANCE).values(job=n_job, **asdict(glance)))
            connection.execute(update(GLANCE).where(GLANCE.c.job == n_job).values(said=text(GLANCE_SAID)))


def count(connection: Connection, *, is_done: bool, words: str = "") -> int:
    """How many jobs there are, on the bench or done."""
    return connection.scalar(_of(select(func.count()), is_done, words)) or 0


def page(
    connection: Connection, *, is_done: bool, first: int, most: int | None, words: str = ""
) -> tuple[tuple[Job, Glance], ...]:
    """Some of the jobs on the bench, what was worked on last first; or of those that are done, the newest first."""
    order = [GLANCE.c.job.desc()] if is_done else _last_worked_on()
    found = _of(select(GLANCE.c.job), is_done, words).order_by(*order).offset(first).limit(most)
    kept = connection.execute(
        select(GLANCE).where(GLANCE.c.job.in_(found), GLANCE.c.said == literal_column(GLANCE_SAID))
    )
    glances = {f"J{row.job}": _glance(row) for row in kept}
    jobs = {job.id: job for job in directory.jobs(connection, JOB.c.n.in_(found))}
    numbers = (f"J{row.job}" for row in connection.execute(found))
    return tuple((jobs[job_id], glances[job_id]) for job_id in numbers if job_id in glances)


def _last_worked_on() -> list[ColumnElement[Any]]:
    """An order of glances: by the last entry, the newest first; a job without any counts on the day it was taken in."""
    of_job = select(ENTRY.c.at).where(ENTRY.c.job == GLANCE.c.job).correlate(GLANCE)
    last = of_job.order_by(ENTRY.c.n.desc()).limit(1).scalar_subquery()
    taken_in = select(JOB.c.taken_in).where(JOB.c.n == GLANCE.c.job).correlate(GLANCE).scalar_subquery()
    return [func.coalesce(func.date(last), taken_in).desc(), last.desc().nulls_first(), GLANCE.c.job.desc()]


def _of(what: Select[tuple[int]], is_done: bool, words: str) -> Select[tuple[int]]:
    """The jobs with a glance, whose camera or owner has all those words in its name."""
    found = what.select_from(GLANCE).where(GLANCE.c.is_done == is_done)
    if not words.split():
        return found
    return (
        found.join(JOB, GLANCE.c.job == JOB.c.n)
        .join(OWNER, JOB.c.owner == OWNER.c.n)
        .join(CAMERA, JOB.c.camera == CAMERA.c.n)
        .where(*map(_has, words.split()))
    )


def _has(word: str) -> ColumnElement[bool]:
    """Whether a word is in the name of the camera, its number or its owner's name."""
    key = name_key(word)
    keys: Sequence[ColumnElement[str]] = (CAMERA.c.maker_key, CAMERA.c.model_key, CAMERA.c.serial_key)
    return or_(*(each.contains(key, autoescape=True) for each in keys), OWNER.c.name.icontains(word, autoescape=True))


def _glance(row: Row[Any]) -> Glance:
    return Glance(**{name: value for name, value in row._asdict().items() if name not in {"job", "said"}})
