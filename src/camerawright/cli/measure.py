"""`camerawright measure TEST RECORDING`: a recording in, numbers with uncertainties out."""

import json
from pathlib import Path
from typing import Annotated

import typer

app = typer.Typer(
    no_args_is_help=True, help="Measure a recording: what it says, how well it says it, or why it does not."
)

MEASURED, CANNOT_READ, NOT_MEASURABLE = 0, 2, 3


@app.command("shutter")
def shutter(
    recording: Annotated[Path, typer.Argument(help="WAV or FLAC of a light sensor on a sound card.")],
    marked: Annotated[str | None, typer.Option(help="Marked speed, as 1/125, 125 or 1s: compare with it.")] = None,
    profile: Annotated[str | None, typer.Option(help="Tolerance profile: a name, or a .toml file.")] = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print the whole result as JSON.")] = False,
    plot: Annotated[
        Path | None, typer.Option(help="Write a picture of the first firing here (.png, .svg, .pdf).")
    ] = None,
) -> None:
    """Leaf shutter by light: open times of every firing, each with its uncertainty."""
    _measure("shutter", recording, marked, profile, as_json, plot)


def _measure(
    name: str, recording: Path, marked: str | None, profile: str | None, as_json: bool, plot: Path | None
) -> None:
    """Read, measure, print; exit 0 measured, 2 unreadable, 3 not measurable."""
    from camerawright.bench.catalogue import find_test
    from camerawright.handbook.exposure import NotASpeed
    from camerawright.handbook.tolerances import DEFAULT, BadProfile, find_profile
    from camerawright.recordings.sound import read_sound
    from camerawright.recordings.unreadable import Unreadable

    test = find_test(name)
    try:
        limits = find_profile(profile or DEFAULT)
        waveform = read_sound(recording)
        outcome = test.run(waveform, marked, limits)
    except (Unreadable, NotASpeed, BadProfile) as error:
        typer.echo(str(error), err=True)
        raise typer.Exit(CANNOT_READ) from None
    if as_json:
        typer.echo(json.dumps(outcome.record, indent=2, ensure_ascii=False, allow_nan=False))
    else:
        typer.echo("\n".join(test.lines(outcome)))
    if outcome.refused:
        raise typer.Exit(NOT_MEASURABLE)
    if plot is not None:
        _write_plot(test.plots(waveform, outcome)["waveform"], plot)


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
