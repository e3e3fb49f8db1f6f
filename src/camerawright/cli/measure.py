"""`camerawright measure TEST RECORDING`: a recording in, numbers out; with --job, a reading of it."""

import json
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import typer

from camerawright.cli.bench_commands import group, test_options, told
from camerawright.cli.made import Parameters, argument, context, option
from camerawright.cli.shell import tell, workshop_of, written_whole
from camerawright.cli.wording import tell_entered
from camerawright.trouble import NotUnderstood

if TYPE_CHECKING:
    from camerawright.bench.contract import BenchTest
    from camerawright.bench.record import Record
    from camerawright.journal.entries import Phase

NOT_MEASURABLE = 3


@dataclass(frozen=True, kw_only=True)
class _Given:
    """What was given on the command line, but for the test's own options."""

    ctx: typer.Context
    recording: Path
    job: str | None
    as_found: bool
    as_left: bool
    words: str | None
    profile: str | None
    as_json: bool
    plot: Path | None
    picture: str | None
    input: str | None = None
    sure: bool = False
    overrule: str | None = None

    def phase(self) -> "Phase":
        """Before the work, or after it."""
        if self.as_found == self.as_left:
            what = "only one of them can be true" if self.as_found else "a reading is of the camera before or after it"
            raise NotUnderstood(what, "give --as-found before the work, --as-left after it", "--as-found, --as-left")
        return "as found" if self.as_found else "as left"

    def refuse_misplaced(self) -> None:
        """Refuse what would be ignored: options of a reading without a job, and a profile with one."""
        if self.picture is not None and self.plot is None:
            raise NotUnderstood("it says which picture to write", "give --plot FILE as well", "--picture")
        if self.job is not None:
            if self.profile is not None:
                raise NotUnderstood("a job is judged by its own tolerance profile", "leave it out", "--profile")
            return
        of_a_reading = {
            "--as-found": self.as_found,
            "--as-left": self.as_left,
            "--input": self.input is not None,
            "--words": self.words is not None,
            "--overrule": self.overrule is not None,
        }
        for name, is_given in of_a_reading.items():
            if is_given:
                raise NotUnderstood("it goes with a reading of a job", "give --job JOB, or leave it out", name)


def _tests() -> "tuple[BenchTest[Any], ...]":
    from camerawright.bench.catalogue import CATALOGUE

    return CATALOGUE


def _build(test: "BenchTest[Any]") -> tuple[Any, Parameters]:
    """The command of one test: the options that every test has, and its own."""

    def run(**given: Any) -> None:
        marked, options = told(test, given)
        _measure(test, _Given(**given), marked, options)

    run.__doc__ = f"{test.title}.\n\n{test.setup}"
    job = [
        option("job", str | None, typer.Option(metavar="JOB", help="Enter it as a reading of this job.")),
        option("as_found", bool, typer.Option("--as-found", help="The job's camera before the work."), False),
        option("as_left", bool, typer.Option("--as-left", help="The job's camera after the work."), False),
        option("words", str | None, typer.Option(metavar="TEXT", help="The rest of the set-up, in your words.")),
        option(
            "overrule",
            str | None,
            typer.Option(metavar="WHY", help="Your reason to enter it despite a refusal."),
        ),
    ]
    if test.marked and test.marked.compares:
        says = "The mark is right, however far off the firings are."
        job.append(option("sure", bool, typer.Option("--sure", help=says), False))
    card = option(
        "input",
        str | None,
        typer.Option(metavar="NAME", help="Which input of which sound card: always the same name for the same."),
    )
    shown = [
        option("profile", str | None, typer.Option(metavar="NAME", help="Tolerance profile: a name, or a .toml file.")),
        option("as_json", bool, typer.Option("--json", help="Print the whole result as JSON."), False),
        option("plot", Path | None, typer.Option(metavar="FILE", help="Write a picture here (.png, .svg, .pdf).")),
        option("picture", str | None, typer.Option(metavar="NAME", help="Which picture, where there are several.")),
    ]
    return run, [
        context(),
        argument("recording", Path, test.medium.kind.upper() if test.medium.kind == "table" else "RECORDING",
                 test.medium.takes),
        *test_options(test),
        *job,
        *([card] if test.medium.kind == "sound" else []),
        *shown,
    ]  # fmt: skip


app = typer.Typer(
    cls=group(_build, _tests),
    no_args_is_help=True,
    help="Measure a recording: what it says, how well it says it, or why it does not.",
)


@app.callback()
def _group() -> None:
    """Measure a recording: what it says, how well it says it, or why it does not.

    With --job the recording is kept and entered as a reading, judged by the job's tolerance profile; what cannot be
    measured is not entered. Exit code 3 says that nothing could be measured, with what to do instead.
    """


commands = typer.Typer()
commands.add_typer(app, name="measure", short_help="Measure a recording; with --job, enter the reading.")


def _measure(test: "BenchTest[Any]", given: _Given, marked: str | None, options: dict[str, str]) -> None:
    """Measure, print, draw; exit 0 measured, 2 not understood, 3 not measurable."""
    given.refuse_misplaced()
    kind = _kind(given.plot) if given.plot else ""
    if given.job is not None:
        record = _for_a_job(test, given, given.job, marked, options)
    else:
        from camerawright.handbook.tolerances import DEFAULT, find_profile

        limits = find_profile(given.profile or DEFAULT)
        record = test.run(test.medium.read(given.recording), marked, limits, **options)
        _tell_record(test, record, as_json=given.as_json)
    if record.refused:
        raise typer.Exit(NOT_MEASURABLE)
    if given.plot is not None:
        _write_plot(_picture(test, given.recording, record, given.picture), given.plot, kind)


def _tell_record(test: "BenchTest[Any]", record: "Record", *, as_json: bool) -> None:
    from camerawright.bench.codec import written
    from camerawright.bench.options import for_command_line

    if as_json:
        typer.echo(json.dumps(written(record), indent=2, ensure_ascii=False, allow_nan=False))
    else:
        typer.echo(for_command_line("\n".join(test.lines(record)), test.options))


def _for_a_job(
    test: "BenchTest[Any]", given: _Given, job: str, marked: str | None, options: dict[str, str]
) -> "Record":
    """Measure for a job, enter the reading, and say where the job stands."""
    from camerawright.readings import measuring
    from camerawright.readings.set_up import SetUp
    from camerawright.readings.validity import late
    from camerawright.recordings.kept import input_of

    phase = given.phase()
    with workshop_of(given.ctx) as workshop:
        setup = SetUp(options=options, input=given.input or input_of(given.recording), words=given.words)
        record, here = measuring.measured(
            workshop,
            job,
            test,
            given.recording,
            marked=marked,
            phase=phase,
            setup=setup,
            is_sure=given.sure,
            more={"overruled": given.overrule},
        )
        _tell_record(test, record, as_json=given.as_json)
        if record.refused is None and not given.as_json:
            tell_entered(here)
            if why := late(here.state).get(here.state.journal[-1].id):
                tell(f"! {why}.")
    return record


def _picture(test: "BenchTest[Any]", recording: Path, record: "Record", name: str | None) -> object:
    """The picture of a name, or the one that tells most."""
    pictures = test.plots(test.medium.read(recording), record)
    if name is not None and name not in pictures:
        raise NotUnderstood(f"there is no picture called {name!r}", f"give one of {', '.join(pictures)}", "--picture")
    return pictures[name] if name is not None else next(iter(pictures.values()))


def _kind(path: Path) -> str:
    """In which format a picture is written, by the suffix of its file."""
    kind = path.suffix.lstrip(".").lower()
    if kind not in {"png", "svg", "pdf"}:
        raise NotUnderstood(f"cannot draw a {kind or 'file without a suffix'}", "name it .png, .svg or .pdf", path.name)
    return kind


def _write_plot(figure: object, path: Path, kind: str) -> None:
    """Save a figure whole or not at all."""
    import io

    from matplotlib.figure import Figure

    assert isinstance(figure, Figure)
    picture = io.BytesIO()
    figure.savefig(picture, format=kind, dpi=150)
    written_whole(path, picture.getvalue())
