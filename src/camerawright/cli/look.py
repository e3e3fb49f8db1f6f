"""Look up jobs and cameras."""

from dataclasses import asdict
from typing import TYPE_CHECKING, Annotated

import typer

from camerawright.cli.shell import JobId, Json, tell, tell_item, tell_json, tell_table, workshop_of
from camerawright.cli.wording import tell_next_back, tell_next_off, tell_state

if TYPE_CHECKING:
    from pydantic import JsonValue

    from camerawright.job.now import JobNow
    from camerawright.readings.rows import Reading
    from camerawright.readings.side_by_side import FigureText
    from camerawright.store.workshop import Workshop
    from camerawright.workshop.rows import Glance, Job

commands = typer.Typer()


@commands.command()
def jobs(ctx: typer.Context, as_json: Json = False) -> None:
    """List the jobs, the newest first.

    \b
    Example:
      camerawright jobs
    """
    from camerawright.job.listed import all_listed

    with workshop_of(ctx) as workshop:
        listed = all_listed(workshop)
        if as_json:
            tell_json([_short_json(job, glance) for job, glance in listed])
        elif not listed:
            tell("No job yet; `camerawright take-in` begins one.")
        else:
            tell_table(
                [
                    (
                        job.id,
                        glance.stage,
                        f"owed {glance.n_owed}",
                        f"{job.camera.maker} {job.camera.model}"[:26],
                        job.owner.name[:20],
                    )
                    for job, glance in listed
                ]
            )


@commands.command("job")
def show_job(ctx: typer.Context, job: JobId, as_json: Json = False) -> None:
    """Show a job: camera, readings, what is off, owed, next.

    \b
    Example:
      camerawright job J3
    """
    from camerawright.job.now import job_now

    with workshop_of(ctx) as workshop:
        here = job_now(workshop, job)
        if as_json:
            tell_json(job_json(workshop, here))
            return
        _say_visit(workshop, here.job, here.film_said)
        tell()
        tell_state(here)
        for part in here.state.off:
            cell = part.removed.cell if part.removed else None
            tell_item("off", part.name + (f", cell {cell}" if cell else ""))
        for owed in here.owed:
            tell_item("owed", f"{owed.part}: {owed.what}" + (f" [{owed.entry[:8]}]" if owed.entry else ""))
        if not here.state.is_closed:
            tell_next_off(here)
            tell_next_back(here)
        _say_readings(here)


def _say_readings(here: "JobNow") -> None:
    """Every bench test's newest readings, as found and as left."""
    if not here.state.measured:
        return
    from camerawright.readings.side_by_side import tables

    for table in tables(here.state):
        tell()
        tell(f"{table.title}{', stops off the mark' if table.rows else ''}; ± is the 95 % interval")
        if table.rows:
            rows = [(f"  {row.marked}", _read(row.as_found), _read(row.as_left)) for row in table.rows]
            tell_table([("  marked", "as found", "as left"), *rows])
        if table.told:
            told = [(f"  {row.marked}", row.what, _read(row.as_found), _read(row.as_left)) for row in table.told]
            tell_table([("  marked", "figure", "as found", "as left"), *told])
        if not table.rows and not table.told:
            tell_item("readings", f"{table.n_readings}, on no certificate")
        for text in table.said:
            tell_item("!", text)


def _read(one: "Reading | FigureText | None") -> str:
    """A reading in a cell, with its verdict."""
    from camerawright.readings.rows import Reading

    if one is None:
        return "not measured"
    text = f"{one.error} ± {one.expanded_u}" if isinstance(one, Reading) else one.read
    return f"{text} {one.verdict or ''}".rstrip()


def _say_visit(workshop: "Workshop", job: "Job", film: str) -> None:
    from camerawright.workshop.apertures import apertures_written

    visit = job.visit
    tell(f"{job.id} {job.camera.title}, no. {job.camera.serial}")
    for label, text in (
        ("owner", " · ".join(filter(None, (job.owner.name, job.owner.contact)))),
        ("apertures", f"f/{apertures_written(job.camera.f_numbers)}" if job.camera.f_numbers else ""),
        ("taken in", str(visit.taken_in)),
        ("film", film),
        ("says", visit.owners_words),
        ("wanted", visit.wanted),
        ("condition", visit.condition),
        ("with it", ", ".join(visit.accessories)),
        ("profile", visit.profile),
    ):
        if text:
            tell_item(label, text)
    tell_earlier(workshop, job)


def tell_earlier(workshop: "Workshop", job: "Job") -> None:
    for visit in workshop.visits(job.camera):
        if visit.id != job.id:
            tell_item("seen", f"{visit.id}, {visit.visit.taken_in}: {visit.visit.owners_words or 'no words kept'}")


@commands.command()
def history(
    ctx: typer.Context,
    serial: Annotated[str, typer.Argument(help="The serial number.", show_default=False)],
    as_json: Json = False,
) -> None:
    """Show all visits of one camera, by its serial number.

    \b
    Example:
      camerawright history 48213
    """
    from camerawright.job.glance import glance
    from camerawright.job.now import job_now
    from camerawright.journal.entries import part_key
    from camerawright.trouble import Refused

    with workshop_of(ctx) as workshop:
        cameras = {
            (job.camera.maker, job.camera.model): job.camera
            for job in workshop.jobs()
            if part_key(job.camera.serial) == part_key(serial)
        }
        if not cameras:
            raise Refused("no camera of that number was here", "see `camerawright jobs`", f"serial {serial}")
        seen = {camera: [job_now(workshop, job.id) for job in workshop.visits(camera)] for camera in cameras.values()}
        if as_json:
            tell_json(
                [
                    {"camera": asdict(camera), "visits": [_short_json(here.job, glance(here)) for here in visits]}
                    for camera, visits in seen.items()
                ]
            )
            return
        for camera, visits in seen.items():
            tell(f"{camera.title}, no. {camera.serial}")
            for here in visits:
                words = here.job.visit.owners_words
                tell_item(here.job.id, f"{here.job.visit.taken_in} {here.stage}{': ' + words if words else ''}")


def _short_json(job: "Job", glance: "Glance") -> "dict[str, JsonValue]":
    """A job as it stands in a list."""
    return {
        "id": job.id,
        "stage": glance.stage,
        "owner": job.owner.name,
        "maker": job.camera.maker,
        "model": job.camera.model,
        "variant": job.camera.variant,
        "serial": job.camera.serial,
        "taken_in": job.visit.taken_in.isoformat(),
        "n_off": glance.n_off,
        "n_owed": glance.n_owed,
    }


def job_json(workshop: "Workshop", here: "JobNow") -> "dict[str, JsonValue]":
    """Everything about a job but the way back, which `refit --json` gives."""
    visit = asdict(here.job.visit)
    return {
        "id": here.job.id,
        "stage": here.stage,
        "owner": asdict(here.job.owner),
        "camera": {**asdict(here.job.camera), "f_numbers": list(here.job.camera.f_numbers)},
        "visit": {**visit, "taken_in": here.job.visit.taken_in.isoformat(), "accessories": list(visit["accessories"])},
        "earlier_visits": [job.id for job in workshop.visits(here.job.camera) if job.id != here.job.id],
        "off": [{"part": part.name, "cell": part.removed.cell if part.removed else None} for part in here.state.off],
        "n_hardware_out": here.state.n_out,
        "settings": dict(here.state.settings),
        "aids": [aid.aid for aid in here.state.aids],
        "owed": [{"kind": owed.kind, "part": owed.part, "what": owed.what, "entry": owed.entry} for owed in here.owed],
        "readings": [reading.model_dump(mode="json") for reading in here.state.measured],
        "conflicts": list(here.state.conflicts),
    }
