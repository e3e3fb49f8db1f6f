"""`camerawright record TEST FILE`: from the sound card into a file; reports each firing as you fire it."""

import inspect
import sys
import time
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from camerawright.cli.bench_commands import group, test_options, told
from camerawright.cli.made import Parameters, argument, option
from camerawright.cli.shell import tell, tell_table
from camerawright.trouble import Refused

if TYPE_CHECKING:
    from camerawright.bench.contract import BenchTest
    from camerawright.bench.setup_check.record import SetupCheck
    from camerawright.readings.watch import Watch
    from camerawright.recordings.inputs import Source, Wanted
    from camerawright.recordings.live import Recorder

NOT_MEASURABLE = 3
_LOOK_S = 0.3

Input = Annotated[str | None, typer.Option("--input", metavar="NAME", help="Which input, by its name or a part of it.")]
Rate = Annotated[int | None, typer.Option(metavar="HZ", help="Sampling rate; as the input has it if not given.")]
Channels = Annotated[
    int | None, typer.Option(min=1, max=8, metavar="N", help="How many channels; as the input has them if not given.")
]
Played = Annotated[
    Path | None, typer.Option("--from", metavar="FILE", help="Play a file in place of an input, to try it out.")
]


def _build(test: "BenchTest[Any]") -> tuple[Any, Parameters]:
    """The command that records for one test."""

    def run(**given: Any) -> None:
        from camerawright.recordings.inputs import Wanted

        marked, options = told(test, given)
        out: Path = given["out"]
        if out.suffix.lower() != ".flac" or out.exists():
            raise Refused(
                "it is there already" if out.exists() else "it is no FLAC file", "name a new .flac file", str(out)
            )
        source = _source(
            given["input_"],
            given["played"],
            Wanted(rate_hz=given["rate"], n_channels=given["channels"], n_least=test.n_channels),
        )
        _record(source, out, test, marked, options, given["seconds"])

    run.__doc__ = f"Record for the test: {test.title[:1].lower()}{test.title[1:]}.\n\n{test.setup}"
    seconds = typer.Option(min=0, metavar="S", help="Stop by itself after so long.")
    return run, [
        argument("out", Path, "FILE", "The FLAC file to make."),
        *test_options(test),
        _as_declared("input_", Input, None),
        _as_declared("rate", Rate, None),
        _as_declared("channels", Channels, None),
        _as_declared("played", Played, None),
        option("seconds", float | None, seconds),
    ]


def _as_declared(name: str, annotation: Any, default: Any) -> inspect.Parameter:
    """An option that other commands have too."""
    return inspect.Parameter(name, inspect.Parameter.KEYWORD_ONLY, annotation=annotation, default=default)


def _tests() -> "tuple[BenchTest[Any], ...]":
    from camerawright.readings.live import recordable

    return recordable()


app = typer.Typer(cls=group(_build, _tests), no_args_is_help=True, help="Record from the sound card.")
commands = typer.Typer()
commands.add_typer(app, name="record", short_help="Record from the sound card.")


@app.callback()
def _group() -> None:
    """Record from the sound card, losslessly, until Ctrl-C.

    The level and every firing are told meanwhile. The file is FLAC as deep as the input; its set-up stands beside it as
    JSON, and it gets its name only once it is whole. `measure` with --job then enters it as a reading.

    \b
    Examples:
      camerawright record inputs
      camerawright record shutter found-125.flac --input "Line In" --marked 1/125
      camerawright record sync found-x.flac --contact X
    """


@app.command("inputs")
def _inputs() -> None:
    """List the inputs, with the channels and the sampling rates that each supports itself.

    \b
    Example:
      camerawright record inputs
    """
    _list_inputs()


Lit = Annotated[
    Path | None,
    typer.Option("--lit", metavar="FILE", help="With --from: a kept check with the lamp on."),
]
Lamp = Annotated[bool, typer.Option("--lamp", help="Check again with the lamp on: is the sensor linear?")]


@app.command("check")
def _check_setup(
    input_: Input = None,
    rate: Rate = None,
    channels: Channels = None,
    played: Played = None,
    lamp: Lamp = False,
    lit: Lit = None,
) -> None:
    """Check the set-up with an LED on the headphone output.

    \b
    Examples:
      camerawright record check --input "Line In"
      camerawright record check --input "Line In" --lamp
    """
    from camerawright.recordings.inputs import Wanted

    wanted = Wanted(rate_hz=rate, n_channels=channels)
    dark = _check(_source(input_, played, wanted), plays=played is None)
    if lit is not None:
        _compare(dark, _check(_source(input_, lit, wanted), plays=False))
    elif lamp:
        typer.confirm("Switch the lamp on, as bright at the sensor as for a reading. Is it on?", abort=True)
        _compare(dark, _check(_source(input_, None, wanted), plays=True))


def _list_inputs() -> None:
    from camerawright.recordings.inputs import MUTE, inputs

    found = inputs()
    if not found:
        tell("There is no sound input: plug a sound card in, or an adapter with a line input.")
    tell_table([(each.name, each.system, "; ".join(each.own) or MUTE) for each in found])


def _source(name: str | None, played: Path | None, wanted: "Wanted") -> "Source":
    """What is recorded; of several inputs of like names none is guessed."""
    from camerawright.recordings.inputs import NoInput, PlayedFile, SoundCard, inputs

    if played is not None:
        tell(f"TRYING OUT: {played.name} is played in place of an input; nothing of this is a reading of a camera.")
        return PlayedFile(played)
    there = inputs()
    fit = [each for each in there if name is None or name.casefold() in each.name.casefold()]
    if len(fit) != 1:
        have = ", ".join(each.name for each in there)
        what = "there is no sound input" if not there else f"{len(fit)} inputs fit"
        mend = f"name one with --input: {have}" if there else "plug a sound card in; --from FILE tries it out without"
        raise NoInput(what, mend, name or "record")
    return SoundCard(fit[0].name, wanted)


def _record(
    source: "Source",
    out: Path,
    test: "BenchTest[Any]",
    marked: str | None,
    options: dict[str, str],
    seconds: float | None,
) -> None:
    """Record, tell, stop, and say how it went."""
    from camerawright.bench.options import for_command_line
    from camerawright.handbook.tolerances import DEFAULT, find_profile
    from camerawright.readings.measuring import refuse_unfit
    from camerawright.readings.watch import Watch
    from camerawright.recordings.live import Recorder
    from camerawright.wording import numbers

    profile = find_profile(DEFAULT)
    refuse_unfit(test, marked, profile, options=options, n_channels=source.n_channels, rate_hz=source.rate_hz)
    setup = {"test": test.name, "marked": marked, "options": options}
    recorder = Recorder(source, out.parent, name=out.stem, setup=setup)
    watch = Watch(recorder, test, marked, profile, options)
    channels = numbers.counted(source.n_channels, "channel")
    tell(f"Recording {source.name}: {channels} at {source.rate_hz} Hz, {source.bits} bits; Ctrl-C stops.")
    recorder.start()
    watch.start()
    try:
        _told_until_over(recorder, watch, seconds)
    except KeyboardInterrupt:
        pass
    finally:
        watch.stop()
        kept = recorder.stop()
    tell(f"{numbers.fixed(kept.meter.duration_s, 1)} s kept in {kept.path}")
    for flag in kept.meter.flags:
        tell(f"! {flag}")
    found = test.run(test.medium.read(kept.path), marked, profile, **options)
    for line in test.lines(found):
        tell(for_command_line(line, test.options))
    if found.refused is not None:
        raise typer.Exit(NOT_MEASURABLE)


def _told_until_over(recorder: "Recorder", watch: "Watch", seconds: float | None) -> None:
    """One line for each firing, and the level on a terminal."""
    from camerawright.wording import numbers

    n_told = 0
    while not recorder.source.is_over and recorder.meter().error is None:
        time.sleep(_LOOK_S)
        meter = recorder.meter()
        n_told = _tell_fired(watch, n_told)
        if sys.stderr.isatty():
            long_s, peak = numbers.fixed(meter.duration_s, 1), numbers.percent(meter.peak, 1)
            typer.echo(f"\r{long_s:>7} s  {_bar(meter.peak)} peak {peak:>7}", err=True, nl=False)
        if seconds is not None and meter.duration_s >= seconds:
            break
    watch.stop()
    watch.look()  # once more, for what was fired last
    _tell_fired(watch, n_told)


def _tell_fired(watch: "Watch", n_told: int) -> int:
    """The firings that were not told yet, a line for each; how many are told now."""
    from camerawright.wording import numbers

    for n, fired in enumerate(watch.fired[n_told:], start=n_told + 1):
        took = f": {numbers.milliseconds(fired.time.value, fired.time.expanded_u)}" if fired.time else ""
        tell(f"{n:>3} at {numbers.fixed(fired.at_s, 2)} s{took}")
        n_told = n
    return n_told


def _bar(peak: float) -> str:
    filled = round(20 * min(1.0, peak))
    return f"[{'#' * filled:<20}]"


def _check(source: "Source", *, plays: bool) -> "SetupCheck":
    """Drive the LED, listen, and say what the set-up is."""
    import tempfile

    from camerawright.bench.setup_check import tell as told_check
    from camerawright.bench.setup_check.measure import setup_check
    from camerawright.bench.setup_check.signal import RATE_HZ, drive, signal
    from camerawright.recordings.inputs import HeadphoneOutput
    from camerawright.recordings.live import Recorder
    from camerawright.recordings.sound import read_sound
    from camerawright.trouble import NotMeasurable

    played = signal()
    output = HeadphoneOutput(drive(played), RATE_HZ) if plays else None
    with tempfile.TemporaryDirectory(prefix="camerawright-") as folder:
        recorder = Recorder(source, Path(folder), name="check")
        recorder.start()
        if output is not None:
            output.start()
        while recorder.meter().duration_s < played.duration_s + 1.0 and not source.is_over:
            time.sleep(0.05)
        if output is not None:
            output.stop()
        kept = recorder.stop()
        try:
            result = setup_check(read_sound(kept.path), played)
        except NotMeasurable as why:
            tell(f"Not measurable: {why.what}.")
            tell(f"{why.mend}.")
            raise typer.Exit(NOT_MEASURABLE) from None
    for line in told_check.lines(result):
        tell(line)
    if not result.is_fit:
        raise typer.Exit(NOT_MEASURABLE)
    return result


def _compare(dark: "SetupCheck", lit: "SetupCheck") -> None:
    """Say whether the sensor answers to more light as to less."""
    from camerawright.bench.setup_check.linearity import linearity

    tell(linearity(dark, lit).verdict)
