"""Leaf shutter by light: wires the parts of the test."""

from camerawright.bench.contract import BenchTest, Marked
from camerawright.bench.marked_speeds import marks_in
from camerawright.bench.options import Option, choice
from camerawright.bench.record import Refusal
from camerawright.bench.sensor_lag import LAG, with_lag
from camerawright.bench.shutter import measure, plot, simulate, speeds, tell
from camerawright.bench.shutter.record import ShutterRecord
from camerawright.handbook.light_sensors import SENSOR_NAMES, sensor_named
from camerawright.handbook.tolerances import DEFAULT, Profile, find_profile
from camerawright.numeric.instrument import Instrument
from camerawright.recordings.channel import Recording
from camerawright.recordings.sound import Waveform, simulated
from camerawright.trouble import NotMeasurable


def run(
    recording: Recording,
    marked: str | None = None,
    profile: Profile | None = None,
    *,
    sensor: str | None = None,
    lag_us: str | None = None,
    instrument: Instrument | None = None,
) -> ShutterRecord:
    """Measure a recording, and compare it with the marked speeds where they are given."""
    marks = marks_in(marked) if marked else ()  # what cannot be read is said before a recording is measured
    kind = with_lag(sensor_named(choice("sensor", sensor, SENSOR_NAMES)), lag_us)
    try:
        found = measure.measure(recording, sensor=kind, instrument=instrument)
    except NotMeasurable as why:
        return ShutterRecord(test=TEST.name, method=measure.METHOD, refused=Refusal.of(why))
    dial = speeds.speeds(found, marks, profile or find_profile(DEFAULT))
    named = (f"{speeds.name(one)}: {flag}" if len(dial) > 1 else flag for one in dial for flag in one.flags)
    return ShutterRecord(
        test=TEST.name,
        method=measure.METHOD,
        figures=tuple(figure for one in dial for figure in one.figures),
        firings=found.firings,
        skipped=found.skipped,
        flags=(*found.flags, *named),
        input=found.input(instrument),
        chain=found.chain,
        speeds=dial,
        compared=dial[0].compared if len(dial) == 1 else None,
    )


def example(seed: int) -> Waveform:
    """Six firings of a tired 1/60, about a third of a stop slow, as a sound card records them."""
    scene = simulate.with_noise_db(simulate.example((1 / 64,), seed, error_stops=0.35), 45)
    samples, _ = simulate.recording(scene, seed)
    return simulated(samples, scene.card.rate_hz, scene.card.bits)


TEST: BenchTest[ShutterRecord] = BenchTest(
    name="shutter",
    title="Leaf shutter by light",
    method=measure.METHOD,
    setup=(
        "Open the camera back and the lens wide open. Put a steady lamp with a diffuser in front, and the light sensor"
        " behind the lens so that it takes all the light. Plug the sensor into the line input and switch off every"
        " enhancement of that input. Record WAV or FLAC at 44.1 kHz or more: six firings, with a second of dark before"
        " and after each."
    ),
    record=ShutterRecord,
    run=run,
    simulate=example,
    plots=plot.figures,
    lines=tell.lines,
    words=tell.words,
    table=tell.table,
    options=(
        Option("sensor", "CLASS", "Class of the light sensor", "as doubtful as any of them if not told", SENSOR_NAMES),
        LAG,
    ),
    marked=Marked(speeds=tell.dial),
    waveform=plot.plan,
    fired=tell.fired,
    remembered=lambda record: record.input.alone if record.input else None,
)
