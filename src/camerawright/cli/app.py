"""The `camerawright` command: parse, call, print."""

import gc
import os
import sys
from pathlib import Path
from typing import Annotated

import typer

from camerawright.cli import (
    adjusting,
    clean,
    correcting,
    differences,
    intake,
    journal,
    ledger,
    look,
    lubricate,
    measure,
    papers,
    reach,
    record,
    refit,
    resume,
    seized,
    upkeep,
    variant,
)
from camerawright.cli.commands import Commands

_measuring = typer.Typer()
_measuring.add_typer(measure.app, name="measure", short_help="Measure a recording; with --job, enter the reading.")
_measuring.add_typer(record.app, name="record", short_help="Record from the sound card.")

STAGES = {
    "Taking in and looking up": (
        intake.commands,
        look.commands,
        resume.commands,
        variant.commands,
        differences.commands,
    ),
    "Measuring": (_measuring, adjusting.commands),
    "Strip-down": (reach.commands, seized.commands),
    "Hazards, order and state": (),
    "What is owed": (ledger.commands,),
    "Cleaning and lubrication": (clean.commands, lubricate.commands),
    "Refit": (refit.commands,),
    "Closing and handing back": (papers.commands,),
    "The journal": (journal.commands, correcting.commands),
    "The workshop": (upkeep.commands,),
}
"""The commands that are written by hand, in the order of a job, under the headings that the help and
`docs/commands.md` show. Those of the kinds of entry are made from their classes, and say their heading themselves.
"""


class _ByStage(Commands):
    headings = tuple(STAGES)


app = typer.Typer(
    cls=_ByStage,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
    add_completion=False,
    no_args_is_help=True,
    context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100},
)


def _version(wanted: bool) -> None:
    if wanted:
        from importlib.metadata import version

        typer.echo(f"camerawright {version('camerawright')}")
        raise typer.Exit


@app.callback()
def root(
    ctx: typer.Context,
    workshop: Annotated[
        str | None,
        typer.Option(
            "--workshop",
            envvar="CAMERAWRIGHT_WORKSHOP",
            metavar="DIR",
            help="The workshop folder. Without it, the platform's place for data.",
        ),
    ] = None,
    version: Annotated[
        bool, typer.Option("--version", callback=_version, is_eager=True, help="Say which version this is.")
    ] = False,
) -> None:
    """The bench companion of a person who services old mechanical cameras.

    A camera is taken in, stripped down, cleaned, refitted, measured and handed back. What happens goes into a journal,
    and what is off, owed and next is computed from it.

    \b
    Exit codes:
      0  done
      1  refused by the rules of the job; every reason is shown
      2  what was given cannot be read or understood, or does not exist
      3  a recording that can be read, but not measured
    """
    ctx.obj = Path(workshop) if workshop is not None else None


for _stage, _groups in STAGES.items():
    for _commands in _groups:
        for _command in _commands.registered_commands:
            _command.rich_help_panel = _stage
        for _group in _commands.registered_groups:
            _group.rich_help_panel = _stage
        app.add_typer(_commands)


def main() -> None:
    """Run the command line; terminals that lack a character show a question mark instead of failing."""
    gc.set_threshold(50_000)  # to look for garbage while modules load takes a tenth of a short command's time
    os.environ.setdefault("PYDANTIC_DISABLE_PLUGINS", "__all__")  # to look for plugins takes as long; we use none
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="replace")
    try:
        app(prog_name="camerawright")
    finally:
        _flush()


def _flush() -> None:
    """Let a reader that went away, as `head` does, go in silence."""
    try:
        sys.stdout.flush()
    except BrokenPipeError:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
