"""`camerawright measure TEST RECORDING`: a recording in, numbers with uncertainties out."""

import inspect
import json
from collections.abc import MutableMapping
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer
import typer.main
from typer.core import TyperGroup

from camerawright.cli.shell import in_one

if TYPE_CHECKING:
    from camerawright.bench.contract import BenchTest, Outcome

MEASURED, CANNOT_READ, NOT_MEASURABLE = 0, 2, 3


class _Tests(TyperGroup):
    """One command for each test of the catalogue, which is loaded only when it is asked for."""

    _built: dict[str, Any] | None = None

    @property
    def commands(self) -> MutableMapping[str, Any]:
        """The commands by their names."""
        from camerawright.bench.catalogue import CATALOGUE

        if self._built is None:
            self._built = {test.name: _command(test) for test in CATALOGUE}
        return self._built

    @commands.setter
    def commands(self, given: MutableMapping[str, Any]) -> None:
        """The catalogue says which there are."""


app = typer.Typer(
    cls=_Tests,
    no_args_is_help=True,
    help="Measure a recording: what it says, how well it says it, or why it does not.",
)


@app.callback()
def _group() -> None:
    """Measure a recording: what it says, how well it says it, or why it does not."""


def _command(test: "BenchTest") -> Any:
    """The command of one test: the options that every test has, and its own."""

    def run(recording: Path, *, as_json: bool, plot: Path | None, picture: str | None, **given: Any) -> None:
        marks, profile = given.pop("marked"), given.pop("profile")
        marked = in_one(marks)
        options = {name: text for name, text in given.items() if text is not None}
        _measure(test, recording, marked, profile, options, as_json, plot, picture)

    run.__doc__ = f"{test.title}.\n\n{test.setup}"
    # Typer reads a function's signature; that of a test with options of its own is known only now.
    parameters = _parameters(test)
    run.__annotations__ = {one.name: one.annotation for one in parameters}
    setattr(run, "__signature__", inspect.Signature(parameters))  # noqa: B010  mypy knows of no such attribute
    single = typer.Typer(rich_markup_mode=None, add_completion=False)
    single.command(test.name)(run)
    return typer.main.get_command(single)


def _parameters(test: "BenchTest") -> list[inspect.Parameter]:
    """What a test's command takes."""
    marks = "One at a time." if test.compares_one else "Give one for each speed fired."
    own = [
        _parameter(
            option.name,
            str | None,
            typer.Option(f"--{option.name.replace('_', '-')}", metavar=option.metavar, help=option.help),
        )
        for option in test.options
    ]
    return [
        _parameter(
            "recording",
            Path,
            typer.Argument(metavar="RECORDING", help=test.takes, show_default=False),
            inspect.Parameter.empty,
        ),
        _parameter(
            "marked",
            list[str] | None,
            typer.Option(metavar="SPEED", help=f"Marked speed, as 1/125, 125 or 1s: compare with it. {marks}"),
        ),
        *own,
        _parameter(
            "profile", str | None, typer.Option(metavar="NAME", help="Tolerance profile: a name, or a .toml file.")
        ),
        _parameter("as_json", bool, typer.Option("--json", help="Print the whole result as JSON."), False),
        _parameter("plot", Path | None, typer.Option(metavar="FILE", help="Write a picture here (.png, .svg, .pdf).")),
        _parameter("picture", str | None, typer.Option(metavar="NAME", help="Which picture, where there are several.")),
    ]


def _parameter(name: str, kind: Any, says: Any, default: Any = None) -> inspect.Parameter:
    """One parameter as typer wants it."""
    return inspect.Parameter(name, inspect.Parameter.KEYWORD_ONLY, annotation=Annotated[kind, says], default=default)


def _measure(
    test: "BenchTest",
    recording: Path,
    marked: str | None,
    profile: str | None,
    options: dict[str, str],
    as_json: bool,
    plot: Path | None,
    picture: str | None,
) -> None:
    """Read, measure, print; exit 0 measured, 2 unreadable, 3 not measurable."""
    from camerawright.handbook.tolerances import DEFAULT, find_profile
    from camerawright.trouble import NotUnderstood, Unreadable

    try:
        limits = find_profile(profile or DEFAULT)
        read = test.read(recording)
        outcome = test.run(read, marked, limits, **options)
    except (Unreadable, NotUnderstood) as error:
        typer.echo(str(error), err=True)
        raise typer.Exit(CANNOT_READ) from None
    if as_json:
        typer.echo(json.dumps(outcome.record, indent=2, ensure_ascii=False, allow_nan=False))
    else:
        typer.echo("\n".join(test.lines(outcome)))
    if outcome.refused:
        raise typer.Exit(NOT_MEASURABLE)
    if plot is not None:
        _write_plot(_picture(test, read, outcome, picture), plot)


def _picture(test: "BenchTest", read: Any, outcome: "Outcome", name: str | None) -> object:
    """The picture of a name, or the one that tells most."""
    pictures = test.plots(read, outcome)
    if name is not None and name not in pictures:
        typer.echo(f"there is no picture called {name!r}; there are: {', '.join(pictures)}", err=True)
        raise typer.Exit(CANNOT_READ)
    return pictures[name] if name is not None else next(iter(pictures.values()))


def _write_plot(figure: object, path: Path) -> None:
    """Save a figure whole or not at all."""
    import io

    from matplotlib.figure import Figure

    assert isinstance(figure, Figure)
    picture = io.BytesIO()
    kind = path.suffix.lstrip(".").lower()
    if kind not in {"png", "svg", "pdf"}:
        typer.echo(
            f"{path.name}: cannot draw a {kind or 'file without a suffix'}; name it .png, .svg or .pdf", err=True
        )
        raise typer.Exit(CANNOT_READ)
    figure.savefig(picture, format=kind, dpi=150)
    try:
        path.write_bytes(picture.getvalue())
    except OSError as error:
        typer.echo(f"{path}: {error.strerror or error}; check the path", err=True)
        raise typer.Exit(CANNOT_READ) from None
