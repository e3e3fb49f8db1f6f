"""Owners, cameras and jobs in the database."""

import re
from collections.abc import Sequence
from dataclasses import replace
from typing import Final

from sqlalchemy import ColumnElement, Connection, Row, insert, select, update

from camerawright.journal.entries import part_key as folded
from camerawright.store.tables import CAMERA, JOB, OWNER
from camerawright.trouble import Refused
from camerawright.workshop.rows import Camera, Job, Owner, Visit

_JOB_ID: Final = re.compile(r"[Jj]?([0-9]{1,9})")
_NEAR: Final = 5


def take_in(connection: Connection, owner: Owner, camera: Camera, visit: Visit) -> Job:
    """A new job; the owner and the camera are found again where they are known.

    The camera keeps the spelling of its first visit. A variant given now is the variant from now on, for earlier
    visits too; none given leaves what is known.

    Raises
    ------
    Refused
        The owner's name, or the camera's maker, model or serial is blank.
    """
    _check_told(owner, camera)
    n_camera, camera = _camera(connection, camera)
    n_job = connection.scalars(
        insert(JOB)
        .values(
            owner=_n_owner(connection, owner),
            camera=n_camera,
            taken_in=visit.taken_in,
            owners_words=visit.owners_words,
            film_inside=visit.film_inside,
            accessories=list(visit.accessories),
            condition=visit.condition,
            wanted=visit.wanted,
            profile=visit.profile,
        )
        .returning(JOB.c.n)
    ).one()
    return Job(id=f"J{n_job}", owner=owner, camera=camera, visit=visit)


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
        select(JOB, OWNER.c.name, OWNER.c.contact, CAMERA.c.maker, CAMERA.c.model, CAMERA.c.serial, CAMERA.c.variant)
        .join(OWNER, JOB.c.owner == OWNER.c.n)
        .join(CAMERA, JOB.c.camera == CAMERA.c.n)
        .where(*conditions)
        .order_by(JOB.c.n)
    )
    return tuple(_job(row) for row in connection.execute(found))


def is_camera(camera: Camera) -> Sequence[ColumnElement[bool]]:
    """What holds of a row of that camera."""
    return (
        CAMERA.c.maker_key == folded(camera.maker),
        CAMERA.c.model_key == folded(camera.model),
        CAMERA.c.serial_key == folded(camera.serial),
    )


def _check_told(owner: Owner, camera: Camera) -> None:
    """Refuse blanks where two owners or cameras would be taken for one."""
    told = {"owner's name": owner.name, "maker": camera.maker, "model": camera.model, "serial number": camera.serial}
    blank = [name for name, text in told.items() if not text.strip()]
    if blank:
        mend = "give each; a camera without a serial number gets one of your own, on a tag that stays with it"
        raise Refused(f"blank: {', '.join(blank)}", mend, "the camera to take in")


def _n_owner(connection: Connection, owner: Owner) -> int:
    """The row of an owner, new or known by the same name and contact."""
    known = select(OWNER.c.n).where(OWNER.c.name == owner.name, OWNER.c.contact == owner.contact)
    n_owner = connection.scalar(known)
    if n_owner is None:
        new = insert(OWNER).values(name=owner.name, contact=owner.contact).returning(OWNER.c.n)
        n_owner = connection.scalars(new).one()
    return int(n_owner)


def _camera(connection: Connection, camera: Camera) -> tuple[int, Camera]:
    """The row of a camera, new or found again, and the camera as it is known from now on."""
    row = connection.execute(select(CAMERA).where(*is_camera(camera))).one_or_none()
    if row is None:
        new = (
            insert(CAMERA)
            .values(
                maker=camera.maker,
                model=camera.model,
                serial=camera.serial,
                variant=camera.variant,
                maker_key=folded(camera.maker),
                model_key=folded(camera.model),
                serial_key=folded(camera.serial),
                variant_key=camera.variant_key,
            )
            .returning(CAMERA.c.n)
        )
        return connection.scalars(new).one(), camera
    known = Camera(maker=row.maker, model=row.model, serial=row.serial, variant=row.variant)
    if camera.variant.strip() and camera.variant != known.variant:
        known = replace(known, variant=camera.variant)
        corrected = {"variant": known.variant, "variant_key": known.variant_key}
        connection.execute(update(CAMERA).where(CAMERA.c.n == row.n).values(corrected))
    return row.n, known


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
    camera = Camera(maker=row.maker, model=row.model, serial=row.serial, variant=row.variant)
    return Job(id=f"J{row.n}", owner=Owner(name=row.name, contact=row.contact), camera=camera, visit=visit)
