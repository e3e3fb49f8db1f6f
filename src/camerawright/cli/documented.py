"""`docs/commands.md`, made from the commands themselves: `make docs` writes it."""

import inspect
import re
from collections.abc import Iterator
from typing import Any

import typer.main

from camerawright.cli.app import STAGES, app

HEAD = """# Commands

`make docs` writes this page from the commands themselves; `camerawright COMMAND --help` says the same. What holds for
all commands is in [the terminal](terminal.md).
"""


EVERYWHERE = {"--say", "--overrule", "--when", "--help"}
"""Options of every command that makes an entry, or of every command."""


def commands_page() -> str:
    """The whole page."""
    commands = list(_commands(typer.main.get_command(app)))
    parts = [HEAD]
    for stage in STAGES:
        parts.append(f"## {stage}\n")
        parts += [_section(words, command) for words, heading, command in commands if heading == stage]
    return "\n".join(parts)


def _commands(group: Any, words: str = "", heading: str = "") -> Iterator[tuple[str, str, Any]]:
    """Every command with its words and its stage."""
    for name, command in group.commands.items():
        named, stage = f"{words} {name}".strip(), heading or command.rich_help_panel
        if hasattr(command, "commands"):
            yield from _commands(command, named, stage)
        else:
            yield named, stage, command


def _section(words: str, command: Any) -> str:
    """A command: what it takes, what it does, its options and its examples."""
    text, _, examples = inspect.cleandoc(command.help or "").partition("\b\n")
    arguments = [param for param in command.params if param.param_type_name == "argument"]
    options = [param for param in command.params if param.param_type_name == "option"]
    taken = " ".join([words, *map(_metavar, arguments)])
    said = [f"### `{taken}`", *(" ".join(each.split()) for each in text.split("\n\n") if each.strip())]
    listed = [f"- `{_metavar(param)}`: {param.help}" for param in arguments if param.name != "job"]
    listed += [f"- {_names(param)}: {param.help}" for param in options if not EVERYWHERE & {*param.opts}]
    if listed:
        said.append("\n".join(listed))
    if examples:
        said.append(f"```sh\n{inspect.cleandoc(re.sub(r'^Examples?:', '', examples))}\n```")
    return "\n\n".join(said) + "\n"


def _names(option: Any) -> str:
    """An option as it is typed, and what follows it."""
    names = ", ".join(f"`{name}`" for name in (*option.opts, *option.secondary_opts))
    return f"{names} {option.metavar}" if option.metavar else names


def _metavar(argument: Any) -> str:
    """What stands for an argument."""
    return str(argument.metavar or argument.name.upper())


if __name__ == "__main__":
    print(commands_page(), end="")
