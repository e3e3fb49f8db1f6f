"""Owners, cameras and jobs in the database."""

import re
from collections.abc import Iterable, Sequence
from dataclasses import replace
from itertools import islice
from typing import Any, Final

from sqlalchemy import Column, ColumnElement, Connection, Row, func, insert, select, update

from camerawright.store import seals
from camerawright.store.tables import CAMERA, ENTRY, JOB, OWNER
from camerawright.trouble import Refused, Stale
from camerawright.wording.names import name_key as folded
from camerawright.workshop.rows import Camera, Job, Kin, Names, Owner, Variant, Visit

_JOB_ID: Final = re.compile(r"[Jj]?([0-9]{1,9})")
_NEAR: Final = 5
_MOST_NAMES: Final = 500
_LATE_ROWS: Final = 2000  # owners and cameras that are looked through for names
_NUMBERS_A_QUERY: Final = 500
_LATELY: Final = 500  # readings that are looked through for what the bench was told last
_CAMERA_COLUMNS: Final = (CAMERA.c.maker, CAMERA.c.model, CAMERA.c.serial, CAMERA.c.variant, CAMERA.c.f_numbers)


def take_in(
    connection: Connection,
    owner: Owner,
    camera: Camera,
    visit: Visit,
    form: str | None = None,
    seen: Sequence[Job] | None = None,
) -> Job:
    """A new job; the owner and the camera are found again where they are known.

    A form that was sent before gives the job that came of it then.

    The camera keeps the spelling of its first visit. A variant or apertures given now hold from now on, for earlier
    visits too; none given leaves what is known. A camera whose apertures nobody entered has those of the last one of
    its variant, where that variant has a name.

    Raises
    ------
    Refused
        The owner's name, or the camera's maker, model or serial is blank; or the form told something else before.
    Stale
        The camera has other jobs by now than those that were `seen`, where that is told.
    """
    check_told(owner, camera)
    if form and (sent := of_form(connection, form)):
        return _told_again(sent, owner, camera, visit)
    _check_seen(jobs(connection, *is_camera(camera)), seen)
    camera_row, camera = n_camera(connection, camera)
    n_job = connection.scalars(
        insert(JOB)
        .values(
            owner=n_owner(connection, owner),
            camera=camera_row,
            taken_in=visit.taken_in,
            owners_words=visit.owners_words,
            film_inside=visit.film_inside,
            accessories=list(visit.accessories),
            condition=visit.condition,
            wanted=visit.wanted,
            profile=visit.profile,
            form=form or None,
        )
        .returning(JOB.c.n)
    ).one()
    seals.seal_row(connection, JOB.name, n_job)
    return Job(id=f"J{n_job}", owner=owner, camera=camera, visit=visit)


def of_form(connection: Connection, form: str) -> Job | None:
    """The job that came of a form; None where it was not sent yet."""
    return next(iter(jobs(connection, JOB.c.form == form)), None)


def _told_again(job: Job, owner: Owner, camera: Camera, visit: Visit) -> Job:
    """The job of a form that was sent twice, if it told the same both times."""
    is_same = (job.owner, job.visit) == (owner, visit)
    if is_same and all(folded(a) == folded(b) for a, b in zip(_names(job.camera), _names(camera), strict=True)):
        return job
    raise Refused("this form was sent before, and told something else", f"look at {job.id}", "the camera to take in")


def _names(camera: Camera) -> tuple[str, str, str]:
    return camera.maker, camera.model, camera.serial


def number(connection: Connection, job_id: str) -> int:
    """The number of a job that exists: "J3", "j3" and "3" are the same.

    Raises
    ------
    Refused
        There is none; those near it are named.
    """
    match = _JOB_ID.fullmatch(job_id.strip())
    n_job = int(match[1]) if match else None
    if n_job is not None and connection.scalar(select(JOB.c.n).where(JOB.c.n == n_job)) is not None:
        return n_job
    there = list(connection.scalars(select(JOB.c.n)))
    if not there:
        raise Refused("there is no job yet", "take a camera in first", f"job {job_id}")
    near = sorted(there, key=lambda n: abs(n - n_job) if n_job is not None else -n)[:_NEAR]
    last = "" if len(near) == len(there) else f" (of {len(there)})"
    raise Refused(
        "there is none of that id",
        f"take one that exists, such as {', '.join(f'J{n}' for n in sorted(near))}{last}",
        f"job {job_id}",
    )


def jobs(connection: Connection, *conditions: ColumnElement[bool]) -> tuple[Job, ...]:
    """The jobs that meet all conditions, in the order in which they were taken in."""
    found = (
        select(JOB, OWNER.c.name, OWNER.c.contact, *_CAMERA_COLUMNS)
        .join(OWNER, JOB.c.owner == OWNER.c.n)
        .join(CAMERA, JOB.c.camera == CAMERA.c.n)
        .where(*conditions)
        .order_by(JOB.c.n)
    )
    return tuple(_job(row) for row in connection.execute(found))


def kin(connection: Connection, camera: Camera) -> tuple[Kin, ...]:
    """The jobs of all cameras of the same maker and model, whatever their variant, the oldest first."""
    last = select(func.max(ENTRY.c.n)).where(ENTRY.c.job == JOB.c.n).scalar_subquery().label("last")
    found = (
        select(JOB.c.n, *_CAMERA_COLUMNS[:4], CAMERA.c.variant_key, last)
        .join(CAMERA, JOB.c.camera == CAMERA.c.n)
        .where(CAMERA.c.maker_key == folded(camera.maker), CAMERA.c.model_key == folded(camera.model))
        .order_by(JOB.c.n)
    )
    return tuple(
        Kin(
            job=f"J{row.n}",
            variant_key=row.variant_key,
            variant=row.variant or f"{row.maker} {row.model}",
            last_entry=row.last or 0,
        )
        for row in connection.execute(found)
    )


def n_variants(connection: Connection) -> int:
    """How many variants have been here."""
    return connection.scalar(select(func.count(CAMERA.c.variant_key.distinct()))) or 0


def variants(connection: Connection, *, first: int, most: int) -> tuple[Variant, ...]:
    """Some of the variants that have been here, by name."""
    newest = func.max(CAMERA.c.n).label("n")
    keys = (
        select(CAMERA.c.variant_key, newest, func.count(JOB.c.n).label("n_jobs"))
        .join(JOB, JOB.c.camera == CAMERA.c.n)
        .group_by(CAMERA.c.variant_key)
        .order_by(CAMERA.c.variant_key)
        .offset(first)
        .limit(most)
        .subquery()
    )
    found = select(keys.c.n_jobs, *_CAMERA_COLUMNS).join(CAMERA, CAMERA.c.n == keys.c.n).order_by(keys.c.variant_key)
    return tuple(Variant(camera=known(row), n_jobs=row.n_jobs) for row in connection.execute(found))


def last_entries(connection: Connection, job_ids: Sequence[str]) -> dict[str, int]:
    """The number of the last entry of each of some jobs, in their order; 0 where there is none."""
    found: dict[str, int] = {}
    left = iter(job_ids)
    while some := [int(job_id[1:]) for job_id in islice(left, _NUMBERS_A_QUERY)]:
        last = select(func.max(ENTRY.c.n)).where(ENTRY.c.job == JOB.c.n).scalar_subquery()
        rows = connection.execute(select(JOB.c.n, last.label("last")).where(JOB.c.n.in_(some)))
        found |= {f"J{row.n}": row.last or 0 for row in rows}
    return {job_id: found[job_id] for job_id in job_ids if job_id in found}


def lately_read(connection: Connection) -> dict[str, int]:
    """The jobs of the newest readings, the job of the newest first, and the number of the last entry of each."""
    newest = select(ENTRY.c.job).where(ENTRY.c.kind == "measured").order_by(ENTRY.c.n.desc()).limit(_LATELY)
    return last_entries(connection, [f"J{n}" for n in dict.fromkeys(connection.scalars(newest))])


def names(connection: Connection) -> Names:
    """The names that were given lately, in order: so many of each as a form can propose."""

    def newest(column: Column[Any]) -> Iterable[Any]:
        return connection.scalars(select(column).order_by(column.table.c.n.desc()).limit(_LATE_ROWS))

    def of(column: Column[str]) -> tuple[str, ...]:
        return tuple(sorted(list(dict.fromkeys(filter(None, newest(column))))[:_MOST_NAMES]))

    f_numbers = {tuple(each) for each in newest(CAMERA.c.f_numbers) if each}
    return Names(
        owners=of(OWNER.c.name),
        makers=of(CAMERA.c.maker),
        models=of(CAMERA.c.model),
        variants=of(CAMERA.c.variant),
        f_numbers=tuple(f_numbers),
    )


def keys(camera: Camera) -> tuple[str, str, str]:
    """What a camera is compared by: the keys of its maker, model and serial number."""
    return folded(camera.maker), folded(camera.model), folded(camera.serial)


def is_camera(camera: Camera) -> Sequence[ColumnElement[bool]]:
    """What holds of a row of that camera."""
    return (
        CAMERA.c.maker_key == folded(camera.maker),
        CAMERA.c.model_key == folded(camera.model),
        CAMERA.c.serial_key == folded(camera.serial),
    )


def _check_seen(there: Sequence[Job], seen: Sequence[Job] | None) -> None:
    """Refuse a camera that somebody took in since the caller looked: nobody was asked about that job."""
    new = [] if seen is None else sorted({job.id for job in there} - {job.id for job in seen})
    if new:
        what = f"somebody took it in meanwhile, as {', '.join(new)}"
        raise Stale(what, f"look at {new[0]}, then do it again", "the camera to take in")


def check_told(owner: Owner, camera: Camera) -> None:
    """Refuse blanks where two owners or cameras would be taken for one."""
    told = {"owner's name": owner.name, "maker": camera.maker, "model": camera.model, "serial number": camera.serial}
    blank = [name for name, text in told.items() if not text.strip()]
    if blank:
        mend = "give each; a camera without a serial number gets one of your own, on a tag that stays with it"
        raise Refused(f"blank: {', '.join(blank)}", mend, "the camera to take in")


def n_owner(connection: Connection, owner: Owner) -> int:
    """The row of an owner, new or known by the same name and contact."""
    by_name = select(OWNER.c.n).where(OWNER.c.name == owner.name, OWNER.c.contact == owner.contact)
    found = connection.scalar(by_name)
    if found is None:
        new = insert(OWNER).values(name=owner.name, contact=owner.contact).returning(OWNER.c.n)
        found = connection.scalars(new).one()
        seals.seal_row(connection, OWNER.name, found)
    return int(found)


def n_camera(connection: Connection, camera: Camera) -> tuple[int, Camera]:
    """The row of a camera, new or found again, and the camera as it is known from now on."""
    row = connection.execute(select(CAMERA).where(*is_camera(camera))).one_or_none()
    told = camera if row is None else known(row)
    if camera.variant.strip():
        told = replace(told, variant=camera.variant)
    told = replace(told, f_numbers=camera.f_numbers or told.f_numbers or _apertures_of_variant(connection, told))
    changing = {
        "variant": told.variant,
        "variant_key": told.variant_key,
        "f_numbers": list(told.f_numbers),
    }
    if row is not None:
        connection.execute(update(CAMERA).where(CAMERA.c.n == row.n).values(changing))
        seals.seal_row(connection, CAMERA.name, row.n)
        return row.n, told
    new = insert(CAMERA).values(
        maker=told.maker,
        model=told.model,
        serial=told.serial,
        maker_key=folded(told.maker),
        model_key=folded(told.model),
        serial_key=folded(told.serial),
        **changing,
    )
    n_new = connection.scalars(new.returning(CAMERA.c.n)).one()
    seals.seal_row(connection, CAMERA.name, n_new)
    return n_new, told


def _apertures_of_variant(connection: Connection, camera: Camera) -> tuple[float, ...]:
    """Those of the last camera of its variant that has some; a variant without a name says nothing of a lens."""
    if not camera.variant.strip():
        return ()
    of_variant = (
        select(CAMERA.c.f_numbers).where(CAMERA.c.variant_key == camera.variant_key).order_by(CAMERA.c.n.desc())
    )
    return next((tuple(f_numbers) for f_numbers in connection.scalars(of_variant) if f_numbers), ())


def set_apertures(connection: Connection, n_job: int, f_numbers: Sequence[float]) -> None:
    """Enter the apertures of the camera of a job, in place of those that are known."""
    n_camera = connection.scalars(select(JOB.c.camera).where(JOB.c.n == n_job)).one()
    connection.execute(update(CAMERA).where(CAMERA.c.n == n_camera).values(f_numbers=list(f_numbers)))
    seals.seal_row(connection, CAMERA.name, n_camera)


def known(row: Any) -> Camera:
    """A row that has the columns of a camera as one."""
    return Camera(
        maker=row.maker, model=row.model, serial=row.serial, variant=row.variant, f_numbers=tuple(row.f_numbers)
    )


def _job(row: Row[tuple[object, ...]]) -> Job:
    """A row of `jobs` as a job."""
    visit = Visit(
        taken_in=row.taken_in,
        owners_words=row.owners_words,
        film_inside=row.film_inside,
        accessories=tuple(row.accessories),
        condition=row.condition,
        wanted=row.wanted,
        profile=row.profile,
    )
    return Job(id=f"J{row.n}", owner=Owner(name=row.name, contact=row.contact), camera=known(row), visit=visit)
