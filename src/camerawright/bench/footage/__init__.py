"""Leaf shutter by slow-motion video: wires the parts of the test."""

from dataclasses import replace

from camerawright.bench import comparison
from camerawright.bench.contract import BenchTest, Marked, Medium
from camerawright.bench.footage import health, measure, plot, simulate, tell
from camerawright.bench.footage.lines import line_time
from camerawright.bench.footage.record import FootageRecord, LineTime
from camerawright.bench.footage.region import given_region
from camerawright.bench.footage.times import times_of
from camerawright.bench.marked_speeds import only_mark
from camerawright.bench.options import Option, number
from camerawright.bench.record import EFFECTIVE, Figure, Refusal
from camerawright.handbook.exposure import marked_speed
from camerawright.handbook.tolerances import DEFAULT, Profile, find_profile
from camerawright.quantity import BudgetLine, Quantity
from camerawright.recordings.clips import Clip, clip_of_luma, read_clip
from camerawright.trouble import NotMeasurable, NotUnderstood

_U_LINE = 2e-3  # relative, of a line time that is given without its uncertainty. Common practice


def run(
    clip: Clip,
    marked: str | None = None,
    profile: Profile | None = None,
    *,
    capture_fps: str | None = None,
    exposure: str | None = None,
    region: str | None = None,
    led_hz: str | None = None,
    line_us: str | None = None,
) -> FootageRecord:
    """Measure a clip, and compare it with a marked speed where one is given; with `led_hz` calibrate the line time."""
    mark = only_mark(marked) if marked is not None else None  # one that cannot be read is said before it is measured
    fps = number("capture_fps", capture_fps, 1, 1e6)
    led = number("led_hz", led_hz, 0.1, 1e6)
    line = _line(line_us)
    exposure_s = _exposure_s(exposure)
    where = given_region(clip, region) if region is not None else None
    try:
        if led is not None:
            return _calibrated(line_time(clip, times_of(clip, fps), led))
        found = measure.measure(
            clip,
            region=where,
            capture_fps=fps,
            exposure_s=exposure_s,
            line=line,
            marked_s=mark.target_s if mark else None,
        )
    except NotMeasurable as why:
        return FootageRecord(test=TEST.name, method=measure.METHOD, refused=Refusal.of(why))
    compared = None
    if marked is not None:
        times = [firing.effective for firing in found.firings]
        compared = comparison.compare(times, marked, profile or find_profile(DEFAULT), shared=measure.SHARED)
        doubts = health.mark_flags(compared.mean.value, is_told=found.is_rate_told)
        compared = replace(compared, flags=(*compared.flags, *doubts))
    return FootageRecord(
        test=TEST.name,
        method=found.method,
        figures=_figures(measure.mean_effective(found.firings), len(found.firings), compared),
        firings=found.firings,
        skipped=found.skipped,
        flags=(*found.flags, *(compared.flags if compared else ())),
        input=found.input,
        compared=compared,
    )


def _calibrated(found: LineTime) -> FootageRecord:
    """The record of a calibration: no firings, the line time."""
    return FootageRecord(
        test=TEST.name,
        method=measure.METHOD_LINE,
        figures=(Figure.of("line time", found.line, n=found.n_frames),),
        flags=found.flags,
        line_time=found,
    )


def _figures(effective: Quantity | None, n_firings: int, compared: comparison.Comparison | None) -> tuple[Figure, ...]:
    """The effective time, and its error where a mark was given."""
    marked = compared.marked if compared else ""
    time = (Figure.of(EFFECTIVE, effective, n=n_firings, marked=marked),) if effective else ()
    return (*time, compared.figure()) if compared else time


def _exposure_s(text: str | None) -> float | None:
    """Exposure of one frame, as cameras show it."""
    if text is None:
        return None
    try:
        return marked_speed(text).marked_s
    except NotUnderstood:
        raise NotUnderstood(f"{text!r} is not a time", "write it as the camera shows it, 1/500", "exposure") from None


def _line(line_us: str | None) -> Quantity | None:
    """The line time, with its uncertainty after a comma."""
    if line_us is None:
        return None
    text, _, u_text = line_us.partition(",")
    value = number("line_us", text, 0.01, 1e5)
    u = number("line_us", u_text, 0.0, 1e5) if u_text else _U_LINE * value
    return Quantity(1e-6 * value, "s", (BudgetLine("line time", 1e-6 * u),))


def example(seed: int) -> Clip:
    """The gate held open, and ten firings of a tired 1/60 about a third of a stop slow, at 240 frames a second."""
    blades = simulate.Blades()
    holds = tuple(simulate.hold_for(0.0199 * (1 + 0.01 * ((7 * n + seed) % 5 - 2)), blades) for n in range(10))
    filmed = simulate.film(simulate.Scene(holds, blades=blades, static_s=0.4), seed)
    return clip_of_luma(filmed.luma, filmed.at_s)


TEST: BenchTest[FootageRecord] = BenchTest(
    name="footage",
    title="Leaf shutter by slow-motion video",
    method=measure.METHOD,
    setup=(
        "Put the gate in front of an evenly lit white screen, and light the screen with a steady lamp that runs on a"
        " battery. Set the phone on a stand. Lock focus and exposure so that the open gate is a light grey and not"
        " white, switch HDR off, and film at 120 frames a second or more. In one clip: open the gate on B or T before"
        " you start the film, close it after half a second, then fire ten times with a quarter of a second of dark"
        " between the firings. Speeds of 1/8 and slower show the level themselves: for those begin in the dark. Give"
        " the file as the camera wrote it."
    ),
    record=FootageRecord,
    run=run,
    simulate=example,
    plots=plot.figures,
    lines=tell.lines,
    words=tell.words,
    table=tell.table,
    medium=Medium(
        kind="clip",
        read=read_clip,
        suffixes=(".mp4", ".mov", ".mkv"),
        takes="Slow-motion clip as the camera wrote it (MP4, MOV, MKV).",
    ),
    options=(
        Option("capture_fps", "FPS", "Frames a second as the camera took them", "if the file does not say it"),
        Option("exposure", "TIME", "Exposure of one frame", "as 1/500; it narrows the uncertainty"),
        Option("region", "X,Y,W,H", "Where to look", "in pixels; the test finds the gate if not told", of_camera=True),
        Option("led_hz", "HZ", health.LAMP_RATE, "for a clip of such a lamp, which tells the line time"),
        Option("line_us", "US,U", "Line time and its u", "to measure each firing by its band in one frame"),
    ),
    marked=Marked(speeds=tell.dial, one_at_a_time=True),
)
