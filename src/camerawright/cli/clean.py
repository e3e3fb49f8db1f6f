"""Cleaning: the route of each part that is off, and what went through it."""

from typing import TYPE_CHECKING, Annotated

import typer

from camerawright.cli.entering import Overrule, Say, enter
from camerawright.cli.shell import JobId, Json, Part, tell, tell_item, tell_json, workshop_of

if TYPE_CHECKING:
    from pydantic import JsonValue

    from camerawright.journal.state import Part as StatePart
    from camerawright.refit.routes import Route

commands = typer.Typer()


@commands.command()
def clean(ctx: typer.Context, job: JobId, as_json: Json = False) -> None:
    """Plan the cleaning: the route of each part that is off.

    With the reasons and the cautions.

    \b
    Example:
      camerawright clean J3
    """
    from camerawright.refit.routes import route_of
    from camerawright.stages.bench import bench

    with workshop_of(ctx) as workshop:
        here = bench(workshop, job)
        planned = [(part, route_of(part.removed)) for part in here.state.off if part.removed]
        if as_json:
            tell_json({"job": here.job.id, "parts": [_part_json(part, route) for part, route in planned]})
            return
        if not planned:
            tell(f"{here.job.id}: nothing is off, so there is nothing to clean")
        for part, route in planned:
            cell = f", cell {part.removed.cell}" if part.removed and part.removed.cell else ""
            done = f" (cleaned: {', '.join(_cleaned(part))})" if _cleaned(part) else ""
            tell(f"{part.name}{cell}{done}")
            _say_route(route)


def _cleaned(part: "StatePart") -> tuple[str, ...]:
    """The routes it went through since it came off."""
    return tuple(entry.route for entry in part.cleaned if part.removed and entry.at >= part.removed.at)


def _say_route(route: "Route") -> None:
    for n, turn in enumerate(route.turns(), start=1):
        limits = [f"{turn.temperature_c:g} °C" if turn.temperature_c is not None else None]
        limits.append(f"{turn.minutes:g} min" if turn.minutes is not None else None)
        tell_item("route" if n == 1 else "then", ", ".join([turn.name, *filter(None, limits)]))
        for label, text in (("rinse", turn.rinse), ("dry", turn.drying)):
            if text and text != "none":
                tell_item(label, text)
    for label, texts in (
        ("find out", route.ask),
        ("stays on", route.left_on),
        ("CAUTION", tuple(dict.fromkeys(str(caution) for turn in route.turns() for caution in turn.cautions))),
        ("because", tuple(dict.fromkeys(str(reason) for turn in route.turns() for reason in turn.reasons))),
    ):
        for text in texts:
            tell_item(label, text)


def _part_json(part: "StatePart", route: "Route") -> "dict[str, JsonValue]":
    return {"part": part.name, "cleaned": list(_cleaned(part)), "route": _route_json(route)}


def _route_json(route: "Route") -> "dict[str, JsonValue]":
    return {
        "name": route.name,
        "process": route.process,
        "chemistry": route.chemistry,
        "temperature_c": route.temperature_c,
        "minutes": route.minutes,
        "rinse": route.rinse,
        "drying": route.drying,
        "lifts": list(route.lifts),
        "left_on": list(route.left_on),
        "reasons": [{"text": reason.text, "source": reason.source} for reason in route.reasons],
        "cautions": [{"text": caution.text, "source": caution.source} for caution in route.cautions],
        "ask": list(route.ask),
        "then": _route_json(route.then) if route.then else None,
    }


@commands.command()
def cleaned(
    ctx: typer.Context,
    job: JobId,
    part: Part,
    route: Annotated[str, typer.Argument(metavar="ROUTE", help="The route it went.", show_default=False)],
    overrule: Overrule = None,
    say: Say = None,
) -> None:
    """Enter that a part went through its route.

    \b
    Example:
      camerawright cleaned J3 "gear train" "ultrasonic bath, neutral detergent"
    """
    enter(ctx, job, "cleaned", part=part, route=route, overrule=overrule, say=say)
