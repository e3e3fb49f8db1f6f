"""Two curtains, what passes between them, light sensors at the gate, and the sound card. Truth in, arrays out.

Nothing here is shared with the estimator: each curtain is a mass that a slackening spring pulls from rest against a
drag that is stronger in one place, a brake beyond the gate and a stop that throws it back; the light is summed over the
rays of a round pupil that pass both curtains and fall on a disc; each channel has a sensor, a skew and an AC coupling
of its own, on the sound card of all simulated recordings.
"""

import math
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from camerawright.bench import simulated_card
from camerawright.bench.curtains.disturbances import Disturbances

Floats = NDArray[np.float64]

_FINE_S = 2e-6  # step of the curtains' motion, near enough for cubic accuracy of a crossing by a straight line
_RAYS = 33
_HUM_HZ = 50.0
_DRAG_MM = 5.0  # a place that drags is so wide (standard deviation)


@dataclass(frozen=True)
class Curtain:
    """A curtain's edge: at rest `run_up_mm` before the gate, then across it in `gate_s`.

    The pull has fallen by the part `slack` when the edge leaves the gate, as the spring slackens and friction grows;
    about `drag_at_mm` it is less by the part `drag` (more, where that is negative). `brake_mm` beyond the gate a brake
    takes hold that would stop it within `braking_mm`; a stop stands `stop_mm` beyond the gate and throws back the part
    `restitution` of the speed. `above_film_mm` is how far before the film it runs.
    """

    gate_s: float = 9e-3
    run_up_mm: float = 7.0
    slack: float = 0.2
    drag: float = 0.0
    drag_at_mm: float = 18.0
    brake_mm: float = 1.5
    braking_mm: float = 5.0
    stop_mm: float = 3.5
    restitution: float = 0.15
    above_film_mm: float = 1.0


@dataclass(frozen=True)
class Detector:
    """One sensor and its channel.

    A disc of `diameter_mm`, placed `misplaced_mm` beside where it is said to be; it lags, bends, and its channel is
    sampled `skew` samples late.
    """

    diameter_mm: float = 1.0
    misplaced_mm: float = 0.0
    rise_lag_s: float = 10e-6
    fall_lag_s: float = 10e-6
    bend: float = 0.0
    skew: float = 0.0
    corners_hz: tuple[float, ...] = (8.0, 0.8)
    level_fs: float = 0.25
    is_inverted: bool = False


@dataclass(frozen=True)
class Scene:
    """Everything about a simulated recording but its seed.

    `delays_s` holds one entry per firing: how long after the first curtain's release the second is released, beyond
    what would make the slit zero at the near edge of the gate.
    """

    delays_s: tuple[float, ...]
    first: Curtain = field(default_factory=Curtain)
    second: Curtain = field(default_factory=lambda: Curtain(above_film_mm=1.5))
    gate_mm: float = 36.0
    at_mm: tuple[float, ...] = (2.0, 18.0, 34.0)
    detectors: tuple[Detector, ...] = (Detector(), Detector(), Detector())
    f_number: float = 5.6
    rate_hz: float = 48_000.0
    clock_error: float = 0.0
    bits: int = 16
    noise: float = 1e-3  # white, rms over the whole band, in full levels of each channel
    pink: float = 0.0
    hum: float = 0.0
    flicker: float = 0.0  # of the lamp, as a part of its light
    flicker_hz: float = 100.0
    gap_s: float = 0.5
    lead_s: float = 0.4
    unsteady: float = 0.0  # standard deviation of a delay, as a part
    lamp: float = 0.0  # standard deviation of the light from firing to firing, as a part
    disturbances: Disturbances = field(default_factory=Disturbances)


@dataclass(frozen=True)
class Truth:
    """What one firing really did; times from the recording's start, positions true ones.

    `first_s` and `second_s` are when each edge passed the middle of each sensor, `exposure_s` their difference,
    `along_mm` and `along_s` the exposure along the gate (0 where capped), `bounce_s` the light (in full levels) that
    each sensor saw after the second curtain had passed it.
    """

    first_s: tuple[float, ...]
    second_s: tuple[float, ...]
    exposure_s: tuple[float, ...]
    slit_mm: tuple[float, ...]
    along_mm: Floats
    along_s: Floats
    bounce_s: tuple[float, ...]


@dataclass(frozen=True)
class Unseen:
    """Spread of what no recording shows, normal: lags [s], bend, clock, skew [samples], places [mm], lamp."""

    u_lag_s: float
    u_unequal_s: float
    u_bend: float
    u_clock: float
    u_skew: float
    u_place_mm: float
    u_lamp: float


def recording(scene: Scene, seed: int) -> tuple[Floats, tuple[Truth, ...]]:
    """Samples of shape (n, channels), full scale 1, and the truth of each firing in order."""
    rng = np.random.default_rng(seed)
    rate_hz = scene.rate_hz * (1 + scene.clock_error)
    runs = (_run(scene.first, scene.gate_mm), _run(scene.second, scene.gate_mm))
    length_s = scene.lead_s + sum(scene.delays_s) + len(scene.delays_s) * (scene.gap_s * 1.15 + 0.1)
    seen = np.zeros((math.ceil(length_s * rate_hz), len(scene.at_mm)))
    truths: list[Truth] = []
    at_s = scene.lead_s
    for delay_s in scene.delays_s:
        held_s = delay_s * (1 + scene.unsteady * rng.standard_normal())
        start_s = at_s + rng.uniform(0, 1 / rate_hz)
        lamp = (1 + scene.lamp * rng.standard_normal()) * scene.disturbances.gain ** len(truths)
        truths.append(_add_firing(seen, scene, runs, start_s, held_s, rate_hz, lamp))
        at_s += delay_s + 0.05 + scene.gap_s * rng.uniform(0.9, 1.1)
    seen = seen + scene.disturbances.leak * np.roll(seen, 1, axis=1)
    seen += scene.disturbances.light(len(seen), rate_hz, rng)[:, None]
    for i, detector in enumerate(scene.detectors):
        seen[:, i] = _recorded(seen[:, i] * (i != scene.disturbances.dead), detector, scene, rate_hz, rng)
    return seen, tuple(truths)


def delay_for(exposure_s: float, scene: Scene, at_mm: float) -> float:
    """The delay that gives an exposure at a place of the gate."""
    first, second = (_run(curtain, scene.gate_mm) for curtain in (scene.first, scene.second))
    lag_s = (second.when(at_mm) - second.when(0.0)) - (first.when(at_mm) - first.when(0.0))
    return exposure_s - lag_s


@dataclass(frozen=True)
class _Run:
    """Where a curtain's edge is, every `_FINE_S` from its release."""

    x_mm: Floats

    def at(self, times_s: Floats) -> Floats:
        """Its place at times after its release; at rest before and after. [mm]"""
        return np.interp(times_s / _FINE_S, np.arange(self.x_mm.size), self.x_mm)

    def when(self, x_mm: float) -> float:
        """When it first passes a place. [s]"""
        i = int(np.argmax(self.x_mm >= x_mm))
        return float(_FINE_S * (i - (self.x_mm[i] - x_mm) / (self.x_mm[i] - self.x_mm[i - 1])))


def _run(curtain: Curtain, gate_mm: float) -> _Run:
    """A curtain's motion, piece by piece: pulled, braked, and up to a few throws back."""
    pulled_mm, speed, pull = _pulled(curtain, gate_mm)
    pieces = [pulled_mm]
    slows = speed**2 / (2 * curtain.braking_mm)
    left_mm = curtain.stop_mm - curtain.brake_mm
    hits = speed**2 > 2 * slows * left_mm
    end_s = (speed - math.sqrt(speed**2 - 2 * slows * left_mm)) / slows if hits else speed / slows
    t = np.arange(_FINE_S, end_s, _FINE_S)
    pieces.append(gate_mm + curtain.brake_mm + speed * t - 0.5 * slows * t**2)
    speed = curtain.restitution * (speed - slows * end_s) if hits else 0.0
    while speed > 50.0:  # [mm/s] thrown back against the spring's pull, again and again
        t = np.arange(0, 2 * speed / pull, _FINE_S)
        pieces.append(gate_mm + curtain.stop_mm - speed * t + 0.5 * pull * t**2)
        speed *= curtain.restitution
    return _Run(np.concatenate([*pieces, pieces[-1][-1:]]))


def _pulled(curtain: Curtain, gate_mm: float) -> tuple[Floats, float, float]:
    """From rest to the brake: place every `_FINE_S`, and speed and pull (an acceleration) at the brake. [mm], [s]"""
    whole_mm = curtain.run_up_mm + gate_mm
    root = np.linspace(0, math.sqrt(whole_mm + curtain.brake_mm), 4001)  # of the way: from rest it grows steadily
    way = root**2
    drags = curtain.drag * np.exp(-(((way - curtain.run_up_mm - curtain.drag_at_mm) / _DRAG_MM) ** 2) / 2)
    pull = 1 - curtain.slack * way / whole_mm - drags
    work = np.concatenate([[0.0], np.cumsum((pull[1:] + pull[:-1]) / 2 * np.diff(way))])  # half the speed squared
    per_root = np.sqrt(2 / np.concatenate([pull[:1], work[1:] / way[1:]]))
    times = np.concatenate([[0.0], np.cumsum((per_root[1:] + per_root[:-1]) / 2 * np.diff(root))])
    enter, leave = np.interp([curtain.run_up_mm, whole_mm], way, times)
    scale_s = curtain.gate_s / (leave - enter)
    at_s = np.arange(0, times[-1] * scale_s, _FINE_S)
    # over the root the time is nearly straight, over the way it is not
    x_mm = np.interp(at_s, times * scale_s, root) ** 2 - curtain.run_up_mm
    return x_mm, math.sqrt(2 * work[-1]) / scale_s, float(pull[-1]) / scale_s**2


def _add_firing(
    seen: Floats, scene: Scene, runs: tuple[_Run, _Run], start_s: float, delay_s: float, rate_hz: float, lamp: float
) -> Truth:
    """Adds every channel's light of one firing in place; the first curtain enters the gate at `start_s`."""
    first, second = runs
    released_s = (start_s - first.when(0.0), start_s + delay_s - second.when(0.0))
    places = [at + d.misplaced_mm for at, d in zip(scene.at_mm, scene.detectors, strict=True)]
    over = 8
    begin = math.floor((start_s - 8e-3) * rate_hz)
    n = math.ceil((delay_s + second.x_mm.size * _FINE_S + 24e-3) * rate_hz)
    times_s = (begin + np.arange(n * over) / over) / rate_hz
    bounces = []
    for i, (place, detector) in enumerate(zip(places, scene.detectors, strict=True)):
        when_s = times_s - detector.skew / rate_hz
        edges = (first.at(when_s - released_s[0]), second.at(when_s - released_s[1]))
        light = _passed(edges, place, detector.diameter_mm, scene)
        closed_s = released_s[1] + second.when(place) + 1.5 * detector.diameter_mm * 1e-3
        bounces.append(float(light[when_s > closed_s].sum()) / over / rate_hz)
        light *= 1 + scene.flicker * np.cos(2 * math.pi * scene.flicker_hz * when_s)
        bent = light * (1 + detector.bend * (1 - light))
        detected = simulated_card.detected(bent, detector.rise_lag_s, detector.fall_lag_s, over * rate_hz)
        seen[begin : begin + n, i] += simulated_card.sampled(lamp * detected, over)[: max(0, len(seen) - begin)]
    return _truth(scene, runs, released_s, tuple(places), tuple(bounces))


def _truth(
    scene: Scene,
    runs: tuple[_Run, _Run],
    released_s: tuple[float, float],
    places: tuple[float, ...],
    bounces: tuple[float, ...],
) -> Truth:
    """When each edge passed each place, by the motions themselves."""
    passed = [[released + run.when(place) for place in places] for run, released in zip(runs, released_s, strict=True)]
    along_mm = np.linspace(0, scene.gate_mm, 73)
    along_s = np.array([released_s[1] + runs[1].when(x) - released_s[0] - runs[0].when(x) for x in along_mm])
    middles = [(a + b) / 2 for a, b in zip(*passed, strict=True)]
    slits = [
        float(runs[0].at(np.array([t - released_s[0]]))[0] - runs[1].at(np.array([t - released_s[1]]))[0])
        for t in middles
    ]
    exposure = tuple(max(0.0, b - a) for a, b in zip(*passed, strict=True))
    return Truth(
        tuple(passed[0]), tuple(passed[1]), exposure, tuple(slits), along_mm, np.maximum(along_s, 0.0), bounces
    )


def _passed(edges: tuple[Floats, Floats], place_mm: float, diameter_mm: float, scene: Scene) -> Floats:
    """Part of the sensor's full light: rays from a round pupil through both curtains onto a disc."""
    # a ray that falls on x at a slope of s passes a curtain d before the film at x - s d
    slopes = np.sin(np.pi * (np.arange(_RAYS) + 0.5) / _RAYS - np.pi / 2) / (2 * scene.f_number)
    weights = np.cos(np.pi * (np.arange(_RAYS) + 0.5) / _RAYS - np.pi / 2) ** 2
    z = np.linspace(-1, 1, 2001)
    chords = np.sqrt(1 - z**2)
    covered = np.concatenate([[0.0], np.cumsum((chords[1:] + chords[:-1]) / 2)])
    covered /= covered[-1]
    first, second = (edge - place_mm for edge in edges)
    light = ((first > 0) & (second < 0)).astype(np.float64)
    reach_mm = diameter_mm / 2 + max(scene.first.above_film_mm, scene.second.above_film_mm) / (2 * scene.f_number)
    at = np.flatnonzero((np.abs(first) < reach_mm) | (np.abs(second) < reach_mm))  # elsewhere all rays agree
    light[at] = 0.0
    for slope, weight in zip(slopes, weights / weights.sum(), strict=True):
        lit = np.interp((first[at] + slope * scene.first.above_film_mm) * 2 / diameter_mm, z, covered)
        shut = np.interp((second[at] + slope * scene.second.above_film_mm) * 2 / diameter_mm, z, covered)
        light[at] += weight * np.maximum(0.0, lit - shut)
    return light


def _recorded(light: Floats, detector: Detector, scene: Scene, rate_hz: float, rng: np.random.Generator) -> Floats:
    """One channel: what enters beside the light, the coupling, noise, scale and the converter's steps."""
    n = light.size
    seen = light.copy()
    if scene.pink:
        seen += scene.pink * simulated_card.pink_noise(n, rate_hz, rng)
    if scene.hum:
        seen += scene.hum * simulated_card.hum(n, _HUM_HZ, rate_hz, rng)
    seen += scene.disturbances.knocks(n, rate_hz, rng)
    seen = simulated_card.coupled(seen, detector.corners_hz, rate_hz)
    seen = scene.disturbances.through_input(seen, rate_hz)
    seen = (seen + scene.noise * rng.standard_normal(n)) * detector.level_fs * (-1 if detector.is_inverted else 1)
    return simulated_card.quantised(seen, scene.bits)


def drawn(
    exposure_s: float,
    snr_db: float,
    unseen: Unseen,
    rng: np.random.Generator,
    *,
    diameters_mm: tuple[float, ...] = (1.0, 1.0, 1.0),
    slow_s: float | None = None,
    firings: int = 1,
) -> Scene:
    """A shutter, sensors and a sound card drawn at random, firing a few times at one speed, after a slow one or not."""
    gate_s = rng.uniform(8e-3, 14e-3)
    # the spread that the budget's line for the motion stands for, normal as it is stated
    run_up_mm = 7.5 * math.exp(0.3 * rng.standard_normal())
    common = {"run_up_mm": run_up_mm, "slack": 0.25 + 0.15 * rng.standard_normal(), "restitution": 0.1}
    drags = [{"drag": 0.05 * rng.standard_normal(), "drag_at_mm": rng.uniform(0, 36)} for _ in range(2)]
    first = Curtain(gate_s=gate_s, above_film_mm=rng.uniform(0.7, 1.5), **common, **drags[0])
    second = Curtain(
        gate_s=gate_s * (1 + 0.02 * rng.standard_normal()),
        above_film_mm=first.above_film_mm + rng.uniform(0.2, 0.8),
        **{**common, "run_up_mm": run_up_mm * (1 + 0.06 * rng.standard_normal())},
        **drags[1],
    )
    detectors = []
    for diameter_mm in diameters_mm:
        # an equal lag moves no exposure: its middle is far enough from zero that hardly any is cut off there
        lag_s = max(1e-7, 4 * unseen.u_lag_s + unseen.u_lag_s * rng.standard_normal())
        unequal_s = unseen.u_unequal_s * rng.standard_normal()
        detectors.append(
            Detector(
                diameter_mm,
                misplaced_mm=unseen.u_place_mm * rng.standard_normal(),
                rise_lag_s=max(1e-7, lag_s - unequal_s / 2),
                fall_lag_s=max(1e-7, lag_s + unequal_s / 2),
                bend=unseen.u_bend * rng.standard_normal(),
                skew=unseen.u_skew * rng.standard_normal(),
                corners_hz=(rng.uniform(4, 16), rng.uniform(0.3, 2)),
                level_fs=rng.uniform(0.1, 0.6),
                is_inverted=bool(rng.integers(2)),
            )
        )
    n = len(detectors)
    scene = Scene(
        (),
        first=first,
        second=second,
        at_mm=(2.0, 18.0, 34.0) if n == 3 else (2.0, 34.0),
        detectors=tuple(detectors),
        f_number=rng.uniform(2.8, 8),
        clock_error=unseen.u_clock * rng.standard_normal(),
        noise=10 ** (-snr_db / 20),
        unsteady=0.01,
        lamp=unseen.u_lamp,
    )
    times_s = [*([slow_s] if slow_s else []), *[exposure_s * 2 ** rng.normal(0, 0.05)] * firings]
    return with_delays(scene, tuple(delay_for(time_s, scene, 18.0) for time_s in times_s))


def with_delays(scene: Scene, delays_s: tuple[float, ...]) -> Scene:
    """The same shutter fired with other delays."""
    return replace(scene, delays_s=delays_s)


def example(seed: int) -> Scene:
    """A tired shutter: two firings at 1/30, then four at 1/500 with the second curtain slow by a few per cent."""
    rng = np.random.default_rng(seed)
    first = Curtain(gate_s=rng.uniform(10e-3, 12e-3))
    second = Curtain(gate_s=first.gate_s * 1.05, above_film_mm=1.5)
    scene = Scene((), first=first, second=second, noise=4e-3, unsteady=0.01)
    times_s = (1 / 32, 1 / 32, *(1 / 500,) * 4)
    return with_delays(scene, tuple(delay_for(time_s, scene, 18.0) for time_s in times_s))
