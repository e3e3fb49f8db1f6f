"""The `camerawright` command: parse, call, print."""

import gc
import os
import sys
from datetime import datetime
from pathlib import Path
from typing import Annotated, Final

import typer

from camerawright.cli.commands import Commands

STAGES: Final[dict[str, dict[str, tuple[str, ...]]]] = {
    "Taking in and looking up": {
        "intake": ("take-in", "apertures", "intake", "take-back"),
        "look": ("jobs", "job", "history"),
        "resume": ("resume",),
        "variant": ("variant",),
        "differences": ("differences",),
    },
    "Measuring": {"measure": ("measure",), "record": ("record",), "adjusting": ("adjusting",)},
    "Strip-down": {"reach": ("reach",), "seized": ("ladder",)},
    "Hazards, order and state": {},
    "What is owed": {"ledger": ("ledger", "balance")},
    "Cleaning and lubrication": {"clean": ("clean", "batch-in", "batch-out"), "lubricate": ("lubrication",)},
    "Refit": {"refit": ("refit",)},
    "Closing and handing back": {"papers": ("papers",)},
    "The journal": {"journal": ("undo", "journal"), "correcting": ("correct",)},
    "The workshop": {"upkeep": ("serve", "back-up", "restore", "verify", "demo", "profiles")},
}
"""The commands that are written by hand, by the module that has them, under the headings that the help and
`docs/commands.md` show, in the order of a job. Those of the kinds of entry are made from their classes, and say their
heading themselves.
"""


class _ByStage(Commands):
    stages = STAGES


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


def main() -> None:
    """Run the command line; terminals that lack a character show a question mark instead of failing."""
    gc.set_threshold(50_000)  # to look for garbage while modules load takes a tenth of a short command's time
    os.environ.setdefault("PYDANTIC_DISABLE_PLUGINS", "__all__")  # to look for plugins takes as long; we use none
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="replace")
    if wrong := _wrong_clock():
        sys.stderr.write(f"{wrong}\n")
        sys.exit(2)
    try:
        app(prog_name="camerawright")
    finally:
        _flush()


def _wrong_clock() -> str:
    """What is wrong with the time zone, if moments cannot be told in it."""
    try:
        datetime.now().astimezone()
    except (ValueError, OverflowError):
        zone = os.environ.get("TZ", "")
        return (
            f"the time zone {zone} is more than a day from UTC; set TZ to one that exists, as Europe/Rome, or unset it"
        )
    return ""


def _flush() -> None:
    """Let a reader that went away, as `head` does, go in silence."""
    try:
        sys.stdout.flush()
    except BrokenPipeError:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
