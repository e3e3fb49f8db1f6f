"""What all commands share: the workshop they work in, and plain output."""

import json
import sys
import textwrap
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

if TYPE_CHECKING:
    from pydantic import JsonValue

    from camerawright.store.workshop import Workshop

REFUSED = 1
WIDTH = 80

JobId = Annotated[str, typer.Argument(metavar="JOB", help="The job: J3, or 3.", show_default=False)]
Part = Annotated[str, typer.Argument(metavar="PART", help="The part, by its name on this camera.", show_default=False)]
Json = Annotated[bool, typer.Option("--json", help="Print JSON, for a script.")]


def workshop_folder(ctx: typer.Context) -> Path:
    """The folder named by --workshop or the environment, or the platform's."""
    if isinstance(ctx.obj, Path):
        return ctx.obj
    from camerawright.store.workshop import default_folder

    return default_folder()


@contextmanager
def workshop_of(ctx: typer.Context, *, create: bool = False) -> Iterator["Workshop"]:
    """Open the workshop; only what begins a workshop may create it."""
    from camerawright.store.workshop import create_workshop, open_workshop
    from camerawright.trouble import Refused

    folder = workshop_folder(ctx)
    if not create and not folder.exists():
        raise Refused(
            "there is no workshop", "begin one with `camerawright take-in`, or name it with --workshop", str(folder)
        )
    with (create_workshop if create else open_workshop)(folder) as workshop:
        yield workshop


def file_bytes(path: Path) -> bytes:
    """A file's bytes; `-` is standard input.

    Raises
    ------
    camerawright.trouble.Refused
        It is not there, or not to be read.
    """
    if str(path) == "-":
        return sys.stdin.buffer.read()
    from camerawright.trouble import Refused

    try:
        return path.read_bytes()
    except OSError as error:
        raise Refused(error.strerror or "it cannot be read", "name a file that can be read", str(path)) from None


def written_whole(path: Path, data: bytes) -> None:
    """Write a file that has its name only once it is complete.

    Raises
    ------
    camerawright.trouble.Refused
        It cannot be written there.
    """
    from camerawright.trouble import Refused

    part = path.with_name(f".{path.name}.part")
    try:
        try:
            part.write_bytes(data)
            part.replace(path)
        finally:
            part.unlink(missing_ok=True)
    except OSError as error:
        raise Refused(error.strerror or str(error), "name a file that can be written", str(path)) from None


def tell(text: str = "") -> None:
    """One line to the terminal."""
    typer.echo(text)


def tell_item(label: str, text: str, *, indent: int = 2, label_width: int = 10) -> None:
    """A labelled text, wrapped beneath itself."""
    head = f"{'':{indent}}{label:<{label_width}}"
    lines = textwrap.wrap(text, WIDTH, initial_indent=head, subsequent_indent=" " * len(head), break_on_hyphens=False)
    for line in lines or [head.rstrip()]:
        typer.echo(line)


def tell_table(rows: list[tuple[str, ...]]) -> None:
    """Rows with their columns aligned."""
    widths = [max(len(cell) for cell in column) for column in zip(*rows, strict=True)]
    for row in rows:
        typer.echo("  ".join(f"{cell:<{width}}" for cell, width in zip(row, widths, strict=True)).rstrip())


def tell_json(value: "JsonValue") -> None:
    """JSON in plain ASCII: it survives every terminal and pipe."""
    typer.echo(json.dumps(value, indent=2))
