"""What was told at the take-in is put right afterwards; a job that nobody entered anything for is taken back."""

from collections.abc import Sequence
from sqlite3 import Connection, Row

from camerawright.store import directory, glances, seals
from camerawright.store.columns import value
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
    before = _of_job(connection, n_job)
    n_camera, _ = directory.n_camera(connection, camera)
    now = {"job": n_job, "owner": directory.n_owner(connection, owner), "camera": n_camera}
    connection.execute("UPDATE job SET owner = :owner, camera = :camera WHERE n = :job", now)
    seals.seal_row(connection, "job", n_job)
    if n_camera == before["camera"]:
        _spell(connection, n_camera, camera)
    _forget_unused(connection, before)
    return directory.jobs_numbered(connection, [n_job])[0]


def _of_job(connection: Connection, n_job: int) -> dict[str, int]:
    """The rows of a job's owner and camera."""
    row: Row = connection.execute("SELECT owner, camera FROM job WHERE n = :job", {"job": n_job}).fetchone()
    return {"owner": row["owner"], "camera": row["camera"]}


def _spell(connection: Connection, n_camera: int, camera: Camera) -> None:
    """Give the same camera another spelling, or another variant."""
    connection.execute(
        "UPDATE camera SET maker = :maker, model = :model, serial = :serial, variant = :variant,"
        " variant_key = :variant_key WHERE n = :n",
        {**vars(camera), "variant_key": camera.variant_key, "n": n_camera},
    )
    seals.seal_row(connection, "camera", n_camera)


def take_back(connection: Connection, n_job: int) -> None:
    """Forget a job that was taken in by mistake.

    Raises
    ------
    Refused
        Something was entered for it.
    """
    n_entries = value(connection, "SELECT count(*) FROM entry WHERE job = :job", job=n_job)
    if n_entries:
        what = "1 entry stands" if n_entries == 1 else f"{n_entries} entries stand"
        mend = "correct the take-in, or close the job and hand it back: what was entered is never thrown away"
        raise Refused(f"{what} in its journal", mend, f"J{n_job}")
    before = _of_job(connection, n_job)
    glances.forget(connection, n_job)
    connection.execute("DELETE FROM job WHERE n = :job", {"job": n_job})
    seals.take_away(connection, "job", str(n_job))
    _forget_unused(connection, before)


def _forget_unused(connection: Connection, before: dict[str, int]) -> None:
    """Forget an owner and a camera that no job has any more."""
    for table, n in before.items():
        unused = f"DELETE FROM {table} WHERE n = :n AND NOT EXISTS (SELECT 1 FROM job WHERE job.{table} = :n)"
        if connection.execute(unused, {"n": n}).rowcount:
            seals.take_away(connection, table, str(n))


def alike(connection: Connection, camera: Camera, *, most: int) -> Sequence[Camera]:
    """Cameras that this one may be, by a slip in maker, model or serial number; none if it is known as it is.

    First those of the same number, written otherwise or under a maker or model that differs by a slip; then one of
    each kind whose maker or model differs by a slip.
    """
    told = directory.keys(camera)
    maker_key, model_key, serial_key = told.values()
    if value(connection, f"SELECT n FROM camera WHERE {directory.IS_CAMERA}", **told) is not None:
        return ()
    kinds = connection.execute("SELECT DISTINCT maker_key, model_key FROM camera").fetchall()
    near = [(maker, model) for maker, model in kinds if slip_of(maker_key, maker) and slip_of(model_key, model)]
    is_known_kind = (maker_key, model_key) in near
    found: list[Row] = []
    for maker, model in sorted(near, key=lambda kind: kind != (maker_key, model_key)):
        rows = connection.execute(
            "SELECT maker, model, serial, variant, f_numbers, serial_key FROM camera"
            " WHERE maker_key = :maker AND model_key = :model ORDER BY n",
            {"maker": maker, "model": model},
        ).fetchall()
        same = [row for row in rows if row["serial_key"].replace(" ", "") == serial_key.replace(" ", "")]
        found += same or ([] if is_known_kind else rows[-1:])
    return tuple(directory.known(row) for row in found[:most])
