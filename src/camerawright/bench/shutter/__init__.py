"""Leaf shutter by light: wires the parts of the test."""

from typing import TYPE_CHECKING

from camerawright.bench.contract import BenchTest, Json, Option, Outcome, comparisons
from camerawright.bench.marked_speeds import marks_in
from camerawright.bench.options import choice
from camerawright.bench.shutter import measure, plot, report, simulate, speeds, waveform, words
from camerawright.bench.speed_card import speed_card_figure
from camerawright.handbook.light_sensors import SENSOR_NAMES, sensor_named
from camerawright.handbook.tolerances import DEFAULT, Profile, find_profile
from camerawright.numeric.instrument import Instrument
from camerawright.recordings.channel import Recording
from camerawright.recordings.sound import Waveform, open_sound, simulated
from camerawright.trouble import NotMeasurable

if TYPE_CHECKING:
    from matplotlib.figure import Figure


def run(
    recording: Recording,
    marked: str | None = None,
    profile: Profile | None = None,
    *,
    sensor: str | None = None,
    instrument: Instrument | None = None,
) -> Outcome:
    """Measure a recording, and compare it with the marked speeds where they are given."""
    marks = marks_in(marked) if marked else ()  # what cannot be read is said before a recording is measured
    kind = sensor_named(choice("sensor", sensor, SENSOR_NAMES))
    try:
        result = measure.measure(recording, sensor=kind, instrument=instrument)
    except NotMeasurable as why:
        return Outcome(report.refused_as_json(why))
    is_used = result.coupling is not result.coupling_alone
    found = speeds.speeds(result, marks, profile or find_profile(DEFAULT))
    return Outcome(report.as_json(result, found, remembered=instrument if is_used else None))


def example(seed: int) -> Waveform:
    """Six firings of a tired 1/60, about a third of a stop slow, as a sound card records them."""
    scene = simulate.with_noise_db(simulate.example((1 / 64,), seed, error_stops=0.35), 45)
    samples, _ = simulate.recording(scene, seed)
    return simulated(samples, scene.card.rate_hz, scene.card.bits)


def figures(recording: Recording, outcome: Outcome) -> "dict[str, Figure]":
    """The waveform of the first firing, the firings of each speed overlaid, the speed card where there are marks."""
    record = outcome.record
    if not record["firings"]:
        return {}
    out = {"waveform": plot.waveform_figure(recording, record), "overlaid": plot.overlaid_figure(recording, record)}
    compared = comparisons(record)
    if compared:
        out["speed card"] = speed_card_figure(compared)
    return out


def card(as_found: list[Json], as_left: list[Json]) -> "Figure | None":
    """Marked against actual speeds, before and after the work."""
    found, left = ([one for record in records for one in comparisons(record)] for records in (as_found, as_left))
    return speed_card_figure(found, left) if found or left else None


TEST = BenchTest(
    name="shutter",
    title="Leaf shutter by light",
    method=measure.METHOD,
    setup=(
        "Camera back open, lens wide open, a steady lamp with a diffuser in front, the light sensor behind"
        " the lens so that"
        " it takes all light. Sensor into the line input; every enhancement of the input off. Record WAV or"
        " FLAC at 44.1 kHz or"
        " more; a second of dark before and after each firing; six firings."
    ),
    run=run,
    simulate=example,
    plots=figures,
    card=card,
    lines=lambda outcome: report.lines(outcome.record),
    words=words.words,
    lanes=waveform.plan,
    read=open_sound,
    options=(
        Option("sensor", "CLASS", f"Class of the light sensor: {', '.join(SENSOR_NAMES)} (photodiode).", SENSOR_NAMES),
    ),
    compares_speeds=True,
    remembers_input=True,
)
