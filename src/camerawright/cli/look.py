"""Look jobs, cameras and variants up."""

from dataclasses import asdict
from typing import TYPE_CHECKING, Annotated

import typer

from camerawright.cli.shell import JobId, Json, tell, tell_item, tell_json, tell_table, workshop_of
from camerawright.cli.wording import tell_next_back, tell_next_off, tell_state

if TYPE_CHECKING:
    from pydantic import JsonValue

    from camerawright.refit.learning import Lore, PartLore
    from camerawright.stages.bench import Bench
    from camerawright.store.workshop import Workshop
    from camerawright.workshop.rows import Camera, Job

commands = typer.Typer()


@commands.command()
def jobs(ctx: typer.Context, as_json: Json = False) -> None:
    """List the jobs, the newest first.

    \b
    Example:
      camerawright jobs
    """
    from camerawright.stages.bench import at_a_glance

    with workshop_of(ctx) as workshop:
        benches = [at_a_glance(workshop, job) for job in workshop.jobs()]
        if as_json:
            tell_json([_short_json(here) for here in benches])
        elif not benches:
            tell("No job yet; `camerawright take-in` begins one.")
        else:
            tell_table(
                [
                    (
                        here.job.id,
                        here.stage,
                        f"owed {len(here.owed)}",
                        f"{here.job.camera.maker} {here.job.camera.model}"[:26],
                        here.job.owner.name[:20],
                    )
                    for here in benches
                ]
            )


@commands.command("job")
def show_job(ctx: typer.Context, job: JobId, as_json: Json = False) -> None:
    """Show a job: camera, visit, what is off, owed and next.

    \b
    Example:
      camerawright job J3
    """
    from camerawright.stages.bench import bench

    with workshop_of(ctx) as workshop:
        here = bench(workshop, job)
        if as_json:
            tell_json(job_json(workshop, here))
            return
        _say_visit(workshop, here.job)
        tell()
        tell_state(here)
        for part in here.state.off:
            cell = part.removed.cell if part.removed else None
            tell_item("off", part.name + (f", cell {cell}" if cell else ""))
        for owed in here.owed:
            tell_item("owed", f"{owed.part}: {owed.what}" + (f" [{owed.entry[:8]}]" if owed.entry else ""))
        for conflict in here.state.conflicts:
            tell_item("CONFLICT", conflict)
        if not here.state.is_closed:
            tell_next_off(here)
            tell_next_back(here)


def _say_visit(workshop: "Workshop", job: "Job") -> None:
    visit = job.visit
    tell(f"{job.id} {job.camera.title}, no. {job.camera.serial}")
    for label, text in (
        ("owner", " · ".join(filter(None, (job.owner.name, job.owner.contact)))),
        ("taken in", f"{visit.taken_in}{', film inside' if visit.film_inside else ''}"),
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
    """Show all visits of one camera, found by its serial number.

    \b
    Example:
      camerawright history 48213
    """
    from camerawright.journal.entries import part_key
    from camerawright.stages.bench import bench
    from camerawright.store.refused import Refused

    with workshop_of(ctx) as workshop:
        cameras = {
            (job.camera.maker, job.camera.model): job.camera
            for job in workshop.jobs()
            if part_key(job.camera.serial) == part_key(serial)
        }
        if not cameras:
            raise Refused(f"serial {serial}", "no camera of that number was here", "see `camerawright jobs`")
        seen = {camera: [bench(workshop, job.id) for job in workshop.visits(camera)] for camera in cameras.values()}
        if as_json:
            tell_json(
                [
                    {"camera": asdict(camera), "visits": [_short_json(here) for here in visits]}
                    for camera, visits in seen.items()
                ]
            )
            return
        for camera, visits in seen.items():
            tell(f"{camera.title}, no. {camera.serial}")
            for here in visits:
                words = here.job.visit.owners_words
                tell_item(here.job.id, f"{here.job.visit.taken_in} {here.stage}{': ' + words if words else ''}")


@commands.command()
def variant(
    ctx: typer.Context,
    which: Annotated[
        list[str], typer.Argument(metavar="JOB | MAKER MODEL [VARIANT]", help="A job, or a kind.", show_default=False)
    ],
    as_json: Json = False,
) -> None:
    """Show what earlier strip-downs taught about a variant.

    Order, hazards, marks, shims, reminders and times.

    \b
    Examples:
      camerawright variant J3
      camerawright variant Orlmann "Falter 6x6"
    """
    from camerawright.journal.state import fold
    from camerawright.refit.learning import learned
    from camerawright.workshop.rows import Camera

    if len(which) > 3:
        raise typer.BadParameter("name a job, or maker, model and variant; quote names of several words")
    with workshop_of(ctx) as workshop:
        if len(which) == 1:
            camera = workshop.job(which[0]).camera
        else:
            camera = Camera(maker=which[0], model=which[1], variant=which[2] if len(which) == 3 else "", serial="")
        like = workshop.jobs_of_variant(camera.variant_key)
        lore = learned([(job.id, fold(workshop.journal(job.id))) for job in like])
        if as_json:
            tell_json(_lore_json(camera, lore))
        else:
            _say_lore(camera, lore)


def _short_json(here: "Bench") -> "dict[str, JsonValue]":
    """A job as it stands in a list."""
    return {
        "id": here.job.id,
        "stage": here.stage,
        "owner": here.job.owner.name,
        "maker": here.job.camera.maker,
        "model": here.job.camera.model,
        "variant": here.job.camera.variant,
        "serial": here.job.camera.serial,
        "taken_in": here.job.visit.taken_in.isoformat(),
        "n_off": len(here.state.off),
        "n_owed": len(here.owed),
    }


def job_json(workshop: "Workshop", here: "Bench") -> "dict[str, JsonValue]":
    """Everything about a job but the way back, which `refit --json` gives."""
    visit = asdict(here.job.visit)
    return {
        "id": here.job.id,
        "stage": here.stage,
        "owner": asdict(here.job.owner),
        "camera": asdict(here.job.camera),
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


def _lore_json(camera: "Camera", lore: "Lore") -> "dict[str, JsonValue]":
    return {
        "maker": camera.maker,
        "model": camera.model,
        "variant": camera.variant,
        "jobs": list(lore.jobs),
        "order": [_part_json(lore.parts[key]) for key in lore.order],
        "constraints": [{"first": c.first, "then": c.then, "reason": c.reason} for c in lore.constraints],
        "independent": [[_named(lore, key) for key in sorted(pair)] for pair in sorted(lore.free, key=sorted)],
    }


def _named(lore: "Lore", key: str) -> str:
    return lore.parts[key].name if key in lore.parts else key


def _part_json(part: "PartLore") -> "dict[str, JsonValue]":
    return {
        "part": part.name,
        "n_jobs": part.n_jobs,
        "marks": list(part.marks),
        "cautions": list(part.cautions),
        "escapes": part.escapes,
        "shims": list(part.shims),
        "reminders": list(part.reminders),
        "minutes": list(part.minutes),
    }


def _say_lore(camera: "Camera", lore: "Lore") -> None:
    jobs = ", ".join(lore.jobs)
    tell(f"{camera.title}: learned from {jobs}" if jobs else f"{camera.title}: nothing is known yet")
    for n, key in enumerate(lore.order, start=1):
        part = lore.parts[key]
        tell_item(f"{n:>2}", part.name, indent=0, label_width=4)
        for label, texts in (
            ("CAUTION", part.cautions),
            ("mark", part.marks),
            ("shims", part.shims),
            ("remind", part.reminders),
            ("comes off", tuple(f"after {c.first}: {c.reason}" for c in lore.constraints if c.keys[1] == key)),
        ):
            for text in texts:
                tell_item(label, text, indent=4)
        if part.median_minutes is not None:
            spread = f"{min(part.minutes):.1f} to {max(part.minutes):.1f}, " if len(part.minutes) > 1 else ""
            tell_item("minutes", f"{part.median_minutes:.1f} ({spread}{len(part.minutes)} timed)", indent=4)
