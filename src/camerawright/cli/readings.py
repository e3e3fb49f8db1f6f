"""A bench test for a job: measure, keep the recording, enter the reading; the profiles it is judged by."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

import typer

from camerawright.cli.shell import (
    JobId,
    Json,
    ToldOptions,
    in_one,
    named_values,
    tell,
    tell_json,
    tell_table,
    workshop_of,
)
from camerawright.cli.wording import tell_entered

if TYPE_CHECKING:
    from camerawright.bench.contract import BenchTest

commands = typer.Typer()

NOT_MEASURABLE = 3


@commands.command()
def measured(
    ctx: typer.Context,
    job: JobId,
    phase: Annotated[
        Literal["as-found", "as-left"],
        typer.Argument(metavar="as-found|as-left", help="Before the work, or after it.", show_default=False),
    ],
    test: Annotated[str, typer.Argument(metavar="TEST", help="The bench test: shutter ...", show_default=False)],
    recording: Annotated[Path, typer.Argument(metavar="RECORDING", help="The file to measure.", show_default=False)],
    *,
    marked: Annotated[
        list[str] | None,
        typer.Option(
            metavar="SPEED", help="The marked speed, as 1/125. Give one for each speed fired, where TEST takes several."
        ),
    ] = None,
    told: ToldOptions = None,
    input_: Annotated[
        str | None,
        typer.Option(
            "--input", metavar="NAME", help="Which input of which sound card: always the same name for the same."
        ),
    ] = None,
    words: Annotated[
        str | None, typer.Option(metavar="TEXT", help="The rest of the set-up: the lens with its widest aperture ...")
    ] = None,
    as_json: Json = False,
) -> None:
    """Measure a recording and enter the reading.

    The recording is kept with it, and it is judged by the job's tolerance profile. What cannot be measured is not
    entered: exit code 3 says so, with what to do instead. `measure` does the same without a job.

    What earlier readings told of the input that is named makes this one surer; a recording by `record` names it itself.

    \b
    Examples:
      camerawright measured J3 as-found shutter found-125.wav --marked 1/125 --input "line in of the old laptop"
      camerawright measured J3 as-found curtains all.flac --marked 1/500 --told gate=24 --told at=2,12,22
    """
    from camerawright.readings import measuring
    from camerawright.readings.rows import late
    from camerawright.recordings.kept import input_of

    found = test_called(test)
    with workshop_of(ctx) as workshop:
        outcome, here = measuring.measured(
            workshop,
            job,
            found,
            recording,
            marked=in_one(marked),
            phase="as found" if phase == "as-found" else "as left",
            setup=measuring.SetUp(options=named_values(told), input=input_ or input_of(recording), words=words),
        )
        if as_json:
            tell_json(outcome.record)
        else:
            for line in found.lines(outcome):
                tell(line)
        if outcome.refused is not None:
            raise typer.Exit(NOT_MEASURABLE)
        if not as_json:
            tell_entered(here)
            if why := late(here.state).get(here.state.journal[-1].id):
                tell(f"! {why}.")


def test_called(name: str) -> "BenchTest":
    """The bench test of that name."""
    from camerawright.bench.catalogue import CATALOGUE
    from camerawright.trouble import Refused

    for test in CATALOGUE:
        if test.name == name.casefold():
            return test
    raise Refused(
        "there is none of that name", f"use {', '.join(test.name for test in CATALOGUE)}", f"bench test {name}"
    )


@commands.command()
def profiles(ctx: typer.Context) -> None:
    """List the tolerance profiles of the workshop.

    They are files in its folder `profiles`, to be edited there.

    \b
    Example:
      camerawright profiles
    """
    from camerawright.handbook.tolerances import read_profile

    with workshop_of(ctx) as workshop:
        tell_table([(name, read_profile(workshop.profile_path(name)).title) for name in workshop.profile_names()])
