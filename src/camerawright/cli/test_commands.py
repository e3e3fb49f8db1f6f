"""One command for each bench test of the catalogue, made from what the test says of itself."""

import inspect
from collections.abc import Callable, MutableMapping
from typing import TYPE_CHECKING, Annotated, Any

import typer
import typer.main
from typer.core import TyperGroup

if TYPE_CHECKING:
    from camerawright.bench.contract import BenchTest

Parameters = list[inspect.Parameter]


def option(name: str, kind: Any, says: Any, default: Any = None) -> inspect.Parameter:
    """One option or argument as typer wants it."""
    return inspect.Parameter(name, inspect.Parameter.KEYWORD_ONLY, annotation=Annotated[kind, says], default=default)


def argument(name: str, kind: Any, metavar: str, says: str) -> inspect.Parameter:
    """One argument that must be given."""
    return option(name, kind, typer.Argument(metavar=metavar, help=says, show_default=False), inspect.Parameter.empty)


def test_options(test: "BenchTest[Any]") -> Parameters:
    """What may be told with a recording of a test: the marked speeds where it takes them, and its own options."""
    own = [
        option(each.name, str | None, typer.Option(each.on_command_line, metavar=each.metavar, help=each.help))
        for each in test.options
    ]
    if test.marked is None:
        return own
    marks = "One at a time." if test.marked.one_at_a_time else "Give one for each speed fired."
    says = f"Marked speed, as 1/125, 125 or 1s: compare with it. {marks}"
    return [option("marked", list[str] | None, typer.Option(metavar="SPEED", help=says)), *own]


def told(test: "BenchTest[Any]", given: dict[str, Any]) -> tuple[str | None, dict[str, str]]:
    """The marked speeds and the options of a test, out of what was given on the command line."""
    marks = given.pop("marked", None)
    options = {each.name: given.pop(each.name) for each in test.options if each.name in given}
    return ", ".join(marks) if marks else None, {name: text for name, text in options.items() if text is not None}


def group(
    build: "Callable[[BenchTest[Any]], tuple[Callable[..., None], Parameters]]",
    tests: "Callable[[], tuple[BenchTest[Any], ...]]",
) -> type[TyperGroup]:
    """A group with a command for each of some bench tests; they are loaded only when the group is asked for.

    Parameters
    ----------
    build
        Makes the function that a test's command runs, and its parameters.
    tests
        Which tests.
    """

    class Tests(TyperGroup):
        _built: dict[str, Any] | None = None

        @property
        def commands(self) -> MutableMapping[str, Any]:
            """The commands by their names, those of the group's own first."""
            if self._built is None:
                self._built = {**self._own, **{test.name: _command(test, *build(test)) for test in tests()}}
            return self._built

        @commands.setter
        def commands(self, given: MutableMapping[str, Any]) -> None:
            self._own = dict(given)
            self._built = None

    return Tests


def _command(test: "BenchTest[Any]", run: Callable[..., None], parameters: Parameters) -> Any:
    # Typer reads a function's signature; that of a test with options of its own is known only now.
    run.__annotations__ = {one.name: one.annotation for one in parameters}
    setattr(run, "__signature__", inspect.Signature(parameters))  # noqa: B010  mypy knows of no such attribute
    single = typer.Typer(rich_markup_mode=None, add_completion=False)
    single.command(test.name)(run)
    return typer.main.get_command(single)
