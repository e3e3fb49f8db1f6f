"""The state of the machine while parts are off: settings, springs let down, temporary aids."""

from typing import Annotated

import typer

from camerawright.cli.entering import Say, Settings, enter, settings_given
from camerawright.cli.shell import JobId
from camerawright.cli.wording import tell_next_off

commands = typer.Typer()

Spring = Annotated[str, typer.Argument(metavar="SPRING", help="Which spring, by its name.", show_default=False)]
Turns = Annotated[float, typer.Argument(metavar="TURNS", help="Counted: 4, or 4.5.", show_default=False)]
Clockwise = Annotated[
    bool, typer.Option("--clockwise/--anticlockwise", help="Which way it was turned.", show_default=False)
]
From = Annotated[str | None, typer.Option("--from", metavar="TEXT", help="The state it started from.")]


@commands.command("set")
def set_state(ctx: typer.Context, job: JobId, setting: Settings, say: Say = None) -> None:
    """Enter the state of the machine, as far as it changed.

    \b
    Example:
      camerawright set J3 shutter=released focus=infinity
    """
    enter(ctx, job, "set", settings=settings_given(setting), say=say, telling=tell_next_off)


@commands.command("let-down")
def let_down(
    ctx: typer.Context,
    job: JobId,
    spring: Spring,
    turns: Turns,
    clockwise: Clockwise,
    start: From = None,
    say: Say = None,
) -> None:
    """Enter that a spring was let down, in counted turns.

    They are owed to it until `tension` puts them back the other way. The caution: let a spring down under control,
    with eye protection on.

    \b
    Example:
      camerawright let-down J3 "opening curtain" 4.5 --anticlockwise --from "released, drum at its stop"
    """
    enter(
        ctx,
        job,
        "tension",
        spring=spring,
        act="let down",
        turns=turns,
        direction=_direction(clockwise),
        from_state=start,
        say=say,
        telling=tell_next_off,
    )


@commands.command()
def tension(
    ctx: typer.Context,
    job: JobId,
    spring: Spring,
    turns: Turns,
    clockwise: Clockwise,
    start: From = None,
    say: Say = None,
) -> None:
    """Enter that a spring was tensioned, in counted turns.

    \b
    Example:
      camerawright tension J3 "opening curtain" 4.5 --clockwise --from "slack"
    """
    enter(
        ctx,
        job,
        "tension",
        spring=spring,
        act="tensioned",
        turns=turns,
        direction=_direction(clockwise),
        from_state=start,
        say=say,
        telling=tell_next_off,
    )


def _direction(clockwise: bool) -> str:
    return "clockwise" if clockwise else "anticlockwise"


@commands.command("aid-in")
def aid_in(
    ctx: typer.Context,
    job: JobId,
    aid: Annotated[str, typer.Argument(metavar="AID", help="Tape, a wedge, a slave screw.", show_default=False)],
    place: Annotated[str | None, typer.Option(metavar="TEXT", help="Where it sits.")] = None,
    say: Say = None,
) -> None:
    """Enter a temporary aid that was fitted.

    The job does not close while it is in.

    \b
    Example:
      camerawright aid-in J3 "tape on the shutter blades" --place "behind the lens board"
    """
    enter(ctx, job, "aid fitted", aid=aid, place=place, say=say, telling=tell_next_off)


@commands.command("aid-out")
def aid_out(
    ctx: typer.Context,
    job: JobId,
    aid: Annotated[str, typer.Argument(metavar="AID", help="As it was called.", show_default=False)],
    say: Say = None,
) -> None:
    """Enter that a temporary aid was taken out.

    \b
    Example:
      camerawright aid-out J3 "tape on the shutter blades"
    """
    enter(ctx, job, "aid taken out", aid=aid, say=say, telling=tell_next_off)
