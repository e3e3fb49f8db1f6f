"""Flash contact against the light: wires the parts of the test."""

from typing import TYPE_CHECKING, get_args

from camerawright.bench.contract import BenchTest, Option, Outcome
from camerawright.bench.marked_speeds import marks_in
from camerawright.bench.options import choice, number
from camerawright.bench.sync import judge, measure, plot, report, simulate, summary, waveform
from camerawright.bench.sync.uses import Setup
from camerawright.handbook import sync
from camerawright.handbook.light_sensors import SENSOR_NAMES, sensor_named
from camerawright.handbook.tolerances import Profile
from camerawright.recordings.channel import Recording
from camerawright.recordings.sound import Waveform, open_sound, simulated
from camerawright.trouble import NotMeasurable

if TYPE_CHECKING:
    from matplotlib.figure import Figure

_SHUTTERS: tuple[sync.Shutter, ...] = get_args(sync.Shutter)
_SENSOR_AT: tuple[sync.SensorAt, ...] = get_args(sync.SensorAt)
_CONTACTS: tuple[sync.Contact, ...] = get_args(sync.Contact)


def run(
    recording: Recording,
    marked: str | None = None,
    profile: Profile | None = None,
    **options: str,
) -> Outcome:
    """Measure a recording and judge the contact, at each marked speed where they are given."""
    marks = marks_in(marked) if marked else ()  # what cannot be read is said before a recording is measured
    setup = Setup(
        shutter=choice("shutter", options.get("shutter"), _SHUTTERS) or "leaf",
        sensor_at=choice("sensor_at", options.get("sensor_at"), _SENSOR_AT) or "middle",
        contact=choice("contact", options.get("contact"), _CONTACTS),
        flash_s=1e-3 * (number("flash_ms", options.get("flash_ms"), 0.01, 100.0) or 1e3 * sync.FLASH_S),
        contact_ohm=number("contact_ohm", options.get("contact_ohm"), 0.0, 1e6),
    )
    sensor = sensor_named(choice("sensor", options.get("sensor"), SENSOR_NAMES))
    skew_us = number("skew_us", options.get("skew_us"), -1000.0, 1000.0)
    try:
        result = measure.measure(
            recording,
            sensor=sensor,
            skew_s=None if skew_us is None else 1e-6 * skew_us,
            series_ohm=number("series_ohm", options.get("series_ohm"), 1.0, 1e5),
        )
    except NotMeasurable as why:
        return Outcome(report.refused_as_json(why))
    return Outcome(report.as_json(result, judge.judge(result, setup, marks)))


def example(seed: int) -> Waveform:
    """Six firings of a 1/60 whose contact makes a little early and bounces; a wire bridges it first."""
    scene = simulate.example(seed)
    samples, _ = simulate.recording(scene, seed)
    return simulated(samples, scene.card.rate_hz, scene.card.bits)


def figures(recording: Recording, outcome: Outcome) -> "dict[str, Figure]":
    """Light and contact of the first firing."""
    return {"contact": plot.sync_figure(recording, outcome.record)} if outcome.record["firings"] else {}


TEST = BenchTest(
    name="sync",
    title="Flash contact against the light",
    method=measure.METHOD,
    setup=(
        "Light sensor behind the open lens on one channel of a stereo input. On the other the flash contact: a"
        " battery of"
        " 1.5 V, a resistor of 220 Ω and the contact in a ring, the input across the resistor. At most 3 V and 10 mA;"
        " never a flash, and never the mains, on this lead. Bridge the contact with a wire once, then fire six times"
        " a second"
        " or more apart, at each speed. WAV or FLAC at 44.1 kHz or more, every enhancement off."
    ),
    run=run,
    simulate=example,
    plots=figures,
    card=lambda as_found, as_left: None,
    lines=lambda outcome: summary.lines(outcome.record),
    words=plot.words,
    lanes=waveform.plan,
    read=open_sound,
    tells=summary.tells,
    takes="Stereo WAV or FLAC: a light sensor on one channel, the flash contact on the other.",
    n_channels=2,
    options=(
        Option(
            "contact",
            "CLASS",
            "The contact under test: X, M, F or FP; undecided if not told.",
            _CONTACTS,
            of_camera=True,
        ),
        Option("shutter", "KIND", "The kind of shutter: leaf or focal-plane (leaf).", _SHUTTERS, of_camera=True),
        Option(
            "sensor_at",
            "WHERE",
            "Focal plane: where along the curtain's way the sensor is: start, middle or end (middle).",
            _SENSOR_AT,
            of_camera=True,
        ),
        Option("flash_ms", "MS", "How long the flash burns (1)."),
        Option("series_ohm", "OHM", "All resistance in the ring but the contact's; needs one closure by a wire."),
        Option(
            "contact_ohm",
            "OHM",
            "Resistance of the closed contact by a meter, less that of the meter's leads.",
            of_camera=True,
        ),
        Option("skew_us", "US", "How much later the contact's channel is sampled, where known."),
        Option("sensor", "CLASS", f"Class of the light sensor: {', '.join(SENSOR_NAMES)} (photodiode).", SENSOR_NAMES),
    ),
)
