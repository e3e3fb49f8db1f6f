"""The strip-down: what comes off, what is noted before, and what is found."""

from typing import Annotated

import typer

from camerawright.cli.entering import (
    Because,
    LooseParts,
    Overrule,
    Photo,
    Say,
    Screws,
    Shims,
    enter,
    hardware_given,
    one_of,
)
from camerawright.cli.shell import JobId, Part
from camerawright.cli.wording import tell_next_off

commands = typer.Typer()


@commands.command()
def remove(  # noqa: PLR0917 options are parameters
    ctx: typer.Context,
    job: JobId,
    part: Part,
    place: Annotated[str | None, typer.Option(metavar="TEXT", help="From where.")] = None,
    screw: Screws = None,
    shim: Shims = None,
    loose: LooseParts = None,
    under: Annotated[
        list[str] | None, typer.Option(metavar="PART", help="Fitted under this; once for each part.")
    ] = None,
    torque: Annotated[
        str | None, typer.Option(metavar="TEXT", help="How it felt: free, normal, tight or seized.")
    ] = None,
    assembly: Annotated[str | None, typer.Option(metavar="TEXT", help="The sub-assembly it goes with.")] = None,
    tool: Annotated[str | None, typer.Option(metavar="TEXT", help="The driver or spanner that fits.")] = None,
    cell: Annotated[str | None, typer.Option(metavar="TEXT", help="The tray cell it lies in.")] = None,
    photo: Photo = None,
    material: Annotated[str | None, typer.Option(metavar="TEXT", help="What it is made of: decides its route.")] = None,
    finish: Annotated[str | None, typer.Option(metavar="TEXT", help="How it is finished: decides its route.")] = None,
    soil: Annotated[list[str] | None, typer.Option(metavar="TEXT", help="What is stuck to it; once for each.")] = None,
    looked: Annotated[
        bool, typer.Option("--looked", "--no-shim-beneath", help="Looked beneath: no shims but those given.")
    ] = False,
    overrule: Overrule = None,
    say: Say = None,
) -> None:
    """Enter that a part came off.

    It is refused, with every reason, where a reference mark that was asked for is not noted, where another part comes
    off first, where the machine is in the wrong state, where something gets loose that is not among what came off, or
    where a like joint had shims and nobody looked.

    \b
    Examples:
      camerawright remove J3 "top cover" --screw "3 x M1.7 x 4 cheese" --cell A1
      camerawright remove J3 "lens board" --under "front plate" \\
        --shim "1 x 0.10 NE corner" --shim "2 x 0.05 SW corner" --torque tight
      camerawright remove J3 "speed dial" --loose "1 x ball 1.5 mm at the rim" --tool "1.2 mm driver"
    """
    fields = hardware_given(screw, shim, loose)
    enter(
        ctx,
        job,
        "removed",
        part=part,
        place=place,
        **fields,
        under=tuple(under or ()),
        torque=one_of(torque),
        assembly=assembly,
        tool=tool,
        cell=cell,
        photo=photo,
        material=material,
        finish=finish,
        soil=tuple(soil or ()),
        looked_beneath=looked or None,
        overrule=overrule,
        say=say,
        telling=tell_next_off,
    )


@commands.command()
def mark(
    ctx: typer.Context,
    job: JobId,
    part: Part,
    position: Annotated[str, typer.Argument(metavar="MARK", help="Where it stands, in words.", show_default=False)],
    photo: Photo = None,
    say: Say = None,
) -> None:
    """Note a reference mark before the part moves.

    \b
    Example:
      camerawright mark J3 "focus ring" "infinity: dot 1.5 mm left of the index, hard stop"
    """
    enter(ctx, job, "marked", part=part, mark=position, photo=photo, say=say, telling=tell_next_off)


@commands.command("want-mark")
def want_mark(
    ctx: typer.Context,
    job: JobId,
    part: Part,
    position: Annotated[str, typer.Argument(metavar="MARK", help="What is to be noted.", show_default=False)],
    say: Say = None,
) -> None:
    """Ask for a reference mark.

    The part may not come off before it is noted.

    \b
    Example:
      camerawright want-mark J3 "front cell" "angle and gap where the thread parts"
    """
    enter(ctx, job, "mark wanted", part=part, mark=position, say=say, telling=tell_next_off)


@commands.command()
def find(  # noqa: PLR0917 options are parameters
    ctx: typer.Context,
    job: JobId,
    part: Part,
    defect: Annotated[str, typer.Argument(metavar="FINDING", help="What is out of the ordinary.", show_default=False)],
    todo: Annotated[
        str | None, typer.Option(metavar="TEXT", help="What is to be done about it: owed until answered.")
    ] = None,
    nature: Annotated[
        str | None,
        typer.Option(
            metavar="TEXT",
            help="Worn, broken, missing, corrosion, previous work, foreign fastener or deformed fastener.",
        ),
    ] = None,
    decision: Annotated[
        str | None,
        typer.Option(metavar="TEXT", help="Repair, replace or make, owed until answered; or reuse knowingly."),
    ] = None,
    photo: Photo = None,
    say: Say = None,
) -> None:
    """Enter a finding: a defect, or previous work.

    \b
    Examples:
      camerawright find J3 bellows "pinhole in the second fold" --todo "patch it from inside"
      camerawright find J3 "top cover" "one screw too long" --nature "foreign fastener" --decision replace
    """
    enter(
        ctx,
        job,
        "found",
        part=part,
        defect=defect,
        todo=todo,
        nature=one_of(nature),
        decision=one_of(decision),
        photo=photo,
        say=say,
        telling=tell_next_off,
    )


@commands.command()
def irreplaceable(ctx: typer.Context, job: JobId, part: Part, because: Because, say: Say = None) -> None:
    """Mark a part that cannot be had again.

    It is said wherever the part moves, on this job and on the next of its kind; that another specimen goes in, or that
    it stays out, wants a reason.

    \b
    Example:
      camerawright irreplaceable J3 "front cell" --because "the coating is no longer made"
    """
    enter(ctx, job, "irreplaceable", part=part, reason=because, say=say, telling=tell_next_off)
