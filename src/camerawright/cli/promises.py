"""What is owed: reminders and hold points, and their answers."""

from datetime import datetime
from typing import Annotated

import typer

from camerawright.cli.entering import Overrule, Say, enter
from camerawright.cli.shell import JobId, workshop_of

commands = typer.Typer()

PartOrClosing = Annotated[
    str,
    typer.Argument(
        metavar="PART", help="The part whose refit it belongs to, or `closing` for the end.", show_default=False
    ),
]


@commands.command()
def remind(
    ctx: typer.Context,
    job: JobId,
    part: PartOrClosing,
    todo: Annotated[str, typer.Argument(metavar="TODO", help="What is to be done then.", show_default=False)],
    test: Annotated[
        str | None, typer.Option(metavar="TEST", help="A bench test whose reading as left waits for it, too.")
    ] = None,
    due: Annotated[
        datetime | None,
        typer.Option(metavar="YYYY-MM-DD", formats=["%Y-%m-%d"], help="Not to be answered before that day."),
    ] = None,
    say: Say = None,
) -> None:
    """Leave a reminder for when a part goes back.

    Its refit waits for the answer.

    \b
    Examples:
      camerawright remind J3 "lens board" "new light seal beneath"
      camerawright remind J3 closing "return the filter to its case"
      camerawright remind J3 closing "fire it once more after its rest" --test shutter --due 2031-05-04
    """
    due_day = due.date() if due else None
    enter(ctx, job, "reminded", part=part, todo=todo, test=test, due=due_day, say=say)


@commands.command()
def hold(
    ctx: typer.Context,
    job: JobId,
    part: PartOrClosing,
    check: Annotated[str, typer.Argument(metavar="CHECK", help="What must be passed.", show_default=False)],
    needs: Annotated[
        list[str] | None, typer.Option(metavar="PART", help="Must be in place for it; once for each part.")
    ] = None,
    say: Say = None,
) -> None:
    """Set a check to be passed before a part goes back.

    Passed later, the part would have to come off again for it.

    \b
    Example:
      camerawright hold J3 "top cover" "flash fires at 1/25" --needs "shutter" --needs "flash lead"
    """
    enter(ctx, job, "hold point", part=part, check=check, needs=tuple(needs or ()), say=say)


@commands.command()
def answer(
    ctx: typer.Context,
    job: JobId,
    which: Annotated[
        str, typer.Argument(metavar="WHICH", help="The beginning of its id, or words of it.", show_default=False)
    ],
    text: Annotated[str, typer.Argument(metavar="ANSWER", help="What was done, or seen.", show_default=False)],
    say: Say = None,
    overrule: Overrule = None,
) -> None:
    """Answer what is owed.

    A reminder was done, a hold point passed, a finding dealt with.

    \b
    Examples:
      camerawright answer J3 "light seal" "1 mm foam, new"
      camerawright answer J3 4f0c2a "fires, 5 of 5"
    """
    from camerawright.job.entering import promise_called
    from camerawright.job.now import job_now

    if not which.strip():
        raise typer.BadParameter("say which: the beginning of its id, or words of it", param_hint="WHICH")
    with workshop_of(ctx) as workshop:
        entry = promise_called(job_now(workshop, job), which)
    enter(ctx, job, "answered", entry=entry, answer=text, say=say, overrule=overrule)
