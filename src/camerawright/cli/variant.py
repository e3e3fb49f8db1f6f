"""What is known of a variant."""

from typing import TYPE_CHECKING, Annotated

import typer

from camerawright.cli.shell import Json, tell, tell_item, tell_json, workshop_of

if TYPE_CHECKING:
    from pydantic import JsonValue

    from camerawright.refit.learning import Lore, PartLore, Usual
    from camerawright.workshop.rows import Camera

commands = typer.Typer()


@commands.command()
def variant(
    ctx: typer.Context,
    which: Annotated[
        list[str], typer.Argument(metavar="JOB | MAKER MODEL [VARIANT]", help="A job, or a kind.", show_default=False)
    ],
    as_json: Json = False,
) -> None:
    """Show what earlier strip-downs taught about a variant.

    You see the order, hazards, marks, shims, reminders and times.

    \b
    Examples:
      camerawright variant J3
      camerawright variant Orlmann "Falter 6x6"
    """
    from camerawright.job.lore import lessons_of
    from camerawright.refit.learning import added_up
    from camerawright.workshop.rows import Camera

    if len(which) > 3:
        raise typer.BadParameter("name a job, or maker, model and variant; quote names of several words")
    if not all(map(str.strip, which[:2])):
        raise typer.BadParameter("a name is blank: name a job, or maker and model")
    with workshop_of(ctx) as workshop:
        if len(which) == 1:
            camera = workshop.job(which[0]).camera
        else:
            camera = Camera(maker=which[0], model=which[1], variant=which[2] if len(which) == 3 else "", serial="")
        own = [each for each in workshop.kin(camera) if each.variant_key == camera.variant_key]
        lore = added_up(list(lessons_of(workshop, own).values()))
        if as_json:
            tell_json(_lore_json(camera, lore))
        else:
            _say_lore(camera, lore)


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
        "hardware": [{"kind": u.joint[0], "what": u.joint[1], "counts": list(u.counts)} for u in part.hardware],
        "loosened": list(part.loosened),
        "irreplaceable": part.irreplaceable,
        "carried_from": part.carried_from,
    }


def _say_lore(camera: "Camera", lore: "Lore") -> None:
    jobs = ", ".join(lore.jobs)
    tell(f"{camera.title}: learned from {jobs}" if jobs else f"{camera.title}: nothing is known yet")
    for n, key in enumerate(lore.order, start=1):
        part = lore.parts[key]
        tell_item(f"{n:>2}", part.name, indent=0, label_width=4)
        for label, texts in (
            (
                "CAUTION",
                (*part.cautions, *([f"cannot be had again: {part.irreplaceable}"] if part.irreplaceable else [])),
            ),
            ("held by", tuple(_usual(usual) for usual in part.hardware if usual.joint[0] != "shim")),
            ("loosened", part.loosened),
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


def _usual(usual: "Usual") -> str:
    """A kind of hardware with its count, and the spread where two bodies disagree."""
    from camerawright.journal.joints import joint_text

    there = [count for count in usual.counts if count]
    lacks = "" if len(there) == len(usual.counts) else ", but not on every body"
    low, high = min(there), max(there)
    return f"{high if low == high else f'{low} to {high}'} × {joint_text(usual.joint)}{lacks}"
