"""The `camerawright` command: parse, call, print."""

import os
import sys
from pathlib import Path
from typing import Annotated

import typer

from camerawright.cli import (
    clean,
    intake,
    journal,
    look,
    measure,
    papers,
    promises,
    readings,
    refit,
    strip,
    upkeep,
)
from camerawright.cli.shell import Commands

app = typer.Typer(
    cls=Commands,
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
        Path | None,
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
    ctx.obj = workshop


app.add_typer(measure.app, name="measure")
for _module in (intake, look, readings, strip, promises, clean, refit, journal, papers, upkeep):
    app.add_typer(_module.commands)


def main() -> None:
    """Run the command line; terminals that lack a character show a question mark instead of failing."""
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
