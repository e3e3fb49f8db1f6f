"""What differs between two bodies."""

from dataclasses import asdict
from itertools import groupby
from typing import Annotated

import typer

from camerawright.cli.shell import JobId, Json, tell, tell_item, tell_json, workshop_of

commands = typer.Typer()


@commands.command()
def differences(
    ctx: typer.Context,
    job: JobId,
    other: Annotated[str, typer.Argument(metavar="OTHER", help="The job to compare it with.", show_default=False)],
    as_json: Json = False,
) -> None:
    """Show what differs between two bodies, as they came apart.

    It compares which parts came off, their order, screws, shims, loose parts, marks, material and finish.

    \b
    Example:
      camerawright differences J3 J7
    """
    from camerawright.journal.state import fold
    from camerawright.refit import differences as refit

    with workshop_of(ctx) as workshop:
        a, b = workshop.job(job), workshop.job(other)
        found = refit.differences(fold(workshop.journal(a.id)), fold(workshop.journal(b.id)))
    if as_json:
        tell_json({"a": a.id, "b": b.id, "differences": [asdict(difference) for difference in found]})
        return
    for which in (a, b):
        tell(f"{which.id} {which.camera.title}, no. {which.camera.serial}")
    if not found:
        tell("The two journals do not differ in anything.")
    for kind, alike in groupby(sorted(found, key=lambda difference: difference.kind), lambda item: item.kind):
        tell(f"\n{kind.capitalize()}")
        for difference in alike:
            tell_item("", difference.part, label_width=0)
            tell_item(a.id, difference.a, indent=4, label_width=6)
            tell_item(b.id, difference.b, indent=4, label_width=6)
