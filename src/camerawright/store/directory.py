"""Owners, cameras and jobs in the database."""

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from sqlite3 import Connection, Row
from typing import Final

from camerawright.store import seals
from camerawright.store.columns import day, list_text, value, values
from camerawright.trouble import Refused, Stale
from camerawright.wording.names import name_key as folded
from camerawright.workshop.rows import Camera, Job, Kin, Names, Owner, Variant, Visit

_JOB_ID: Final = re.compile(r"[Jj]?([0-9]{1,9})")
_NEAR: Final = 5
_MOST_NAMES: Final = 500
_LATE_ROWS: Final = 2000  # owners and cameras that are looked through for names
_LATELY: Final = 500  # readings that are looked through for what the bench was told last
_CAMERA: Final = "camera.maker, camera.model, camera.serial, camera.variant, camera.f_numbers"
_LAST: Final = "(SELECT max(entry.n) FROM entry WHERE entry.job = job.n) AS last"
IS_CAMERA: Final = "maker_key = :maker_key AND model_key = :model_key AND serial_key = :serial_key"
"""What holds of the row of a camera, by `keys`."""


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
    _check_seen(jobs(connection, IS_CAMERA, keys(camera)), seen)
    camera_row, camera = n_camera(connection, camera)
    n_job = value(
        connection,
        "INSERT INTO job (owner, camera, taken_in, owners_words, film_inside, accessories, condition, wanted, profile,"
        " form) VALUES (:owner, :camera, :taken_in, :owners_words, :film_inside, :accessories, :condition, :wanted,"
        " :profile, :form) RETURNING n",
        **{
            **vars(visit),
            "owner": n_owner(connection, owner),
            "camera": camera_row,
            "taken_in": visit.taken_in.isoformat(),
            "accessories": list_text(visit.accessories),
            "form": form or None,
        },
    )
    seals.seal_row(connection, "job", n_job)
    return Job(id=f"J{n_job}", owner=owner, camera=camera, visit=visit)


def of_form(connection: Connection, form: str) -> Job | None:
    """The job that came of a form; None where it was not sent yet."""
    return next(iter(jobs(connection, "form = :form", {"form": form})), None)


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
    if n_job is not None and value(connection, "SELECT n FROM job WHERE n = :job", job=n_job) is not None:
        return n_job
    n_jobs = value(connection, "SELECT count(*) FROM job")
    if not n_jobs:
        raise Refused("there is no job yet", "take a camera in first", f"job {job_id}")
    order = "n DESC" if n_job is None else "abs(n - :job), n"
    found = connection.execute(f"SELECT n FROM job ORDER BY {order} LIMIT {_NEAR}", {"job": n_job})
    near = [row["n"] for row in found]
    last = "" if len(near) == n_jobs else f" (of {n_jobs})"
    raise Refused(
        "there is none of that id",
        f"take one that exists, such as {', '.join(f'J{n}' for n in sorted(near))}{last}",
        f"job {job_id}",
    )


def jobs(connection: Connection, where: str = "TRUE", named: Mapping[str, object] | None = None) -> tuple[Job, ...]:
    """The jobs of which that holds, in the order in which they were taken in."""
    found = connection.execute(
        "SELECT job.n, taken_in, owners_words, film_inside, accessories, condition, wanted, profile,"
        f" owner.name, owner.contact, {_CAMERA}"
        " FROM job JOIN owner ON owner.n = job.owner JOIN camera ON camera.n = job.camera"
        f" WHERE {where} ORDER BY job.n",
        named or {},
    )
    return tuple(map(_job, found))


def jobs_numbered(connection: Connection, numbers: Iterable[int]) -> tuple[Job, ...]:
    """The jobs of those numbers that exist, in the order in which they were taken in."""
    return jobs(connection, "job.n IN (SELECT value FROM json_each(:jobs))", {"jobs": list_text(numbers)})


def kin(connection: Connection, camera: Camera) -> tuple[Kin, ...]:
    """The jobs of all cameras of the same maker and model, whatever their variant, the oldest first."""
    found = connection.execute(
        f"SELECT job.n, maker, model, variant, variant_key, {_LAST} FROM job JOIN camera ON camera.n = job.camera"
        " WHERE maker_key = :maker_key AND model_key = :model_key ORDER BY job.n",
        keys(camera),
    )
    return tuple(
        Kin(
            job=f"J{row['n']}",
            variant_key=row["variant_key"],
            variant=row["variant"] or f"{row['maker']} {row['model']}",
            last_entry=row["last"] or 0,
        )
        for row in found
    )


def n_variants(connection: Connection) -> int:
    """How many variants have been here."""
    return int(value(connection, "SELECT count(DISTINCT variant_key) FROM camera"))


def variants(connection: Connection, *, first: int, most: int) -> tuple[Variant, ...]:
    """Some of the variants that have been here, by name."""
    found = connection.execute(
        f"SELECT n_jobs, {_CAMERA} FROM ("
        "SELECT variant_key, max(camera.n) AS newest, count(job.n) AS n_jobs"
        " FROM camera JOIN job ON job.camera = camera.n WHERE variant_key IN ("
        "SELECT DISTINCT variant_key FROM camera ORDER BY variant_key LIMIT :most OFFSET :first"
        ") GROUP BY variant_key) AS some JOIN camera ON camera.n = some.newest ORDER BY some.variant_key",
        {"first": first, "most": most},
    )
    return tuple(Variant(camera=known(row), n_jobs=row["n_jobs"]) for row in found)


def last_entries(connection: Connection, job_ids: Sequence[str]) -> dict[str, int]:
    """The number of the last entry of each of some jobs, in their order; 0 where there is none."""
    rows = connection.execute(
        f"SELECT n, {_LAST} FROM job WHERE n IN (SELECT value FROM json_each(:jobs))",
        {"jobs": list_text(int(job_id[1:]) for job_id in job_ids)},
    )
    found = {f"J{row['n']}": row["last"] or 0 for row in rows}
    return {job_id: found[job_id] for job_id in job_ids if job_id in found}


def lately_read(connection: Connection) -> dict[str, int]:
    """The jobs of the newest readings, the job of the newest first, and the number of the last entry of each."""
    newest = connection.execute(f"SELECT job FROM entry WHERE kind = 'measured' ORDER BY n DESC LIMIT {_LATELY}")
    return last_entries(connection, list(dict.fromkeys(f"J{row['job']}" for row in newest)))


def names(connection: Connection) -> Names:
    """The names that were given lately, in order: so many of each as a form can propose."""

    def newest(table: str, name: str) -> dict[str, None]:
        rows = connection.execute(f"SELECT {name} FROM {table} ORDER BY n DESC LIMIT {_LATE_ROWS}")
        return dict.fromkeys(row[0] for row in rows if row[0])

    def of(table: str, name: str) -> tuple[str, ...]:
        return tuple(sorted(list(newest(table, name))[:_MOST_NAMES]))

    return Names(
        owners=of("owner", "name"),
        makers=of("camera", "maker"),
        models=of("camera", "model"),
        variants=of("camera", "variant"),
        f_numbers=tuple({f_numbers for text in newest("camera", "f_numbers") if (f_numbers := values(text))}),
    )


def keys(camera: Camera) -> dict[str, str]:
    """What a camera is compared by: the keys of its maker, model and serial number."""
    return {f"{name}_key": folded(getattr(camera, name)) for name in ("maker", "model", "serial")}


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
    known_as = "SELECT n FROM owner WHERE name = :name AND contact = :contact"
    found = value(connection, known_as, **vars(owner))
    if found is None:
        new = "INSERT INTO owner (name, contact) VALUES (:name, :contact) RETURNING n"
        found = value(connection, new, **vars(owner))
        seals.seal_row(connection, "owner", found)
    return int(found)


def n_camera(connection: Connection, camera: Camera) -> tuple[int, Camera]:
    """The row of a camera, new or found again, and the camera as it is known from now on."""
    row = connection.execute(f"SELECT n, {_CAMERA} FROM camera WHERE {IS_CAMERA}", keys(camera)).fetchone()
    told = camera if row is None else known(row)
    if camera.variant.strip():
        told = replace(told, variant=camera.variant)
    told = replace(told, f_numbers=camera.f_numbers or told.f_numbers or _apertures_of_variant(connection, told))
    changing = {"variant": told.variant, "variant_key": told.variant_key, "f_numbers": list_text(told.f_numbers)}
    if row is None:
        n = value(
            connection,
            "INSERT INTO camera (maker, model, serial, variant, maker_key, model_key, serial_key, variant_key,"
            " f_numbers) VALUES (:maker, :model, :serial, :variant, :maker_key, :model_key, :serial_key, :variant_key,"
            " :f_numbers) RETURNING n",
            **{**vars(told), **keys(told), **changing},
        )
    else:
        n = row["n"]
        connection.execute(
            "UPDATE camera SET variant = :variant, variant_key = :variant_key, f_numbers = :f_numbers WHERE n = :n",
            {**changing, "n": n},
        )
    seals.seal_row(connection, "camera", n)
    return n, told


def _apertures_of_variant(connection: Connection, camera: Camera) -> tuple[float, ...]:
    """Those of the last camera of its variant that has some; a variant without a name says nothing of a lens."""
    if not camera.variant.strip():
        return ()
    of_variant = "SELECT f_numbers FROM camera WHERE variant_key = :variant ORDER BY n DESC"
    rows = connection.execute(of_variant, {"variant": camera.variant_key})
    return next((f_numbers for row in rows if (f_numbers := values(row["f_numbers"]))), ())


def set_apertures(connection: Connection, n_job: int, f_numbers: Sequence[float]) -> None:
    """Enter the apertures of the camera of a job, in place of those that are known."""
    n_camera = value(connection, "SELECT camera FROM job WHERE n = :job", job=n_job)
    told = {"camera": n_camera, "f_numbers": list_text(f_numbers)}
    connection.execute("UPDATE camera SET f_numbers = :f_numbers WHERE n = :camera", told)
    seals.seal_row(connection, "camera", n_camera)


def known(row: Row) -> Camera:
    """A row that has the columns of a camera as one."""
    return Camera(
        maker=row["maker"],
        model=row["model"],
        serial=row["serial"],
        variant=row["variant"],
        f_numbers=values(row["f_numbers"]),
    )


def _job(row: Row) -> Job:
    """A row of `jobs` as a job."""
    visit = Visit(
        taken_in=day(row["taken_in"]),
        owners_words=row["owners_words"],
        film_inside=bool(row["film_inside"]),
        accessories=values(row["accessories"]),
        condition=row["condition"],
        wanted=row["wanted"],
        profile=row["profile"],
    )
    owner = Owner(name=row["name"], contact=row["contact"])
    return Job(id=f"J{row['n']}", owner=owner, camera=known(row), visit=visit)
