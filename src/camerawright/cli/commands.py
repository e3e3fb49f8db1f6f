"""The commands as one group: their list, and plain words for what went wrong."""

from collections.abc import Mapping, MutableMapping, Sequence
from functools import cache
from importlib import import_module
from typing import Any, Final

import typer
import typer.main
from typer.core import TyperGroup
from typer.exceptions import TyperException

from camerawright.cli.as_typed import take_as_typed
from camerawright.cli.entry_commands import entry_command, headlines
from camerawright.cli.shell import REFUSED
from camerawright.trouble import Troubled

NOT_UNDERSTOOD: Final = 2


class Commands(TyperGroup):
    """The commands, by the stage of the job; what a user can mend is told in plain lines, only a bug in a traceback.

    A command is loaded when it is asked for, and one that makes an entry is built then: the page of help shows the
    headlines of those alone.
    """

    stages: Mapping[str, Mapping[str, Sequence[str]]] = {}
    """The words of the commands of each module, by the heading of their stage, in the order of a job."""

    @property
    def commands(self) -> MutableMapping[str, Any]:
        """Every command by its word, in the order of the help."""
        made = {headline.word: entry_command(headline.word) for headline in headlines()}
        headings = list(self.stages)
        return dict(sorted({**self._own, **made}.items(), key=lambda each: headings.index(_heading(each[1]))))

    @commands.setter
    def commands(self, given: MutableMapping[str, Any]) -> None:
        """Typer gives those that it knows of: none."""

    @property
    def _own(self) -> dict[str, Any]:
        """The commands that are written by hand."""
        return {
            word: command
            for heading, modules in self.stages.items()
            for module in modules
            for word, command in commands_of(module, heading).items()
        }

    def get_command(self, ctx: Any, cmd_name: str) -> Any:
        """The command of that word, if there is one."""
        command = self._own_command(cmd_name) or entry_command(cmd_name)
        if command is not None:
            take_as_typed(command.get_params(ctx))
        return command

    def _own_command(self, word: str) -> Any:
        for heading, modules in self.stages.items():
            for module, words in modules.items():
                if word in words:
                    return commands_of(module, heading)[word]
        return None

    def get_params(self, ctx: Any) -> list[Any]:
        """What may be given before the command."""
        params = super().get_params(ctx)
        take_as_typed(params)
        return params

    def format_commands(self, ctx: Any, formatter: Any) -> None:
        """List the commands under the headings of their stages."""
        own = self._own
        width = max(map(len, (*own, *(headline.word for headline in headlines()))))
        room = formatter.width - width - 6
        listed = [(name, _heading(each), each.get_short_help_str(room)) for name, each in own.items()]
        listed += headlines()
        for stage in self.stages:
            with formatter.section(stage):
                formatter.write_dl([(f"{word:<{width}}", says) for word, heading, says in listed if heading == stage])

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


@cache
def commands_of(module: str, heading: str) -> dict[str, Any]:
    """The commands that a module of this folder has written by hand, by their words; all stand under a heading."""
    own = typer.Typer(rich_markup_mode=None, add_completion=False)
    own.add_typer(import_module(f"camerawright.cli.{module}").commands)
    found = typer.main.get_group(own).commands
    for command in found.values():
        setattr(command, "rich_help_panel", heading)  # noqa: B010  not every kind of command declares it
    return dict(found)


def _heading(command: Any) -> str:
    """The heading under which the help lists a command."""
    return str(getattr(command, "rich_help_panel"))  # noqa: B009


def _told(error: Exception) -> tuple[int, list[str]] | None:
    """Exit code and lines for what is the user's to mend; nothing for a bug."""
    from pydantic import ValidationError

    from camerawright.job.entering import NotAllowed
    from camerawright.journal.typed import in_plain_words
    from camerawright.trouble import Stale

    match error:
        case NotAllowed():
            lines = [f"refused: {trouble}" for trouble in error.troubles]
            if any(trouble.unknown for trouble in error.troubles):
                lines.append("If the part is new, add --new.")
            return REFUSED, [*lines, *(["If you know better, add --overrule 'why'."] if error.can_overrule else ())]
        case Stale():
            return REFUSED, [f"refused: {error}"]
        case Troubled():
            lines = [str(error)]
        case ValidationError():
            lines = [f"{_place(wrong['loc'])}: {in_plain_words(wrong)}" for wrong in error.errors()]
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
