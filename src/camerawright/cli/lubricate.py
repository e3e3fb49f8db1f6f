"""The lubrication chart."""

from dataclasses import asdict
from itertools import groupby
from typing import TYPE_CHECKING, Annotated

import typer

from camerawright.cli.shell import JobId, Json, tell, tell_item, tell_json, workshop_of
from camerawright.cli.wording import tell_state

if TYPE_CHECKING:
    from camerawright.refit.lubrication import Point

commands = typer.Typer()


@commands.command()
def lubrication(
    ctx: typer.Context,
    job: JobId,
    only_due: Annotated[bool, typer.Option("--due", help="Show only what is still to do.")] = False,
    as_json: Json = False,
) -> None:
    """Show the lubrication chart: what, how much, what stays dry.

    What you did here counts first, then what earlier jobs did, then the handbook. Each point has its reason, its
    origin, and whether it is due. The product's safety data sheet, local rules and licensed practice
    come first.

    \b
    Example:
      camerawright lubrication J3 --due
    """
    from camerawright.job.now import job_now
    from camerawright.refit.lubrication import NOT_KNOWN, chart, due, not_known

    with workshop_of(ctx) as workshop:
        here = job_now(workshop, job)
    points = chart(here.state, here.lore)
    unknown = not_known(here.state, points)
    if only_due:
        points = due(points)
    if as_json:
        tell_json({"job": here.job.id, "points": [asdict(point) for point in points], "not_known": [*unknown]})
        return
    tell_state(here)
    if not points:
        tell("Nothing is due." if only_due else "No point is known for these parts.")
    for part, of_part in groupby(points, lambda point: point.part):
        tell(f"\n{part}")
        for point in of_part:
            _say(point)
    if unknown:
        tell(f"\nnot known: {', '.join(unknown)}. {NOT_KNOWN}")


def _say(point: "Point") -> None:
    what = "DRY" if point.amount == "dry" else " of ".join(filter(None, (point.amount, point.lubricant)))
    standing = "" if point.standing == "stays dry" else f" ({point.standing})"
    tell_item(point.point, f"{what}{standing}", label_width=max(26, len(point.point) + 2))
    tell_item("because", f"{point.why} [{point.source}]", indent=4)
    tell_item("amount", point.meaning, indent=4)
    tell_item("origin", point.origin, indent=4)
    if point.doubt:
        tell_item("DOUBT", point.doubt, indent=4)
