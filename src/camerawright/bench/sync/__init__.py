"""Flash contact against the light: wires the parts of the test."""

from dataclasses import replace
from typing import get_args

from camerawright.bench.contract import SOUND, BenchTest, Marked
from camerawright.bench.marked_speeds import marks_in
from camerawright.bench.options import Option, choice, number
from camerawright.bench.record import Refusal
from camerawright.bench.sync import measure, plot, simulate, tell
from camerawright.bench.sync.judge import judge, judged, resistance_flags, untold_class
from camerawright.bench.sync.record import SyncRecord
from camerawright.bench.sync.uses import SERIES, UNDER_TEST, Setup
from camerawright.handbook import sync
from camerawright.handbook.light_sensors import PHOTODIODE, SENSOR_NAMES, sensor_named
from camerawright.handbook.tolerances import Profile
from camerawright.recordings.channel import Recording
from camerawright.recordings.sound import Waveform, simulated
from camerawright.trouble import NotMeasurable

_SHUTTERS: tuple[sync.Shutter, ...] = get_args(sync.Shutter)
_SENSOR_AT: tuple[sync.SensorAt, ...] = get_args(sync.SensorAt)
_CONTACTS: tuple[sync.Contact, ...] = get_args(sync.Contact)


def run(
    recording: Recording,
    marked: str | None = None,
    profile: Profile | None = None,
    **options: str,
) -> SyncRecord:
    """Measure a recording and judge the contact, at each marked speed where they are given."""
    marks = marks_in(marked) if marked else ()  # what cannot be read is said before a recording is measured
    setup = Setup(
        shutter=choice("shutter", options.get("shutter"), _SHUTTERS) or "leaf",
        sensor_at=choice("sensor_at", options.get("sensor_at"), _SENSOR_AT) or "middle",
        contact=choice("contact", options.get("contact"), _CONTACTS),
        flash_s=1e-3 * (number("flash_ms", options.get("flash_ms"), 0.01, 100.0) or 1e3 * sync.FLASH_S),
        contact_ohm=number("contact_ohm", options.get("contact_ohm"), 0.0, 1e6),
    )
    sensor = sensor_named(choice("sensor", options.get("sensor"), SENSOR_NAMES) or PHOTODIODE.name)
    skew_us = number("skew_us", options.get("skew_us"), -1000.0, 1000.0)
    series_ohm = number("series_ohm", options.get("series_ohm"), 1.0, 1e5)
    try:
        found = measure.measure(
            recording, sensor=sensor, skew_s=None if skew_us is None else 1e-6 * skew_us, series_ohm=series_ohm
        )
    except NotMeasurable as why:
        return SyncRecord(test=TEST.name, method=measure.METHOD, refused=Refusal.of(why))
    speeds = judge(found, setup, marks)
    firings = judged(found.firings, speeds, setup)
    named = (
        f"{one.name}: {flag}" if len(speeds) > 1 else flag
        for one in speeds
        for flag in (*untold_class(one), *one.flags)
    )
    return SyncRecord(
        test=TEST.name,
        method=measure.METHOD,
        firings=firings,
        skipped=found.skipped,
        flags=(*found.flags, *resistance_flags(firings), *named),
        input=found.input,
        at_speeds=speeds,
    )


def example(seed: int) -> Waveform:
    """Six firings of a 1/60 whose contact makes a little early and bounces; a wire bridges it first."""
    scene = simulate.example(seed)
    samples, _ = simulate.recording(scene, seed)
    return simulated(samples, scene.card.rate_hz, scene.card.bits)


TEST: BenchTest[SyncRecord] = BenchTest(
    name="sync",
    title="Flash contact against the light",
    method=measure.METHOD,
    setup=(
        "Open the lens wide, and put the light sensor behind it, on one channel of a stereo input. Connect a battery of"
        " 1.5 V, a resistor of 220 Ω and the flash contact in a ring, and the other channel across the resistor. Never"
        " exceed 3 V or 10 mA, and never connect a flash or the mains to this lead. Switch off every enhancement of the"
        " input. Record WAV or FLAC at 44.1 kHz or more: bridge the contact once with a wire, then fire six times at"
        " each speed, a second or more apart."
    ),
    record=SyncRecord,
    run=run,
    simulate=example,
    plots=plot.figures,
    lines=tell.lines,
    words=tell.words,
    table=tell.table,
    medium=replace(SOUND, takes="Stereo WAV or FLAC: a light sensor on one channel, the flash contact on the other."),
    options=(
        Option("contact", "CLASS", UNDER_TEST, "undecided if not told", _CONTACTS, of_camera=True),
        Option("shutter", "KIND", "The kind of shutter", "leaf if not told", _SHUTTERS, of_camera=True),
        Option(
            "sensor_at",
            "WHERE",
            "Where along the curtain's way the sensor is",
            "for a focal-plane shutter; in the middle if not told",
            _SENSOR_AT,
            of_camera=True,
        ),
        Option("flash_ms", "MS", "How long the flash burns", "1 ms if not told"),
        Option(
            "series_ohm",
            "OHM",
            SERIES,
            "where a wire bridges the contact once in the recording",
        ),
        Option(
            "contact_ohm",
            "OHM",
            "Resistance of the closed contact by a meter",
            "less that of the meter's leads",
            of_camera=True,
        ),
        Option("skew_us", "US", "How much later the contact's channel is sampled", "where you know it"),
        Option("sensor", "CLASS", "Class of the light sensor", "a photodiode if not told", SENSOR_NAMES),
    ),
    n_channels=2,
    marked=Marked(speeds=tell.dial, compares=False),
    waveform=plot.plan,
    fired=tell.fired,
)
