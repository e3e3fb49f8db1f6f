"""`camerawright record FILE`: from the sound card into a file, with the firings told as they are fired."""

import sys
import time
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from camerawright.cli.shell import ToldOptions, in_one, named_values, tell, tell_table

if TYPE_CHECKING:
    from camerawright.bench.contract import BenchTest
    from camerawright.bench.setup_check.check import SetupCheck
    from camerawright.readings.watch import Watch
    from camerawright.recordings.inputs import Input, Source
    from camerawright.recordings.live import Recorder

commands = typer.Typer()

NOT_MEASURABLE = 3
_LOOK_S = 0.3


@commands.command()
def record(
    out: Annotated[
        Path | None, typer.Argument(metavar="[FILE]", help="The FLAC file to make.", show_default=False)
    ] = None,
    *,
    input_: Annotated[
        str | None, typer.Option("--input", metavar="NAME", help="Which input, by its name or a part of it.")
    ] = None,
    rate: Annotated[int, typer.Option(metavar="HZ", help="Sampling rate; the input must have it itself.")] = 48_000,
    channels: Annotated[int, typer.Option(min=1, max=8, metavar="N", help="How many channels.")] = 1,
    seconds: Annotated[float | None, typer.Option(min=0, metavar="S", help="Stop by itself after so long.")] = None,
    test: Annotated[str, typer.Option(metavar="TEST", help="The bench test that looks for firings.")] = "shutter",
    marked: Annotated[
        list[str] | None,
        typer.Option(metavar="SPEED", help="The marked speed, as 1/125. Give one for each speed fired."),
    ] = None,
    told: ToldOptions = None,
    played: Annotated[
        Path | None, typer.Option("--from", metavar="FILE", help="Play a file in place of an input, to try it out.")
    ] = None,
    list_: Annotated[bool, typer.Option("--list", help="List the inputs, and record nothing.")] = False,
    check: Annotated[
        bool, typer.Option("--check", help="Check the set-up with an LED on the headphone output.")
    ] = False,
) -> None:
    """Record from the sound card, losslessly, until Ctrl-C.

    The level and every firing are told meanwhile. The file is FLAC as deep as the input, its set-up stands beside it
    as JSON; it has its name only once it is whole. `measured` then enters it as a reading of a job.

    \b
    Examples:
      camerawright record --list
      camerawright record found-125.flac --input "Line In" --marked 1/125
      camerawright record found-x.flac --channels 2 --test sync --told contact=X
    """
    if list_:
        _list_inputs()
        return
    from camerawright.trouble import Refused

    if out is None and not check:
        raise Refused("no file is named", "name one, as found-125.flac; --list shows the inputs", "record")
    found = _test_called(test)
    if check:
        source = _source(input_, rate, channels, played)
        _check(source, plays=played is None)
        return
    assert out is not None
    if out.suffix.lower() != ".flac" or out.exists():
        raise Refused(
            "it is there already" if out.exists() else "it is no FLAC file", "name a new .flac file", str(out)
        )
    source = _source(input_, rate, channels, played)
    _record(source, out, found, in_one(marked), named_values(told), seconds)


def _list_inputs() -> None:
    from camerawright.recordings.inputs import inputs

    found = inputs()
    if not found:
        tell("There is no sound input: plug a sound card in, or an adapter with a line input.")
    tell_table([(each.name, each.system, _rates(each)) for each in found])


def _rates(each: "Input") -> str:
    """Its own rates, as a person says them."""
    return ", ".join(f"{rate / 1000:g} kHz" for rate in each.rates_hz) or "no rate of its own"


def _source(name: str | None, rate: int, channels: int, played: Path | None) -> "Source":
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
    return SoundCard(fit[0].name, rate, channels)


def _record(
    source: "Source", out: Path, test: "BenchTest", marked: str | None, told: dict[str, str], seconds: float | None
) -> None:
    """Record, tell, stop, and say how it went."""
    from camerawright.handbook.tolerances import DEFAULT, find_profile
    from camerawright.readings.measuring import refuse_unfit, told_options
    from camerawright.readings.watch import Watch
    from camerawright.recordings.live import Recorder

    profile = find_profile(DEFAULT)
    refuse_unfit(test, marked, profile, options=told, n_channels=source.n_channels, rate_hz=source.rate_hz)
    options = told_options(test, told)
    setup = {"test": test.name, "marked": marked, "options": options}
    recorder = Recorder(source, out.parent, name=out.stem, setup=setup)
    watch = Watch(recorder, test, marked, profile, options)
    tell(f"Recording {source.name} at {source.rate_hz} Hz, {source.bits} bits; Ctrl-C stops.")
    recorder.start()
    watch.start()
    try:
        _told_until_over(recorder, watch, seconds)
    except KeyboardInterrupt:
        pass
    finally:
        watch.stop()
        kept = recorder.stop()
    tell(f"{kept.meter.duration_s:.1f} s kept in {kept.path}")
    for flag in kept.meter.flags:
        tell(f"! {flag}")
    outcome = test.run(test.read(kept.path), marked, profile, **options)
    for line in test.lines(outcome):
        tell(line)
    if outcome.refused is not None:
        raise typer.Exit(NOT_MEASURABLE)


def _test_called(name: str) -> "BenchTest":
    """The bench test of that name, if it takes sound."""
    from camerawright.readings.live import recordable
    from camerawright.trouble import Refused

    there = {test.name: test for test in recordable()}
    if name not in there:
        raise Refused("none of that name takes sound", f"use {', '.join(there)}", f"bench test {name}")
    return there[name]


def _told_until_over(recorder: "Recorder", watch: "Watch", seconds: float | None) -> None:
    """One line for each firing, and the level on a terminal."""
    from camerawright.bench.comparison_record import time_text

    n_told = 0
    while not recorder.source.is_over and recorder.meter().error is None:
        time.sleep(_LOOK_S)
        meter = recorder.meter()
        for fired in watch.fired[n_told:]:
            n_told += 1
            shot = fired.firing
            text = f"{n_told:>3} at {shot['at_s']:.2f} s"
            if shot.get("u_effective_s") is not None:
                expanded_ms = 1e3 * shot.get("k95_effective", 2.0) * shot["u_effective_s"]
                text += f": {time_text(shot['effective_s'], expanded_ms)}"
            tell(text)
        if sys.stderr.isatty():
            typer.echo(
                f"\r{meter.duration_s:7.1f} s  {_bar(meter.peak)} peak {100 * meter.peak:5.1f} %", err=True, nl=False
            )
        if seconds is not None and meter.duration_s >= seconds:
            return
    time.sleep(2 * _LOOK_S)  # what was fired last is told too


def _bar(peak: float) -> str:
    filled = round(20 * min(1.0, peak))
    return f"[{'#' * filled:<20}]"


def _check(source: "Source", *, plays: bool) -> None:
    """Drive the LED, listen, and say what the set-up is."""
    import tempfile

    from camerawright.bench.setup_check.check import setup_check
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
    for line in check_lines(result):
        tell(line)
    if not result.is_fit:
        raise typer.Exit(NOT_MEASURABLE)


def check_lines(result: "SetupCheck") -> list[str]:
    """The set-up in lines, each figure with its standard uncertainty doubled."""
    corners = " and ".join(f"{each.value:.3g} ± {2 * each.u:.1g}" for each in result.corners_hz)
    return [
        result.verdict,
        f"rises in {1e6 * result.rise_s.value:.0f} ± {2e6 * result.rise_s.u:.1g} µs,"
        f" falls in {1e6 * result.fall_s.value:.0f} ± {2e6 * result.fall_s.u:.1g} µs (10 % to 90 %, the whole chain)",
        f"pulses are recorded longer by {1e6 * result.fall_lag_s.value:+.1f} ± {2e6 * result.fall_lag_s.u:.1g} µs",
        f"AC coupled at {corners} Hz",
        f"level {100 * result.level_fs:.1f} % of full scale, noise {result.noise_db:.0f} dB below it",
        f"like pulses differ by {100 * result.gain_change.value:.2f} %",
        f"the input's clock is off the output's by {1e6 * result.clock.value:+.1f} ± {2e6 * result.clock.u:.1g} ppm",
        f"ISO 516 asks for a chain flat to 100 / t: this one's rise allows {1e3 * result.iso_516_s:.2g} ms and more"
        " (no conformity is claimed)",
        *(f"! {flag}" for flag in result.flags),
    ]
