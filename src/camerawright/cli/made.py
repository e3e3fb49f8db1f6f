"""A command that is made from a description: of a bench test, or of a kind of entry."""

import inspect
from collections.abc import Callable
from typing import Annotated, Any

import typer
import typer.main

Parameters = list[inspect.Parameter]


def option(name: str, kind: Any, says: Any, default: Any = None) -> inspect.Parameter:
    """One option or argument as typer wants it."""
    return inspect.Parameter(name, inspect.Parameter.KEYWORD_ONLY, annotation=Annotated[kind, says], default=default)


def argument(name: str, kind: Any, metavar: str, says: str) -> inspect.Parameter:
    """One argument that must be given."""
    return option(name, kind, typer.Argument(metavar=metavar, help=says, show_default=False), inspect.Parameter.empty)


def context() -> inspect.Parameter:
    """Where the command was called, with the workshop's folder: the parameter `ctx`."""
    return inspect.Parameter("ctx", inspect.Parameter.KEYWORD_ONLY, annotation=typer.Context)


def made_command(name: str, run: Callable[..., None], parameters: Parameters) -> Any:
    """The command that runs `run`, whose docstring is its help."""
    # Typer reads a function's signature; that of a described command is known only now.
    run.__annotations__ = {one.name: one.annotation for one in parameters}
    setattr(run, "__signature__", inspect.Signature(parameters))  # noqa: B010  mypy knows of no such attribute
    single = typer.Typer(rich_markup_mode=None, add_completion=False)
    single.command(name)(run)
    return typer.main.get_command(single)
