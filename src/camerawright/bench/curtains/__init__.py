"""Focal plane by light: wires the parts of the test."""

from dataclasses import replace
from typing import TYPE_CHECKING

from camerawright.bench.contract import BenchTest, Json, Option, Outcome
from camerawright.bench.curtains import groups, measure, plot, report, simulate, summary, waveform
from camerawright.bench.curtains.advice import advice
from camerawright.bench.curtains.gate import gate_of
from camerawright.bench.marked_speeds import only_mark
from camerawright.handbook.tolerances import DEFAULT, Profile, find_profile
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
    at: str | None = None,
    gate: str | None = None,
    diameter: str | None = None,
    placed: str | None = None,
) -> Outcome:
    """Measure a recording, and compare the setting nearest to a marked speed with it where one is given."""
    if marked is not None:
        only_mark(marked)  # a mark that cannot be read is said before a recording is measured
    try:
        measure.refuse_too_few(recording)
        result = measure.measure(recording, gate_of(recording.n_channels, at, gate, diameter, placed))
    except NotMeasurable as why:
        return Outcome(report.refused_as_json(why))
    if marked is not None:
        result = groups.nearest_first(result, marked)
    speeds = groups.speeds(result)
    compared = groups.compare(result, marked, profile or find_profile(DEFAULT)) if marked is not None else None
    if marked is not None and compared is None:
        result = replace(result, flags=(*result.flags, groups.CAPPED))
    return Outcome(report.as_json(result, speeds, compared, advice(result, compared, speeds)))


def example(seed: int) -> Waveform:
    """Two firings at 1/30 and four at 1/500 whose second curtain is slow, as a sound card records them."""
    scene = simulate.example(seed)
    samples, _ = simulate.recording(scene, seed)
    return simulated(samples, scene.rate_hz, scene.bits)


def figures(recording: Recording, outcome: Outcome) -> "dict[str, Figure]":
    """The curtains and what the sensors saw in the fastest firing (of those compared, where there is a mark)."""
    record = outcome.record
    if not record["firings"]:
        return {}
    compared, i = record["compared"], plot.shown_firing(record)
    out = {"curtains": plot.curtain_figure(record, i), "waveform": plot.waveform_figure(recording, record, i)}
    if compared:
        out["speed card"] = plot.card_figure([compared], [])
    return out


def card(as_found: list[Json], as_left: list[Json]) -> "Figure | None":
    """Every place of the gate against the marks, before and after the work."""
    found, left = ([record["compared"] for record in records if record["compared"]] for records in (as_found, as_left))
    return plot.card_figure(found, left) if found or left else None


TEST = BenchTest(
    name="curtains",
    title="Focal plane by light",
    method=measure.METHOD,
    setup=(
        "Camera back open, a steady lamp on a battery with a diffuser in front, lens on or off. Two or three small"
        " light sensors (1 mm, or masked to it) at the film gate in a row along the curtains' way: 2 mm from either"
        " edge, the third in the middle. Each into its own channel, every enhancement off. Record WAV or FLAC at"
        " 44.1 kHz or more: two firings at 1/30, then six at the speed in question, a second apart."
    ),
    run=run,
    simulate=example,
    plots=figures,
    card=card,
    lines=lambda outcome: summary.lines(outcome.record),
    words=plot.words,
    lanes=waveform.plan,
    read=open_sound,
    tells=summary.tells,
    takes="WAV or FLAC of two or more light sensors across the gate, one channel each.",
    n_channels=2,
    compares_speeds=True,
    compares_one=True,
    options=(
        Option(
            "at", "MM,MM,...", "Where the sensors stand, in mm from the near edge (default 2,18,34).", of_camera=True
        ),
        Option("gate", "MM", "Width of the gate along the curtains' way (default 36; 24 if vertical).", of_camera=True),
        Option("diameter", "MM", "Diameter of the sensors, one or one each (default 1)."),
        Option("placed", "MM", "How well they are placed: standard uncertainty in mm (default 0.35)."),
    ),
)
