"""Leaf shutter by slow-motion video: wires the parts of the test."""

from dataclasses import replace
from typing import TYPE_CHECKING

from camerawright.bench import comparison
from camerawright.bench.contract import BenchTest, Json, Option, Outcome
from camerawright.bench.footage import health, measure, plot, report, simulate
from camerawright.bench.footage.lines import line_time
from camerawright.bench.footage.region import given_region
from camerawright.bench.footage.times import times_of
from camerawright.bench.marked_speeds import only_mark
from camerawright.bench.options import number
from camerawright.bench.speed_card import speed_card_figure
from camerawright.handbook.exposure import marked_speed
from camerawright.handbook.tolerances import DEFAULT, Profile, find_profile
from camerawright.quantity import BudgetLine, Quantity
from camerawright.recordings.clips import Clip, clip_of_luma, read_clip
from camerawright.trouble import NotMeasurable, NotUnderstood

if TYPE_CHECKING:
    from matplotlib.figure import Figure

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
) -> Outcome:
    """Measure a clip, and compare it with a marked speed where one is given; with `led_hz` calibrate the line time."""
    if marked is not None:
        only_mark(marked)  # a mark that cannot be read is said before a clip is measured
    fps = number("capture_fps", capture_fps, 1, 1e6)
    led = number("led_hz", led_hz, 0.1, 1e6)
    line = _line(line_us)
    exposure_s = _exposure_s(exposure)
    where = given_region(clip, region) if region is not None else None
    try:
        if led is not None:
            return Outcome(report.line_time_as_json(line_time(clip, times_of(clip, fps), led)))
        result = measure.measure(clip, region=where, capture_fps=fps, exposure_s=exposure_s, line=line)
    except NotMeasurable as why:
        return Outcome(report.refused_as_json(why))
    compared = None
    if marked is not None:
        times = [firing.effective for firing in result.firings]
        compared = comparison.compare(times, marked, profile or find_profile(DEFAULT), shared=measure.SHARED)
        doubts = health.mark_flags(compared.mean_ev.value, is_told=result.is_rate_told)
        compared = replace(compared, flags=(*compared.flags, *doubts))
    return Outcome(report.as_json(result, compared))


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


def figures(clip: Clip, outcome: Outcome) -> "dict[str, Figure]":
    """The light of all firings, the contact sheet and the open-area curve of the first, the speed card with a mark."""
    record = outcome.record
    if not record["firings"]:
        return {}
    out = {
        "light": plot.light_figure(record),
        "contact sheet": plot.contact_sheet_figure(clip, record),
        "open area": plot.area_figure(record),
    }
    if record["compared"]:
        out["speed card"] = speed_card_figure([record["compared"]])
    return out


def card(as_found: list[Json], as_left: list[Json]) -> "Figure | None":
    """Marked against actual speeds, before and after the work."""
    found, left = ([record["compared"] for record in records if record["compared"]] for records in (as_found, as_left))
    return speed_card_figure(found, left) if found or left else None


TEST = BenchTest(
    name="footage",
    title="Leaf shutter by slow-motion video",
    method=measure.METHOD,
    setup=(
        "Gate in front of an evenly lit white screen, a steady lamp on a battery; the phone on a stand, focus and"
        " exposure locked, the open gate a light grey and not white, HDR off, 120 frames a second or more. In one"
        " clip: the gate held open on B or T for half a second, then ten firings with a quarter of a second of dark"
        " between them. Give the file as the camera wrote it."
    ),
    run=run,
    simulate=example,
    plots=figures,
    card=card,
    lines=lambda outcome: report.lines(outcome.record),
    words=plot.words,
    read=read_clip,
    takes="Slow-motion clip as the camera wrote it (MP4, MOV, MKV).",
    compares_speeds=True,
    compares_one=True,
    options=(
        Option("capture_fps", "FPS", "Frames a second as they were taken, where the file does not say it."),
        Option("exposure", "TIME", "Exposure of one frame, as 1/500: narrows the uncertainty."),
        Option("region", "X,Y,W,H", "Where to look, in pixels; found where it is not given.", of_camera=True),
        Option("led_hz", "HZ", "The clip shows a lamp blinking at this rate: measure the line time."),
        Option("line_us", "US,U", "Line time and its u: measure each firing by its band in one frame."),
    ),
)
