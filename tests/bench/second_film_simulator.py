"""A second simulator of a gate filmed by a phone, by another hand: it shares no code and no model with the first.

It was written before its author read the first simulator or its scenes. It follows the light through the phone:

- Straight-edged blades, each a little out of step with the others, turn as they go and rebound when they close. What
  they uncover is counted over the points of the gate in small steps of time. No point has one moment of its own.
- The sensor reads row by row. Each row gathers light from the end of its reset to its read-out, in three colours.
- Photons and the reading make noise. The phone smooths it in the picture, and between frames where little moves.
- Each colour goes through the phone's tone curve. The luma of the three is rounded to 8 bits, as 4:2:0 video has it.
- If you ask for it: an exposure that the phone lets drift, a hand that holds it, a lamp on the mains, light beside the
  shutter.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Final, Literal

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage, optimize

Floats = NDArray[np.float64]
Held = Literal["at the start", "whole", "at the end", "in the middle", "no"]

STEP_S: Final = 40e-6
WEIGHTS: Final = np.array([0.2126, 0.7152, 0.0722])  # [itu-r-bt-709] 3.2, from memory


@dataclass(frozen=True, kw_only=True)
class Shutter:
    """Blades with straight edges. Lengths are in radii of the gate, times are those of the whole way."""

    n_blades: int = 5
    open_s: float = 1.7e-3
    close_s: float = 1.5e-3
    law: float = 1.5  # way ~ time ** law: 1 at even speed, 2 from rest
    swirl: float = 0.6
    out_of_step_s: float = 60e-6
    overlap: float = 0.12
    blur: float = 0.06
    rebound: float = 0.0
    scatter: float = 0.02


@dataclass(frozen=True, kw_only=True)
class Phone:
    """What films. `exposure` and `readout` are parts of the interval; `full_e` are the electrons of white."""

    fps: float = 240.0
    exposure: float = 0.6
    readout: float = 0.8
    rows: int = 27
    columns: int = 36
    curve: str = "BT.709"
    open_code: float = 0.75
    full_e: float = 8000.0
    read_e: float = 5.0
    smooth: float = 0.3
    between: float = 0.2
    drift: float = 0.0  # gain that the phone adds in a second of dark, and takes away in light
    hand_px: float = 0.0


@dataclass(frozen=True, kw_only=True)
class Lamp:
    """The light behind the gate. `tint` is red, green, blue; `falloff` is what the rim of the gate has less of it."""

    tint: tuple[float, float, float] = (1.0, 0.92, 0.78)
    falloff: float = 0.08
    slope: float = 0.05
    stray: float = 0.004
    flicker: float = 0.0
    flicker_hz: float = 100.0


@dataclass(frozen=True, kw_only=True)
class Scene:
    """One film: how the gate is held, then firings of the times (or of others, by hand) with dark between.

    `others` are more lights, each a function of the moment: a leak, a hand that passes by.
    """

    times_s: tuple[float, ...]
    held: Held = "whole"
    held_s: float = 0.5
    gap_s: tuple[float, float] = (0.08, 0.13)
    shutter: Shutter = field(default_factory=Shutter)
    phone: Phone = field(default_factory=Phone)
    lamp: Lamp = field(default_factory=Lamp)
    others: tuple[Callable[[Floats], Floats], ...] = ()


@dataclass(frozen=True, eq=False)
class Truth:
    """One stretch of light: when it begins, its effective time, whether it is a firing or the gate held open."""

    at_s: float
    effective_s: float
    is_firing: bool


@dataclass(frozen=True, eq=False)
class Film:
    """Luma codes, shape (n, rows, columns), their timestamps, and what happened."""

    luma: NDArray[np.uint8]
    at_s: Floats
    truths: tuple[Truth, ...]

    @property
    def firings(self) -> tuple[Truth, ...]:
        """Those that are firings."""
        return tuple(one for one in self.truths if one.is_firing)


def coded(light: Floats, curve: str) -> Floats:
    """A phone's tone curve: light to signal, both from 0 to 1.

    Published: BT.709 1.2; IEC 61966-2-1 5.2; HLG of [itu-r-bt-2100] table 5. From memory. *log* is a curve
    that is logarithmic from a fortieth of white on; *knee* is BT.709 that turns at 60 % of the signal to a third of
    its slope; *contrast* is BT.709 and then the S-shaped 3v² - 2v³ mixed in by a third. These three are common
    practice.
    """
    e = np.maximum(light, 0.0)
    if curve in _CURVES:
        return _CURVES[curve](e)
    v = _CURVES["BT.709"](e)
    if curve == "knee":
        return np.minimum(v, 0.6) + np.maximum(v - 0.6, 0) / 3
    assert curve == "contrast", curve
    w = np.minimum(v, 1)
    return np.asarray(v + 0.33 * (w * w * (3 - 2 * w) - w))


def _hlg(e: Floats) -> Floats:
    """Hybrid log-gamma."""
    a, b, c = 0.17883277, 0.28466892, 0.55991073
    return np.where(e <= 1 / 12, np.sqrt(3 * e), a * np.log(np.maximum(12 * e - b, 1e-9)) + c)


_CURVES: Final[dict[str, Callable[[Floats], Floats]]] = {
    "linear": lambda e: e,
    "BT.709": lambda e: np.where(e < 0.018, 4.5 * e, 1.099 * np.maximum(e, 1e-9) ** 0.45 - 0.099),
    "sRGB": lambda e: np.where(e <= 0.0031308, 12.92 * e, 1.055 * np.maximum(e, 1e-9) ** (1 / 2.4) - 0.055),
    "HLG": _hlg,
    "log": lambda e: np.log1p(40 * e) / math.log(41),
}


def film(scene: Scene, seed: int) -> Film:
    """Film the scene."""
    rng = np.random.default_rng([seed, 4242])
    gate, blades = _Gate.of(scene), _Blades.of(scene.shutter, rng)
    plan, length_s = _plan(scene, rng)
    taken = _Exposures(scene, gate, blades, length_s, rng)
    truths = [taken.add(opens, closes, is_firing) for opens, closes, is_firing in plan]
    codes = _through_the_phone(taken.light, taken.at_s, scene, gate, rng)
    return Film(codes, taken.at_s * (1 + 5e-5 * rng.standard_normal()), tuple(one for one in truths if one is not None))


def _plan(scene: Scene, rng: np.random.Generator) -> tuple[list[tuple[float, float, bool]], float]:
    """When the release is pressed and when the blades are told to close again, and how long the film is."""
    at_s = 0.06 + rng.uniform(0, 0.02)
    plan: list[tuple[float, float, bool]] = []
    if scene.held == "at the start":
        plan.append((-1.0, scene.held_s + rng.uniform(0, 0.01), False))
    elif scene.held == "whole":
        plan.append((at_s, at_s + scene.held_s, False))
    for i, time_s in enumerate(scene.times_s):
        at_s = (plan[-1][1] if plan else at_s) + rng.uniform(*scene.gap_s)
        plan.append((at_s, at_s + time_s * (1 + scene.shutter.scatter * rng.standard_normal()), True))
        if scene.held == "in the middle" and i == (len(scene.times_s) - 1) // 2:
            at_s = plan[-1][1] + rng.uniform(*scene.gap_s)
            plan.append((at_s, at_s + scene.held_s, False))
    end_s = plan[-1][1] + rng.uniform(0.06, 0.08)
    if scene.held == "at the end":
        plan.append((end_s, end_s + scene.held_s + 1, False))
        end_s += scene.held_s
    return plan, end_s


@dataclass(frozen=True, eq=False)
class _Gate:
    """Points of the picture in radii of the gate, how much of a point the gate's rim leaves, and the screen's light."""

    x: Floats
    y: Floats
    rim: Floats
    screen: Floats

    @classmethod
    def of(cls, scene: Scene) -> "_Gate":
        rows, columns = scene.phone.rows, scene.phone.columns
        radius_px = 0.38 * rows
        y, x = (np.mgrid[:rows, :columns] - np.array([rows - 1, columns - 1])[:, None, None] / 2) / radius_px
        r = np.hypot(x, y)
        rim = np.clip((1 - r) / (1.2 / radius_px) + 0.5, 0, 1)
        screen = 1 - scene.lamp.falloff * r**2 + scene.lamp.slope * x
        return cls(x, y, rim, screen)


@dataclass(frozen=True, eq=False)
class _Blades:
    """The blades of one shutter as it is."""

    shutter: Shutter
    angles: Floats
    late_s: Floats

    @classmethod
    def of(cls, shutter: Shutter, rng: np.random.Generator) -> "_Blades":
        angles = 2 * np.pi * np.arange(shutter.n_blades) / shutter.n_blades + rng.uniform(0, 2 * np.pi)
        return cls(shutter, angles, shutter.out_of_step_s * rng.standard_normal(shutter.n_blades))

    def way(self, t: Floats, opens_s: float, closes_s: float) -> Floats:
        """How far along its way, 0 to 1, a blade is."""
        made = self.shutter
        opened = np.clip((t - opens_s) / made.open_s, 0, 1) ** made.law
        closed = np.clip((t - closes_s) / made.close_s, 0, 1) ** made.law
        after = (t - closes_s - made.close_s) / 1.2e-3
        bounce = made.rebound * np.where((after > 0) & (after < 1), np.sin(np.pi * np.clip(after, 0, 1)), 0.0)
        return np.maximum(np.minimum(opened, 1 - closed), bounce)

    def uncovered(self, gate: _Gate, t: Floats, opens_s: float, closes_s: float) -> Floats:
        """Part of each point that no blade covers, shape (moments, rows, columns)."""
        made = self.shutter
        part = np.ones((len(t), *gate.x.shape))
        for angle, late_s in zip(self.angles, self.late_s, strict=True):
            way = self.way(t - late_s, opens_s, closes_s)[:, None, None]
            turned = angle + made.swirl * way
            edge = gate.x * np.cos(turned) + gate.y * np.sin(turned)
            stands = -made.overlap + way * (1 + made.overlap + made.blur + 0.05)
            part = np.minimum(part, np.clip((stands - edge) / made.blur + 0.5, 0, 1))
        return part * gate.rim


class _Exposures:
    """Light that each row gathers in each frame."""

    def __init__(self, scene: Scene, gate: _Gate, blades: _Blades, length_s: float, rng: np.random.Generator) -> None:
        self.scene, self.gate, self.blades = scene, gate, blades
        phone = scene.phone
        self.exposure_s = phone.exposure / phone.fps
        n = int(length_s * phone.fps)
        self.at_s = np.arange(n) / phone.fps
        late = np.arange(phone.rows) * phone.readout / phone.fps / phone.rows
        self.begin_s = self.at_s[:, None] + late + rng.uniform(0, 1 / phone.fps)
        self.swing = rng.uniform(0, 2 * np.pi)
        fine = np.arange(0, length_s + 0.05, 0.25e-3)
        others = sum((one(fine) for one in scene.others), np.zeros_like(fine))
        self.light = np.empty((n, phone.rows, phone.columns))
        self.light[:] = (scene.lamp.stray + self._mean(fine, others))[:, :, None] * gate.screen

    def _mean(self, t: Floats, y: Floats) -> Floats:
        """Mean over the exposure of each row in each frame of what is known at the moments t."""
        sums = np.concatenate([[0.0], np.cumsum((y[1:] + y[:-1]) / 2 * np.diff(t))])
        end, begin = np.interp(self.begin_s + self.exposure_s, t, sums), np.interp(self.begin_s, t, sums)
        return np.asarray((end - begin) / self.exposure_s)

    def add(self, opens_s: float, closes_s: float, is_firing: bool) -> Truth | None:
        """Add the light of one opening, and tell its effective time: over the light of the gate fully open."""
        made, gate = self.blades.shutter, self.gate
        rest = 4 * made.out_of_step_s
        edges = [
            np.arange(opens_s - rest, opens_s + made.open_s + rest, STEP_S),
            np.arange(closes_s - rest, closes_s + made.close_s + rest + 1.3e-3, STEP_S),
        ]
        if self.scene.lamp.flicker:
            edges.append(np.arange(max(opens_s, -0.01), closes_s, 0.2e-3))
        t = np.unique(np.concatenate(edges))
        part = self.blades.uncovered(gate, t, opens_s, closes_s) * gate.screen
        full = float((gate.rim * gate.screen).sum())
        whole = part.sum(axis=(1, 2)) / full
        effective_s = float(np.trapezoid(whole, t))
        lamp = self.scene.lamp
        part *= (1 + lamp.flicker * np.sin(2 * np.pi * lamp.flicker_hz * t + self.swing))[:, None, None]
        sums = np.zeros_like(part)
        np.cumsum((part[1:] + part[:-1]) / 2 * np.diff(t)[:, None, None], axis=0, out=sums[1:])
        for row in range(self.scene.phone.rows):
            begin = self.begin_s[:, row]
            i = np.flatnonzero((begin + self.exposure_s > t[0]) & (begin < t[-1]))
            lit = _at(begin[i] + self.exposure_s, t, sums[:, row]) - _at(begin[i], t, sums[:, row])
            self.light[i, row] += lit / self.exposure_s
        if opens_s > self.at_s[-1]:
            return None
        half = t[np.argmax(whole > 0.5 * whole.max())]
        return Truth(float(half), effective_s, is_firing)


def _at(moments: Floats, t: Floats, y: Floats) -> Floats:
    """Linear interpolation of y, shape (len(t), columns), at moments; constant outside."""
    i = np.clip(np.searchsorted(t, moments) - 1, 0, len(t) - 2)
    along = np.clip((moments - t[i]) / (t[i + 1] - t[i]), 0, 1)[:, None]
    return np.asarray(y[i] * (1 - along) + y[i + 1] * along)


def _through_the_phone(
    light: Floats, at_s: Floats, scene: Scene, gate: _Gate, rng: np.random.Generator
) -> NDArray[np.uint8]:
    """Noise, gain, smoothing, tone curve and rounding."""
    phone, lamp = scene.phone, scene.lamp
    tint = np.array(lamp.tint)

    def luma_of(level: float) -> float:
        return float(WEIGHTS @ coded(level * tint, phone.curve))

    level = optimize.brentq(lambda one: luma_of(one) - phone.open_code, 1e-4, 4.0)
    gain = _gain(light, gate, at_s, phone)
    if phone.hand_px:
        way = ndimage.gaussian_filter1d(rng.standard_normal((len(light), 2)), 12, axis=0)
        way *= phone.hand_px / way.std()
        light = np.array(
            [ndimage.shift(one, move, order=1, mode="nearest") for one, move in zip(light, way, strict=True)]
        )
    luma = np.zeros_like(light)
    for weight, colour in zip(WEIGHTS, tint, strict=True):
        e = level * colour * light
        electrons = phone.full_e * e
        noisy = e + np.sqrt(np.maximum(electrons, 0) + phone.read_e**2) / phone.full_e * rng.standard_normal(e.shape)
        near = ndimage.uniform_filter(noisy, (0, 3, 3), mode="nearest")
        luma += weight * coded(gain[:, None, None] * ((1 - phone.smooth) * noisy + phone.smooth * near), phone.curve)
    for i in range(1, len(luma)):  # between frames where little moves
        away = luma[i - 1] - luma[i]
        luma[i] += phone.between * away * np.exp(-((away / 0.04) ** 2))
    return np.clip(np.round(16 + 219 * luma), 0, 255).astype(np.uint8)


def _gain(light: Floats, gate: _Gate, at_s: Floats, phone: Phone) -> Floats:
    """The phone's own gain: it creeps up in the dark and down in the light."""
    seen = light.mean(axis=(1, 2)) / float((gate.rim * gate.screen).mean())
    creeps = phone.drift * (0.5 - np.clip(seen, 0, 1)) * float(np.median(np.diff(at_s)))
    return np.asarray(np.exp(np.concatenate([[0.0], np.cumsum(creeps)[:-1]])))
