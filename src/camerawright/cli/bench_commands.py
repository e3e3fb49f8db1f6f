"""One command for each bench test of the catalogue, made from what the test says of itself."""

from collections.abc import Callable, MutableMapping
from typing import TYPE_CHECKING, Any

import typer
from typer.core import TyperGroup

from camerawright.cli.made import Parameters, made_command, option

if TYPE_CHECKING:
    from camerawright.bench.contract import BenchTest


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
                self._built = {**self._own, **{test.name: made_command(test.name, *build(test)) for test in tests()}}
            return self._built

        @commands.setter
        def commands(self, given: MutableMapping[str, Any]) -> None:
            self._own = dict(given)
            self._built = None

    return Tests
