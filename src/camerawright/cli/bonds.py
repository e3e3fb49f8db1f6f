"""What binds a part when it moves: hazards, the order among parts, and the state the machine must be in."""

from typing import Annotated

import typer

from camerawright.cli.entering import Because, Say, Settings, enter, one_of, settings_given
from camerawright.cli.shell import JobId, Part
from camerawright.cli.wording import tell_next_off

commands = typer.Typer()


@commands.command()
def caution(
    ctx: typer.Context,
    job: JobId,
    part: Part,
    hazard: Annotated[str, typer.Argument(metavar="HAZARD", help="What to beware of.", show_default=False)],
    escapes: Annotated[bool, typer.Option("--escapes", help="A spring, ball or pawl gets loose.")] = False,
    frees: Annotated[
        list[str] | None, typer.Option(metavar="PART", help="What gets loose; once for each part.")
    ] = None,
    say: Say = None,
) -> None:
    """Warn of what happens when a part moves.

    Shown one step early, on this job and on the next of its kind. What gets loose is asked for when the part comes
    off: as a part of its own, or among the loose parts of that removal.

    \b
    Example:
      camerawright caution J3 "speed dial" "detent ball jumps out" --frees ball
    """
    enter(
        ctx,
        job,
        "cautioned",
        part=part,
        hazard=hazard,
        escapes=escapes or bool(frees),
        frees=tuple(frees or ()),
        say=say,
        telling=tell_next_off,
    )


@commands.command()
def order(
    ctx: typer.Context,
    job: JobId,
    first: Annotated[str, typer.Argument(metavar="FIRST", help="Comes off first.", show_default=False)],
    then: Annotated[str, typer.Argument(metavar="THEN", help="Comes off after it.", show_default=False)],
    because: Annotated[str, typer.Option(metavar="WHY", help="Covers its screws, pins it ...", show_default=False)],
    bond: Annotated[
        str | None,
        typer.Option(
            metavar="TEXT",
            help="How THEN hangs on FIRST: covered by, pinned by, retained by, or springs free when.",
        ),
    ] = None,
    assumed: Annotated[bool, typer.Option("--assumed", help="Not seen, only supposed.")] = False,
    say: Say = None,
) -> None:
    """State that one part comes off before another.

    So it goes back after it.

    \b
    Example:
      camerawright order J3 "top cover" "rewind shaft" --because "covers its screw" --bond "covered by"
    """
    enter(
        ctx,
        job,
        "ordered",
        first=first,
        then=then,
        reason=because,
        bond=one_of(bond),
        certain=not assumed,
        say=say,
        telling=tell_next_off,
    )


@commands.command()
def independent(
    ctx: typer.Context,
    job: JobId,
    part: Part,
    other: Annotated[str, typer.Argument(metavar="OTHER", help="The other part.", show_default=False)],
    because: Annotated[str, typer.Option(metavar="WHY", help="How that is known.", show_default=False)],
    say: Say = None,
) -> None:
    """State that two parts may move in either order.

    \b
    Example:
      camerawright independent J3 "front cell" "back cover" --because "opposite ends"
    """
    enter(ctx, job, "independent", part=part, other=other, reason=because, say=say, telling=tell_next_off)


@commands.command("needs-state")
def needs_state(
    ctx: typer.Context,
    job: JobId,
    part: Part,
    setting: Settings,
    because: Because,
    refit: Annotated[bool, typer.Option("--refit", help="When it goes back, not when it comes off.")] = False,
    both: Annotated[bool, typer.Option("--both", help="When it comes off and when it goes back.")] = False,
    say: Say = None,
) -> None:
    """State what the machine must be set to before a part moves.

    In another state, or one that nobody entered, the move is refused with the reason; `set`, `let-down` and `tension`
    enter the state.

    \b
    Example:
      camerawright needs-state J3 "front plate" shutter=released --because "the rack meshes only then" --both
    """
    if refit and both:
        raise typer.BadParameter("--both has --refit in it; give one of them")
    moves = "both" if both else "refit" if refit else "removal"
    enter(
        ctx,
        job,
        "needs state",
        part=part,
        settings=settings_given(setting),
        moves=moves,
        reason=because,
        say=say,
        telling=tell_next_off,
    )
