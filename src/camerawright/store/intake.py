"""What was told at the take-in is put right afterwards; a job that nobody entered anything for is taken back."""

from collections.abc import Sequence
from typing import Any

from sqlalchemy import Column, Connection, Row, delete, func, select, update

from camerawright.store import directory, seals
from camerawright.store.tables import CAMERA, ENTRY, GLANCE, JOB, OWNER
from camerawright.trouble import Refused
from camerawright.wording.names import slip_of
from camerawright.workshop.rows import Camera, Job, Owner


def corrected(connection: Connection, n_job: int, owner: Owner, camera: Camera) -> Job:
    """Give a job another owner or camera; other jobs keep theirs.

    A camera or owner that is known by these names already is found again; one that no job has any more is forgotten.

    Raises
    ------
    Refused
        The owner's name, or the camera's maker, model or serial is blank.
    """
    directory.check_told(owner, camera)
    before = connection.execute(select(JOB.c.owner, JOB.c.camera).where(JOB.c.n == n_job)).one()
    n_camera, _ = directory.n_camera(connection, camera)
    values = {"owner": directory.n_owner(connection, owner), "camera": n_camera}
    connection.execute(update(JOB).where(JOB.c.n == n_job).values(values))
    seals.seal_row(connection, JOB.name, n_job)
    if n_camera == before.camera:
        _spell(connection, n_camera, camera)
    _forget_unused(connection, before.owner, before.camera)
    return directory.jobs(connection, JOB.c.n == n_job)[0]


def _spell(connection: Connection, n_camera: int, camera: Camera) -> None:
    """Give the same camera another spelling, or another variant."""
    told = {"maker": camera.maker, "model": camera.model, "serial": camera.serial, "variant": camera.variant}
    values = {**told, "variant_key": camera.variant_key}
    connection.execute(update(CAMERA).where(CAMERA.c.n == n_camera).values(values))
    seals.seal_row(connection, CAMERA.name, n_camera)


def take_back(connection: Connection, n_job: int) -> None:
    """Forget a job that was taken in by mistake.

    Raises
    ------
    Refused
        Something was entered for it.
    """
    n_entries = connection.scalar(select(func.count()).select_from(ENTRY).where(ENTRY.c.job == n_job)) or 0
    if n_entries:
        what = "1 entry stands" if n_entries == 1 else f"{n_entries} entries stand"
        mend = "correct the take-in, or close the job and hand it back: what was entered is never thrown away"
        raise Refused(f"{what} in its journal", mend, f"J{n_job}")
    before = connection.execute(select(JOB.c.owner, JOB.c.camera).where(JOB.c.n == n_job)).one()
    connection.execute(delete(GLANCE).where(GLANCE.c.job == n_job))
    connection.execute(delete(JOB).where(JOB.c.n == n_job))
    seals.take_away(connection, JOB.name, str(n_job))
    _forget_unused(connection, before.owner, before.camera)


def _forget_unused(connection: Connection, n_owner: int, n_camera: int) -> None:
    """Forget an owner and a camera that no job has any more."""
    named: tuple[tuple[Column[Any], Column[Any], int], ...] = (
        (OWNER.c.n, JOB.c.owner, n_owner),
        (CAMERA.c.n, JOB.c.camera, n_camera),
    )
    for column, of_job, n in named:
        if connection.scalar(select(JOB.c.n).where(of_job == n).limit(1)) is None:
            connection.execute(delete(column.table).where(column == n))
            seals.take_away(connection, column.table.name, str(n))


def alike(connection: Connection, camera: Camera, *, most: int) -> Sequence[Camera]:
    """Cameras that this one may be, by a slip in maker, model or serial number; none if it is known as it is.

    First those of the same number, written otherwise or under a maker or model that differs by a slip; then one of
    each kind whose maker or model differs by a slip.
    """
    key = directory.keys(camera)
    kinds = connection.execute(select(CAMERA.c.maker_key, CAMERA.c.model_key).distinct()).all()
    near = [(maker, model) for maker, model in kinds if slip_of(key[0], maker) and slip_of(key[1], model)]
    is_known_kind = (key[0], key[1]) in near
    found: list[Row[tuple[Any, ...]]] = []
    for maker, model in sorted(near, key=lambda kind: kind != (key[0], key[1])):
        rows = connection.execute(select(CAMERA).where(CAMERA.c.maker_key == maker, CAMERA.c.model_key == model)).all()
        same = [row for row in rows if row.serial_key.replace(" ", "") == key[2].replace(" ", "")]
        if any((row.maker_key, row.model_key, row.serial_key) == key for row in same):
            return ()
        found += same or ([] if is_known_kind else [*rows[-1:]])
    return tuple(directory.known(row) for row in found[:most])
