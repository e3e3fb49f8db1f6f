"""A leaf shutter before a lamp, and the camera that films it. Truth in, luma codes and timestamps out.

Every point of the gate has its own moment of being uncovered and covered, from blades that pivot and are driven by a
torque; every row of the sensor has its own exposure window; what a pixel gets is the overlap of the two, exactly. Then
noise, a tone curve, codes.
"""

import math
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Codes = NDArray[np.uint8]


@dataclass(frozen=True)
class Blades:
    """Blades with straight edges that pivot on a ring, and how long they take from rest to stop."""

    n: int = 5
    open_s: float = 1.6e-3
    close_s: float = 1.4e-3
    free: float = 0.85  # of the ring's travel, where the gate is fully free


@dataclass(frozen=True)
class Camera:
    """A camera that films: frame interval, exposure, readout from row to row, tone curve, noise."""

    fps: float = 240.0
    duty: float = 0.9  # exposure of a frame, of the interval
    readout: float = 0.8  # from the first row to the last, of the interval
    height_px: int = 48
    width_px: int = 64
    tone: str = "BT.709"
    level: float = 0.6  # linear signal of the fully open gate; 1 is white
    dark: float = 0.004
    read_noise: float = 0.003  # of white
    shot_noise: float = 0.012  # of white, for white
    jitter_s: float = 0.0  # of the timestamps
    clock_error: float = 0.0  # timestamps run this much fast
    bend: float = 0.0  # four times how far the gate's middle grey is rendered too light, of full
    coding: float = 0.0  # what the coder adds to moving light, relative


@dataclass(frozen=True)
class Light:
    """The lamp and what the camera makes of it over a clip."""

    flicker: float = 0.0
    flicker_hz: float = 100.0
    drift: float = 0.0  # auto exposure: part of the level lost over the clip
    held: float = 0.0  # the gate held open at the start is lit this much more than the firings, relative
    falloff: float = 0.1  # the rim of the gate is this much darker than its middle


@dataclass(frozen=True)
class Scene:
    """Everything about a simulated clip but its seed.

    `hold_s` holds, for each firing, the time from the release of the opening to that of the closing; `static_s` is how
    long the gate stands open at the start, 0 for not at all.
    """

    hold_s: tuple[float, ...]
    blades: Blades = field(default_factory=Blades)
    camera: Camera = field(default_factory=Camera)
    light: Light = field(default_factory=Light)
    static_s: float = 0.0
    gap_s: float = 0.1
    fills_frame: bool = False  # a diffuser before the whole field, in place of a round gate
    dropped: tuple[int, ...] = ()  # frames that the camera lost
    repeated: int = 1  # each frame is written so many times, as a converter of rates does


@dataclass(frozen=True)
class Filmed:
    """Luma codes (n, height, width) in video range, timestamps, and the truth of each firing."""

    luma: Codes
    at_s: Floats
    released_s: tuple[float, ...]
    effective_s: tuple[float, ...]


def hold_for(effective_s: float, blades: Blades) -> float:
    """The hold that gives an effective time, where the blades open fully."""
    moments = _Moments(blades, _gate(41, 41, fills=False)[1])
    return effective_s - moments.effective_s(1.0, _gate(41, 41, fills=False)[0]) + 1.0


def film(scene: Scene, seed: int) -> Filmed:
    """Film a scene."""
    rng = np.random.default_rng(seed)
    camera = scene.camera
    interval_s = 1 / camera.fps
    weight, reach = _gate(camera.height_px, camera.width_px, fills=scene.fills_frame)
    weight = weight if scene.fills_frame else weight * (1 - scene.light.falloff * reach**2)
    moments = _Moments(scene.blades, reach)
    holds = ((scene.static_s,) if scene.static_s else ()) + scene.hold_s
    starts = _starts(holds, scene.gap_s, interval_s, rng)
    n = math.ceil((starts[-1] + holds[-1] + scene.gap_s) / interval_s)
    at_s = np.arange(n) * interval_s
    rows_s = np.linspace(0, camera.readout * interval_s, camera.height_px)[:, None]
    light = np.zeros((n, camera.height_px, camera.width_px))
    exposure_s = max(camera.duty * interval_s, 1e-6)
    gains = ((1 + scene.light.held,) if scene.static_s else ()) + (1.0,) * len(scene.hold_s)
    for start_s, hold_s, gain in zip(starts, holds, gains, strict=True):
        first = max(0, math.floor((start_s - 2 * interval_s) / interval_s))
        last = min(n, math.ceil((start_s + hold_s + 0.01) / interval_s) + 1)
        begins, ends = start_s + moments.uncovered_s, start_s + moments.covered_s(hold_s)
        for i in range(first, last):
            opens = at_s[i] + rows_s
            overlap = np.clip(np.minimum(ends, opens + exposure_s) - np.maximum(begins, opens), 0, None) / exposure_s
            light[i] += gain * (overlap.mean(axis=1, keepdims=True) if scene.fills_frame else overlap * weight)
    light += camera.bend * light * (1 - light)
    light[~_standing(light)] *= 1 + camera.coding
    light *= camera.level * _lamp(scene.light, np.asarray(at_s), exposure_s)
    truths = tuple(moments.effective_s(hold_s, weight) for hold_s in scene.hold_s)
    kept = [i for i in range(n) if i not in scene.dropped and i % scene.repeated == 0]
    luma = np.repeat(_codes(light[kept], camera, rng), scene.repeated, axis=0)
    kept_s = np.repeat(at_s[kept], scene.repeated) + np.tile(np.arange(scene.repeated) * interval_s, len(kept))
    stamped_s = (kept_s + camera.jitter_s * rng.standard_normal(len(kept_s))) * (1 + camera.clock_error)
    return Filmed(luma, stamped_s, tuple(starts[len(holds) - len(scene.hold_s) :]), truths)


def film_led(
    led_hz: float, line_s: float, seed: int, *, camera: Camera, n_frames: int = 40, on: float = 0.5, rows: int = 240
) -> Filmed:
    """Film a lamp that blinks: a square wave of `led_hz`, on for the part `on`, over the whole field."""
    rng = np.random.default_rng(seed)
    at_s = np.arange(n_frames) / camera.fps
    exposure_s = camera.duty / camera.fps
    opens = at_s[:, None] + np.arange(rows) * line_s + rng.uniform(0, 1 / led_hz)

    def lit_s(t: Floats) -> Floats:
        """Integral of the square wave from 0 to t."""
        turns = np.floor(t * led_hz)
        return (turns * on + np.minimum(t * led_hz - turns, on)) / led_hz

    level = camera.level * (lit_s(opens + exposure_s) - lit_s(opens)) / exposure_s
    light = np.repeat(level[:, :, None], 32, axis=2)
    return Filmed(_codes(light, camera, rng), at_s, (), ())


def _standing(light: Floats) -> NDArray[np.bool_]:
    """Frames long after the last change, which a coder has had time to get right."""
    total = light.sum(axis=(1, 2))
    moved = np.abs(np.diff(total, prepend=0)) > 0.02 * total.max()
    return np.asarray(np.convolve(moved, np.ones(24), mode="full")[: len(total)] == 0)


def _starts(holds: tuple[float, ...], gap_s: float, interval_s: float, rng: np.random.Generator) -> list[float]:
    """When each opening is released: at any moment of a frame."""
    starts, t = [], gap_s
    for hold_s in holds:
        starts.append(t + interval_s * rng.uniform())
        t = starts[-1] + hold_s + gap_s
    return starts


def _gate(height: int, width: int, *, fills: bool) -> tuple[Floats, Floats]:
    """Each pixel's share of the light, and its place in the gate: 0 in the middle, 1 on the rim."""
    y, x = np.mgrid[0:height, 0:width]
    radius = 0.42 * min(height, width)
    x, y = (x - (width - 1) / 2) / radius, (y - (height - 1) / 2) / radius
    away = np.hypot(x, y)
    if fills:  # a diffuser before the lens: every point of the field sees the whole gate, here as its points by area
        return np.ones((1, 400)), np.sqrt((np.arange(400) + 0.5) / 400)[None, :]
    turn = np.arctan2(y, x)
    star = np.clip(away * (0.8 + 0.2 * np.cos(2.5 * turn) ** 2), 0, 1)  # between the blades it opens sooner
    return np.clip(0.5 + radius * (1 - away), 0, 1), star


class _Moments:
    """When each pixel is uncovered and covered."""

    def __init__(self, blades: Blades, reach: Floats) -> None:
        part = blades.free * (0.08 + 0.92 * reach)  # of the ring's travel
        self.uncovered_s = blades.open_s * np.sqrt(part)  # constant torque from rest: travel goes as t²
        self._closing_s = blades.close_s * np.sqrt(1 - part)

    def covered_s(self, hold_s: float) -> Floats:
        """From the release of the opening; blades that close before they were open never uncover the pixel."""
        return np.asarray(hold_s + self._closing_s)

    def effective_s(self, hold_s: float, weight: Floats) -> float:
        """Light over the fully open level."""
        return float(np.sum(weight * np.clip(self.covered_s(hold_s) - self.uncovered_s, 0, None)) / np.sum(weight))


def _lamp(light: Light, at_s: Floats, exposure_s: float) -> Floats:
    """What the lamp and the camera's own exposure do to each frame."""
    half = math.pi * light.flicker_hz * exposure_s
    swing = light.flicker * math.sin(half) / half * np.sin(2 * math.pi * light.flicker_hz * (at_s + exposure_s / 2))
    return np.asarray((1 + swing) * (1 - light.drift * at_s / at_s[-1]))[:, None, None]


def _codes(light: Floats, camera: Camera, rng: np.random.Generator) -> Codes:
    """Noise, tone curve, and eight bits in video range."""
    light = light + camera.dark
    sigma = np.sqrt(camera.read_noise**2 + camera.shot_noise**2 * light)
    light = np.clip(light + sigma * rng.standard_normal(light.shape), 0, 1)
    return np.clip(np.round(16 + 219 * _toned(light, camera.tone)), 0, 255).astype(np.uint8)


def _toned(light: Floats, tone: str) -> Floats:
    """Camera signal of linear light, 0 to 1."""
    if tone == "BT.709":
        return np.where(light < 0.018, 4.5 * light, 1.099 * light**0.45 - 0.099)
    if tone == "sRGB":
        return np.where(light < 0.0031308, 12.92 * light, 1.055 * light ** (1 / 2.4) - 0.055)
    if tone == "phone":  # a contrasty curve on top of sRGB's, as phones have them
        signal = _toned(light, "sRGB")
        return np.asarray(signal + 0.04 * np.sin(2 * math.pi * (signal - 0.5)))
    raise ValueError(tone)
