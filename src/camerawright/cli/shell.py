"""What all commands share: the workshop they work in, plain words for what went wrong, and plain output."""

import json
import sys
import textwrap
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer
from typer.core import TyperGroup
from typer.exceptions import TyperException

from camerawright.trouble import Troubled

if TYPE_CHECKING:
    from pydantic import JsonValue

    from camerawright.store.workshop import Workshop

REFUSED = 1
NOT_UNDERSTOOD = 2
WIDTH = 80

JobId = Annotated[str, typer.Argument(metavar="JOB", help="The job: J3, or 3.", show_default=False)]
Part = Annotated[str, typer.Argument(metavar="PART", help="The part, by its name on this camera.", show_default=False)]
Json = Annotated[bool, typer.Option("--json", help="As JSON, for a script.")]


class Commands(TyperGroup):
    """The commands, by the stage of the job; what a user can mend is told in plain lines, only a bug in a traceback."""

    def format_commands(self, ctx: Any, formatter: Any) -> None:
        """List the commands under the headings of their stages."""
        width = max(map(len, self.commands))
        stages: dict[str, list[tuple[str, str]]] = {}
        for name, command in self.commands.items():
            text = command.get_short_help_str(formatter.width - width - 6)
            stages.setdefault(getattr(command, "rich_help_panel"), []).append((f"{name:<{width}}", text))  # noqa: B009
        for stage, rows in stages.items():
            with formatter.section(stage):
                formatter.write_dl(rows)

    def invoke(self, ctx: Any) -> Any:
        """Run the command."""
        try:
            return super().invoke(ctx)
        except TyperException as wrong:
            wrong.message = wrong.message.replace("Value error, ", "")  # the parser's word, nothing to a person
            raise
        except (typer.Exit, typer.Abort, BrokenPipeError):
            raise
        except Exception as error:
            told = _told(error)
            if told is None:
                raise
            code, lines = told
        for line in lines:
            typer.echo(line, err=True)
        raise typer.Exit(code)


def _told(error: Exception) -> tuple[int, list[str]] | None:
    """Exit code and lines for what is the user's to mend; nothing for a bug."""
    from pydantic import ValidationError

    from camerawright.job.entering import NotAllowed
    from camerawright.trouble import Stale

    match error:
        case NotAllowed():
            lines = [f"refused: {trouble}" for trouble in error.troubles]
            return REFUSED, [*lines, *(["If you know better, add --overrule 'why'."] if error.can_overrule else ())]
        case Stale():
            return REFUSED, [f"refused: {error}"]
        case Troubled():
            lines = [str(error)]
        case ValidationError():
            lines = [f"{_place(wrong['loc'])}: {wrong['msg']}" for wrong in error.errors()]
        case UnicodeEncodeError():  # bytes on the command line that are no text
            lines = [f"{error.object!r} is not text; type it again"]
        case OSError():
            lines = [f"{error.filename or 'the file system'}: {error.strerror or error}"]
        case _:
            return None
    return NOT_UNDERSTOOD, lines


def _place(loc: tuple[int | str, ...]) -> str:
    """Which field, in words; the kind of the entry stands first and says nothing new."""
    return " ".join(str(step).replace("_", " ") for step in loc[1:] or loc) or "the entry"


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
