"""Leaf shutter by light: wires the parts of the test."""

from typing import TYPE_CHECKING

import numpy as np

from camerawright.bench.contract import BenchTest, Json, NotMeasurable, Outcome
from camerawright.bench.shutter import compare, measure, plot, report, simulate
from camerawright.handbook.exposure import marked_speed
from camerawright.handbook.tolerances import DEFAULT, Profile, find_profile
from camerawright.recordings.sound import Waveform

if TYPE_CHECKING:
    from matplotlib.figure import Figure


def run(waveform: Waveform, marked: str | None = None, profile: Profile | None = None) -> Outcome:
    """Measure a recording, and compare it with a marked speed where one is given."""
    if marked is not None:
        marked_speed(marked)  # a mark that cannot be read is said before a recording is measured
    try:
        result = measure.measure(waveform)
    except NotMeasurable as why:
        return Outcome(report.refused_as_json(why))
    comparison = compare.compare(result, marked, profile or find_profile(DEFAULT)) if marked is not None else None
    return Outcome(report.as_json(result, comparison))


def example(seed: int) -> Waveform:
    """Six firings of a tired 1/60, about a third of a stop slow, as a sound card records them."""
    scene = simulate.with_noise_db(simulate.example((1 / 64,), seed, error_stops=0.35), 45)
    samples, _ = simulate.recording(scene, seed)
    return Waveform(
        samples.astype(np.float32), scene.card.rate_hz, scene.card.bits, "WAV PCM_16", "", False, "simulated"
    )


def figures(waveform: Waveform, outcome: Outcome) -> "dict[str, Figure]":
    """The waveform of the first firing, and the speed card where a marked speed was given."""
    record = outcome.record
    if not record["firings"]:
        return {}
    out = {"waveform": plot.waveform_figure(waveform, record)}
    if record["compared"]:
        out["speed card"] = plot.speed_card_figure([record["compared"]])
    return out


def card(as_found: list[Json], as_left: list[Json]) -> "Figure | None":
    """Marked against actual speeds, before and after the work."""
    found, left = ([record["compared"] for record in records if record["compared"]] for records in (as_found, as_left))
    return plot.speed_card_figure(found, left) if found or left else None


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
)
