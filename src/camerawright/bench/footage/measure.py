"""A leaf shutter filmed in slow motion: a clip in, the effective time of every firing with its budget out."""

import math
from collections.abc import Iterator, Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from camerawright.bench.comparison import mean_time
from camerawright.bench.footage import health
from camerawright.bench.footage.dead_time import dead_time, edge_spread
from camerawright.bench.footage.lines import Field
from camerawright.bench.footage.openings import (
    ADVICE_LEVEL,
    LONG,
    Level,
    Opening,
    Plateau,
    own_level,
)
from camerawright.bench.footage.record import Firing, Input, Measured
from camerawright.bench.footage.region import Region, find_region
from camerawright.bench.footage.scene import Scene
from camerawright.bench.footage.times import times_of
from camerawright.bench.footage.tone import tone_of
from camerawright.bench.record import Skipped
from camerawright.quantity import BudgetLine, Quantity
from camerawright.recordings.clips import Clip
from camerawright.trouble import NotMeasurable
from camerawright.wording import numbers

Floats = NDArray[np.float64]

METHOD = "light of a slow-motion clip summed over its frames, version 2"
METHOD_BAND = "band of a rolling shutter in one frame, version 1"
METHOD_LINE = "stripes of a blinking lamp, version 1"

SHARED = frozenset({"level", "tone curve", "compression", "time base", "line time"})
"""Budget lines that are the same error in every firing of a clip."""

U_COMPRESSION = 0.004  # relative, of light beside what shows the level: H.264 at crf 20 and 28 did 0.1 to 0.6 %
_DEAD_TIMES = 1.5  # shorter firings are missed now and then, so that those that are seen are too long
_USUALLY_AWAY = 0.5  # of the interval the camera does not look. Common practice
_SHORTEST = 2 / 3  # of an interval: of shorter ones what is seen is a choice too, whatever the exposure
_MOST_U = 0.20  # relative: firings known no better are not told, an interval of more than a stop serves nobody

_OTHER_LIGHT = NotMeasurable(
    "light comes or goes here all over the gate alike, which no blade does: a lamp, a hand, or a leak",
    "Keep other light and hands away from the screen, and fire again",
)


def measure(
    clip: Clip,
    *,
    region: Region | None = None,
    capture_fps: float | None = None,
    exposure_s: float | None = None,
    line: Quantity | None = None,
    marked_s: float | None = None,
) -> Measured:
    """Measure every firing in a clip.

    Parameters
    ----------
    region
        What to watch; else the largest patch that becomes bright.
    capture_fps
        Rate at which the frames were taken, where the file does not say it. [1/s]
    exposure_s
        Exposure of a frame, where known: makes the dead time between the frames known. [s]
    line
        Time from row to row: then each firing is measured by the band that it leaves in one frame. [s]
    marked_s
        What the firings should last. It only tells, of two openings, which was held by hand. [s]

    Raises
    ------
    NotMeasurable
        Nothing in it can be measured; says why and what to do instead.

    Notes
    -----
    The sum of the light of all frames times their interval is the integral of the light for whatever exposure, at
    random moments of the firings without bias; what the camera does not see between two frames is the line *dead time*.

    References
    ----------
    [iso-516] effective time, excerpt. [jcgm-100] 5.1.2, G.4.
    """
    times = times_of(clip, capture_fps)
    health.refuse_blinking(clip)
    region = region or find_region(clip)
    scene = Scene(clip, region, times)
    exposure = exposure_s / times.interval_s if exposure_s else None
    if exposure is not None and not 0 < exposure <= 1.02:
        raise NotMeasurable(
            f"an exposure of {numbers.short(1e3 * times.interval_s * exposure, 3)} ms does not fit between frames"
            f" {numbers.short(1e3 * times.interval_s, 3)} ms apart",
            "Give the exposure of one frame as the camera shows it, or do not give any",
        )
    health.refuse_blown_out(clip, scene.open_frames, region)
    work = _Bands(scene, line) if line is not None else _Sums(scene, exposure)
    firings: list[Firing] = []
    skipped = [*_held_between(scene), *(_skipped(one, scene, _OTHER_LIGHT) for one in scene.of_other_light)]
    held_by_hand = scene.maybe_held(marked_s)
    for opening in scene.firings:
        try:
            if opening in held_by_hand:
                raise _maybe_held(opening, scene)
            if not scene.is_of_blades(opening, scene.level.value):
                raise _OTHER_LIGHT
            firings.append(work.firing(opening))
        except NotMeasurable as why:
            skipped.append(_skipped(opening, scene, why))
    skipped.sort(key=lambda one: one.at_s)
    if not firings:
        first = skipped[0]
        raise NotMeasurable(
            f"{numbers.counted(len(skipped), 'opening')} found, none can be measured: {first.reason}", first.advice
        )
    _refuse_too_fast(firings, times.interval_s)
    return Measured(
        method=METHOD_BAND if line is not None else METHOD,
        firings=tuple(firings),
        skipped=tuple(skipped),
        input=Input(
            fps=1 / times.interval_s,
            slowed=times.slowed,
            region_px=region.box_px,
            level=scene.level.value,
            n_references=sum(scene.is_reference),
            edge_spread_frames=edge_spread(scene.mixed),
        ),
        is_rate_told=times.is_told,
        flags=(
            *times.flags,
            *scene.flags,
            *health.tone_flags(clip, work.tone),
            *health.length_flags([one.effective for one in firings]),
        ),
    )


def mean_effective(firings: Sequence[Firing]) -> Quantity | None:
    """The mean of the effective times, taken in stops; None where they are of more than one speed. [s]"""
    effective = [one.effective for one in firings]
    return None if not effective or health.is_of_several_speeds(effective) else mean_time(effective, SHARED)


def _skipped(opening: Opening, scene: Scene, why: NotMeasurable) -> Skipped:
    """An opening that is there and not measured."""
    return Skipped(float(scene.times.at_s[opening.first]), why.what, why.mend)


def _held_between(scene: Scene) -> Iterator[Skipped]:
    """Openings after the first firing that are taken for the gate held open: a shutter that hangs looks like that."""
    for opening, is_held in zip(scene.openings, scene.is_reference, strict=True):
        if is_held and not opening.is_cut and opening.first > scene.firings[0].first:
            yield _skipped(
                opening,
                scene,
                NotMeasurable(
                    f"it lasts {numbers.short(scene.length_s(opening), 2)} s, far longer than the others: we take it"
                    " for the gate held open",
                    "If you did not hold it, the shutter hung: fire again",
                ),
            )


def _maybe_held(opening: Opening, scene: Scene) -> NotMeasurable:
    """The refusal of an opening that may be the gate held open, and may be a firing."""
    others = [scene.length_s(one) for one in scene.firings if one is not opening]
    return NotMeasurable(
        f"it lasts {numbers.short(scene.length_s(opening), 2)} s and the others"
        f" {numbers.short(float(np.median(others)), 2)} s: it may be a firing, or the gate held open",
        "Film again, and begin with the gate open already: then a firing cannot be mistaken. From 1/8 on, a firing"
        " shows the level itself, and you need not hold the gate open",
    )


def _refuse_too_fast(firings: list[Firing], interval_s: float) -> None:
    """All firings of a clip or none: to leave out the short ones of a set would make the others too long."""
    value_s = float(np.median([one.effective.value for one in firings]))
    if float(np.median([one.effective.u for one in firings])) > _MOST_U * value_s:
        raise _too_fast(value_s, interval_s)


def _too_fast(value_s: float, interval_s: float) -> NotMeasurable:
    """The refusal of firings that are too short for the frames."""
    return NotMeasurable(
        f"{numbers.short(1e3 * value_s, 2)} ms is too short for frames {numbers.short(1e3 * interval_s, 2)} ms apart",
        "Film at a higher rate, give the exposure of a frame, or time it by light on a sound card",
    )


class _Sums:
    """Firings by the sum of their frames."""

    def __init__(self, scene: Scene, duty: float | None) -> None:
        self.scene, self.tone = scene, scene.tone
        self.duty = min(duty, 1.0) if duty is not None else None
        sums_s = np.array([self._sum_s(one, scene.level.value) for one in scene.firings])
        interval_s = scene.times.interval_s
        away = min(_USUALLY_AWAY, 1 - (self.duty or 0))
        if float(np.median(sums_s)) < max(_DEAD_TIMES * away, _SHORTEST) * interval_s:
            raise _too_fast(float(np.median(sums_s)), interval_s)
        self.dead_time = dead_time(scene.mixed, interval_s, self.duty, sums_s / interval_s)

    def _sum_s(self, opening: Opening, level: float) -> float:
        """Light of an opening over its level. [s]"""
        return float(np.trapezoid(self.scene.parts(opening, level), self.scene.times.at_s[opening.window]))

    def firing(self, opening: Opening) -> Firing:
        """One firing with its budget."""
        scene, times = self.scene, self.scene.times
        health.refuse_without_dark(opening)
        own = self._own_plateau(opening)
        level = own_level(own) if own else scene.level
        parts = scene.parts(opening, level.value)
        at_s = times.at_s[opening.window]
        lost = health.refuse_lost(parts, at_s, times.interval_s)
        bent, u_bent = scene.bent(opening)
        value_s = self._sum_s(opening, level.value) - bent * times.interval_s
        effective = Quantity(value_s, "s", self._budget(opening, level, value_s, parts, own.n if own else 0, u_bent))
        flags = (*lost, *health.wide_flags(effective))
        if opening.top < 0.95 * level.value:
            part = numbers.percent(opening.top / level.value)
            flags = (*flags, f"Its brightest frame holds only {part} of the level.")
        half = opening.first + int(np.argmax(scene.light[opening.first :] - opening.dark > level.value / 2))
        return Firing(
            float(times.at_s[half]), effective, int(np.sum(parts > 0.5)), level.source, scene.shown(opening), flags
        )

    def _own_plateau(self, opening: Opening) -> Plateau | None:
        """What shows the level in the firing itself, where it stands open long enough."""
        own = self.scene.plateaus[self.scene.openings.index(opening)]
        return own if own is not None and own.n >= LONG else None

    def _budget(
        self, opening: Opening, level: Level, value_s: float, parts: Floats, n_own: int, u_bent: float
    ) -> tuple[BudgetLine, ...]:
        """The lines of one effective time, which is interval times sum of (light - dark) / level. [s]

        Noise adds in squares over the frames, an error of the dark as often as there are frames, one of the level in
        proportion. `u_bent` is what is not known of the tone curve, in frames. What a coder does to `n_own` frames of
        its own level cancels. Light that swings at 100 Hz or more cancels over its cycles: what is left is that of half
        a cycle, 5 ms, at the most.
        """
        scene, times = self.scene, self.scene.times
        interval_s = times.interval_s
        lit_s = len(parts) * interval_s
        u_frame = self._noise_open(level.value)
        u_noise = interval_s * math.sqrt(
            float(np.sum(scene.sigma**2 + np.clip(parts, 0, 1) * max(0.0, u_frame**2 - scene.sigma**2)))
        )
        lines = [
            BudgetLine("noise", math.hypot(u_noise, lit_s * opening.u_dark) / level.value, 20, "A"),
            BudgetLine("level", level.u / level.value * value_s),
            self.dead_time,
            BudgetLine("timestamps", times.jitter_s),
            BudgetLine("time base", times.u_relative * value_s),
            BudgetLine("tone curve", u_bent * interval_s),
            BudgetLine("compression", U_COMPRESSION * max(0.0, float(parts.sum()) - n_own) * interval_s),
        ]
        if scene.flicker > 0:
            lines.append(BudgetLine("flicker", scene.flicker * min(value_s, 5e-3)))
        return tuple(lines)

    def _noise_open(self, level: float) -> float:
        """Scatter of a fully open frame."""
        scatters = [one.scatter for one in self.scene.plateaus if one is not None]
        return float(np.median(scatters)) if scatters else max(self.scene.sigma, 0.003 * level)


class _Bands:
    """Firings by the band that each leaves in one frame."""

    def __init__(self, scene: Scene, line: Quantity) -> None:
        if not any(scene.is_reference):
            raise NotMeasurable("no opening was held to show the level of every row", ADVICE_LEVEL)
        self.scene, self.line, self.tone = scene, line, tone_of(scene.clip.is_transfer_known)
        self.field = Field(scene.clip, scene.open_frames, scene.dark_frames)

    def firing(self, opening: Opening) -> Firing:
        """One firing with its budget."""
        scene, line_s = self.scene, self.line.value
        frames = range(opening.window.start, opening.window.stop)
        band = self.field.band(frames)
        value_s = band.rows * line_s
        lines = (
            BudgetLine("noise", band.u_noise * line_s, 20, "A"),
            BudgetLine("level", band.u_level * line_s),
            BudgetLine("line time", self.line.u * band.rows, self.line.dof),
            BudgetLine("tone curve", self.tone.u * band.mixed * line_s),
            BudgetLine("compression", U_COMPRESSION * value_s),
        )
        at_s = float(scene.times.at_s[band.i_frame])
        shown = tuple(replace(one, area=one.light, u_area=0.0) for one in scene.shown(opening))
        return Firing(at_s, Quantity(value_s, "s", lines), 1, scene.level.source, shown, ())
