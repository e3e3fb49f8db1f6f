"""Focal plane by light: wires the parts of the test."""

from dataclasses import replace

from camerawright.bench.contract import SOUND, BenchTest, Marked
from camerawright.bench.curtains import measure, plot, simulate, speeds, tell
from camerawright.bench.curtains.advice import advice
from camerawright.bench.curtains.gate import DIAMETERS, PLACES, gate_of
from camerawright.bench.curtains.record import CurtainsRecord, speed_compared
from camerawright.bench.curtains.sensors import OPTIONS, sensors_told
from camerawright.bench.marked_speeds import only_mark
from camerawright.bench.options import Option
from camerawright.bench.record import Refusal
from camerawright.handbook.tolerances import DEFAULT, Profile, find_profile
from camerawright.recordings.channel import Recording
from camerawright.recordings.sound import Waveform, simulated
from camerawright.trouble import NotMeasurable


def run(
    recording: Recording,
    marked: str | None = None,
    profile: Profile | None = None,
    *,
    at: str | None = None,
    gate: str | None = None,
    diameter: str | None = None,
    placed: str | None = None,
    **told: str | None,
) -> CurtainsRecord:
    """Measure a recording, and compare the setting nearest to a marked speed with it where one is given."""
    if marked is not None:
        only_mark(marked)  # a mark that cannot be read is said before a recording is measured
    sensors = sensors_told(told.get("sensor"), told.get("lag_us"), told.get("alike"))
    try:
        measure.refuse_too_few(recording)
        set_up = gate_of(recording.n_channels, at, gate, diameter, placed)
        found = measure.measure(recording, set_up, sensors=sensors)
    except NotMeasurable as why:
        return CurtainsRecord(test=TEST.name, method=measure.METHOD, refused=Refusal.of(why))
    if marked is not None:
        found = speeds.nearest_first(found, marked)
    settings = speeds.speeds(found)
    compared = speeds.compare(found, marked, profile or find_profile(DEFAULT)) if marked is not None else None
    is_capped = marked is not None and compared is None
    shown = speed_compared(settings, compared) or (settings[0] if settings else None)  # the fastest shows most
    return CurtainsRecord(
        test=TEST.name,
        method=measure.METHOD,
        figures=() if is_capped else speeds.figures(settings, compared),
        firings=found.firings,
        skipped=found.skipped,
        flags=(*found.flags, *((speeds.CAPPED,) if is_capped else ()), *(compared.flags if compared else ())),
        speeds=settings,
        advice=advice(found.firings, shown, compared),
        input=found.input,
        compared=compared,
    )


def example(seed: int) -> Waveform:
    """Two firings at 1/30 and four at 1/500 whose second curtain is slow, as a sound card records them."""
    scene = simulate.example(seed)
    samples, _ = simulate.recording(scene, seed)
    return simulated(samples, scene.rate_hz, scene.bits)


TEST: BenchTest[CurtainsRecord] = BenchTest(
    name="curtains",
    title="Focal plane by light",
    method=measure.METHOD,
    setup=(
        "Open the camera back. Put a steady lamp that runs on a battery, with a diffuser, in front; the lens may be on"
        " or off. Set two or three small light sensors (1 mm, or masked to it) at the film gate, in a row along the way"
        " of the curtains: one 2 mm from either edge, the third in the middle. Plug each into its own channel and"
        " switch off every enhancement of the input. Record WAV or FLAC at 44.1 kHz or more: two firings at 1/30, then"
        " six at the speed in question, a second apart."
    ),
    record=CurtainsRecord,
    run=run,
    simulate=example,
    plots=plot.figures,
    lines=tell.lines,
    words=tell.words,
    table=tell.table,
    medium=replace(SOUND, takes="WAV or FLAC of two or more light sensors across the gate, one channel each."),
    n_channels=2,
    options=(
        Option(
            "at",
            "MM,MM,...",
            PLACES,
            "in mm from the edge that the curtains come in at, in the order of the channels; 2,18,34 if not told",
            of_camera=True,
        ),
        Option(
            "gate",
            "MM",
            "Width of the gate along the way of the curtains",
            "36 if not told; 24 where they run up or down",
            of_camera=True,
        ),
        Option(
            "diameter", "MM", DIAMETERS, "one for all, or one each; if not told, as the edges of a slow firing show it"
        ),
        Option("placed", "MM", "How well the sensors are placed", "standard uncertainty in mm; 0.35 if not told"),
        *OPTIONS,
    ),
    marked=Marked(speeds=tell.dial, card=plot.card, one_at_a_time=True),
    waveform=plot.plan,
    fired=tell.fired,
)
