"""Leaf shutters, their light, and the sound card that records it. Truth in, arrays out.

Nothing here is shared with the estimator: blades that pivot, driven by a torque against end stops; a detector with a
lag and a bend; noise, hum, thumps, flicker; and the sound card of all simulated recordings.
"""

import math
from dataclasses import dataclass, field, replace
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from camerawright.bench import simulated_card

Floats = NDArray[np.float64]

_FINE_S = 1e-6  # step of the blade dynamics


@dataclass(frozen=True)
class Blades:
    """A leaf shutter's blades: pivoting leaves with straight edges, uncovering a round hole of radius 1.

    Closed, the edges overlap past the middle by `overlap_deg`; the ring that turns them is driven by a constant torque
    (`open_s`, `close_s`: from rest to the stop, no bounce) and rebounds from its stops with `restitution`. The hole is
    fully free at `free_deg` of the `travel_deg` that the ring allows. `spread_deg` is how far single blades lag or
    lead. `stop_radius` is that of the iris behind them, below 1 where the lens is stopped down.
    """

    n: int = 5
    open_s: float = 1.6e-3
    close_s: float = 1.4e-3
    overlap_deg: float = 6.0
    free_deg: float = 42.0
    travel_deg: float = 50.0
    restitution: float = 0.15
    spread_deg: float = 0.5
    pivot_radius: float = 1.5
    stop_radius: float = 1.0


@dataclass(frozen=True)
class SoundCard:
    """An AC-coupled input: two high-pass corners, sampling rate, bits, and where full scale is."""

    rate_hz: float = 48_000.0
    corners_hz: tuple[float, ...] = (8.0, 0.8)
    bits: int = 16
    plateau_fs: float = 0.25  # height of the plateau, in full scales
    is_inverted: bool = False
    clock_error: float = 0.0  # the card takes this part more samples a second than it says


@dataclass(frozen=True)
class Sensor:
    """A light detector: lag of its rise and of its fall, and how far it bends (compresses) at full light."""

    rise_lag_s: float = 30e-6
    fall_lag_s: float = 30e-6
    bend: float = 0.0


@dataclass(frozen=True)
class Disturbance:
    """What spoils a recording, in units of the plateau; `noise` is the rms over the full audio band."""

    noise: float = 1e-3
    pink: float = 0.0
    hum: float = 0.0
    hum_hz: float = 50.0
    flicker: float = 0.0
    flicker_hz: float = 100.0
    pwm_hz: float = 0.0
    thump: float = 0.0
    n_thumps: int = 0
    ambient: float = 0.0  # height of a step of other light
    n_steps: int = 0
    click: float = 0.0  # height of an electrical click, some samples long
    n_clicks: int = 0
    gain_per_firing: float = 1.0  # automatic gain: each firing is recorded this much louder than the last


@dataclass(frozen=True)
class Truth:
    """What one firing really did, from its noiseless light: 10 %-10 % width, half-peak width, effective times."""

    at_s: float
    total_s: float
    half_peak_s: float
    effective_s: float
    effective_own_peak_s: float
    peak: float


@dataclass(frozen=True)
class Scene:
    """Everything about a simulated recording but its seed.

    `hold_s` holds one entry per firing: from the release of the opening to the release of the closing.
    """

    hold_s: tuple[float, ...]
    blades: Blades = field(default_factory=Blades)
    card: SoundCard = field(default_factory=SoundCard)
    sensor: Sensor = field(default_factory=Sensor)
    disturbance: Disturbance = field(default_factory=Disturbance)
    gap_s: float = 1.2
    lead_s: float = 0.8


@dataclass(frozen=True)
class Unseen:
    """Spread of what no recording shows, normal: unequal lag [s], bend, and the error of the sample clock."""

    u_lag_s: float
    u_bend: float
    u_clock: float


def drawn(time_s: float, snr_db: float, unseen: Unseen, rng: np.random.Generator, firings: int = 3) -> Scene:
    """A shutter, a sound card and a sensor drawn at random, firing a few times at one speed."""
    blades = Blades(
        n=int(rng.integers(3, 8)),
        open_s=rng.uniform(1.2e-3, 2.4e-3),
        close_s=rng.uniform(1.0e-3, 2.0e-3),
        restitution=rng.uniform(0.0, 0.25),
        spread_deg=rng.uniform(0.0, 1.0),
        pivot_radius=rng.uniform(1.2, 1.8),
    )
    lag_s, uneven_s = rng.uniform(5e-6, 15e-6), unseen.u_lag_s * rng.standard_normal()
    sensor = Sensor(
        max(1e-7, lag_s - uneven_s / 2), max(1e-7, lag_s + uneven_s / 2), unseen.u_bend * rng.standard_normal()
    )
    card = SoundCard(
        corners_hz=(rng.uniform(4, 16), rng.uniform(0.3, 2)),
        plateau_fs=rng.uniform(0.05, 0.6),
        is_inverted=bool(rng.integers(2)),
        clock_error=unseen.u_clock * rng.standard_normal(),
    )
    holds = tuple(hold_for(time_s * 2 ** rng.normal(0, 0.03), blades) for _ in range(firings))
    scene = Scene(holds, blades=blades, card=card, sensor=sensor, gap_s=0.8, lead_s=0.5)
    return with_noise_db(scene, snr_db)


def hold_for(effective_s: float, blades: Blades) -> float:
    """The hold that makes a firing of about this effective time (exactly so where the blades open fully)."""
    opening = _edge(blades, is_opening=True)
    closing = _edge(blades, is_opening=False)
    lost_s = float(np.sum(1 - opening) - np.sum(closing)) * _FINE_S
    return max(effective_s + lost_s, 0.3 * blades.open_s)


def recording(scene: Scene, seed: int) -> tuple[Floats, tuple[Truth, ...]]:
    """Samples of shape (n,), full scale 1, and the truth of each firing in order."""
    rng = np.random.default_rng(seed)
    card, rate_hz = scene.card, scene.card.rate_hz * (1 + scene.card.clock_error)
    n = math.ceil((scene.lead_s + sum(scene.hold_s) + len(scene.hold_s) * (scene.gap_s + 0.01)) * rate_hz)
    seen = np.zeros(n)
    truths = []
    at_s = scene.lead_s
    for i, hold_s in enumerate(scene.hold_s):
        start_s = at_s + rng.uniform(0, 1 / rate_hz)
        times_s, open_area = light_of(scene.blades, hold_s)
        truths.append(_truth(times_s + start_s, open_area))
        gain = scene.disturbance.gain_per_firing**i
        _add_firing(seen, start_s, times_s, open_area, scene, gain, rng.uniform(0, 2 * math.pi))
        at_s += hold_s + scene.gap_s * rng.uniform(0.85, 1.15)
    seen += _disturbed(n, scene.disturbance, rate_hz, rng)
    seen = simulated_card.coupled(seen, card.corners_hz, rate_hz)
    seen += scene.disturbance.noise * rng.standard_normal(n)
    scaled = seen * card.plateau_fs * (-1 if card.is_inverted else 1)
    return simulated_card.quantised(scaled, card.bits), tuple(truths)


def example(marks_s: tuple[float, ...], seed: int, *, error_stops: float = 0.0, firings: int = 6) -> Scene:
    """A plausible old shutter: `firings` at each of these times, slow by `error_stops`, slightly unsteady."""
    rng = np.random.default_rng(seed)
    blades = Blades(open_s=rng.uniform(1.2e-3, 2.0e-3), close_s=rng.uniform(1.0e-3, 1.6e-3))
    times_s = [mark_s * 2 ** (error_stops + rng.normal(0, 0.02)) for mark_s in marks_s for _ in range(firings)]
    return Scene(tuple(hold_for(time_s, blades) for time_s in times_s), blades=blades)


@lru_cache(maxsize=64)
def _edge(blades: Blades, *, is_opening: bool) -> Floats:
    """Open area (1 = free) against time at 1 us steps while the ring runs from stop to stop and comes to rest."""
    travel = math.radians(blades.travel_deg)
    duration_s = blades.open_s if is_opening else blades.close_s
    torque = 2 * travel / duration_s**2
    t = np.arange(0, 3 * duration_s, _FINE_S)
    run = 0.5 * torque * t**2
    at_s, speed = duration_s, torque * duration_s
    while speed > 0.02 * torque * duration_s:  # rebound from the stop against the same torque
        speed *= blades.restitution
        bounce_s = 2 * speed / torque
        back = speed * (t - at_s) - 0.5 * torque * (t - at_s) ** 2
        run = np.where((t >= at_s) & (t < at_s + bounce_s), travel - back, run)
        at_s += bounce_s
    run = np.where(t >= at_s, travel, np.minimum(run, travel))
    return _open_area(blades, run if is_opening else travel - run)


def _open_area(blades: Blades, ring_rad: Floats) -> Floats:
    """Free part of a round hole of radius 1, by rays from the middle: each blade's edge is a line about its pivot."""
    azimuth = np.linspace(0, 2 * math.pi, 240, endpoint=False)
    grid = np.linspace(0, math.radians(blades.travel_deg), 400)
    scale = math.asin(min(1.0, 1 / blades.pivot_radius)) / math.radians(blades.free_deg - blades.overlap_deg)
    reach = np.full((grid.size, azimuth.size), 1.0)
    lag = np.radians(blades.spread_deg) * np.cos(2.399963 * np.arange(blades.n))  # fixed, uneven
    for k in range(blades.n):
        turned = np.clip((grid - math.radians(blades.overlap_deg) - lag[k]) * scale, -1, math.pi / 2)
        distance = blades.pivot_radius * np.sin(turned)
        facing = np.cos(azimuth - 2 * math.pi * k / blades.n)
        with np.errstate(divide="ignore"):
            along = np.where(facing > 1e-9, distance[:, None] / np.maximum(facing, 1e-9), 1.0)
        reach = np.minimum(reach, np.clip(along, 0, 1))
    area = np.mean(np.minimum(reach, blades.stop_radius) ** 2, axis=1) / blades.stop_radius**2
    return np.asarray(np.interp(ring_rad, grid, area))


def light_of(blades: Blades, hold_s: float) -> tuple[Floats, Floats]:
    """Times from the release and open area of one firing, dense at the edges (the plateau is one long step)."""
    opening, closing = _edge(blades, is_opening=True), _edge(blades, is_opening=False)
    n_hold = round(hold_s / _FINE_S)
    if n_hold >= opening.size:
        times = np.concatenate([np.arange(opening.size) * _FINE_S, hold_s + np.arange(closing.size) * _FINE_S])
        return times.astype(np.float64), np.concatenate([opening, closing])
    # closed before the ring came to rest: the smaller of the two openings is what is free
    size = n_hold + closing.size
    area = np.minimum(
        np.pad(opening, (0, max(0, size - opening.size)), mode="edge")[:size],
        np.concatenate([np.ones(n_hold), closing]),
    )
    return np.arange(size).astype(np.float64) * _FINE_S, np.asarray(area)


def _truth(times_s: Floats, area: Floats) -> Truth:
    """Widths and integral of the noiseless light."""
    peak = float(area.max())
    integral_s = float(np.trapezoid(area, times_s))
    total_s, half_s = (_width(times_s, area, part * peak) for part in (0.1, 0.5))
    middle_s = float(np.trapezoid(area * times_s, times_s) / integral_s)
    return Truth(middle_s, total_s, half_s, integral_s, integral_s / peak, peak)


def _width(times_s: Floats, area: Floats, level: float) -> float:
    """From the first to the last crossing of a level."""
    above = np.flatnonzero(area >= level)
    i, j = int(above[0]), int(above[-1])
    first = times_s[i] - (times_s[i] - times_s[i - 1]) * (area[i] - level) / (area[i] - area[i - 1])
    last = times_s[j] + (times_s[j + 1] - times_s[j]) * (area[j] - level) / (area[j] - area[j + 1])
    return float(last - first)


def _add_firing(
    seen: Floats, start_s: float, times_s: Floats, area: Floats, scene: Scene, gain: float, phase: float
) -> None:
    """Detected, band-limited light of one firing, added in place at the card's rate."""
    over = 8
    rate_hz = scene.card.rate_hz * (1 + scene.card.clock_error)
    margin_s = 4e-3
    first = math.floor((start_s - margin_s) * rate_hz)
    n = math.ceil((times_s[-1] + 2 * margin_s) * rate_hz)
    fine_s = (first + np.arange(n * over) / over) / rate_hz - start_s
    light = gain * np.interp(fine_s, times_s, area)
    light *= _lamp(fine_s + start_s, scene.disturbance, phase)
    bent = light * (1 + scene.sensor.bend * (1 - light))
    detected = simulated_card.detected(bent, scene.sensor.rise_lag_s, scene.sensor.fall_lag_s, over * rate_hz)
    seen[first : first + n] += simulated_card.sampled(detected, over)[: max(0, seen.size - first)]


def _lamp(times_s: Floats, disturbance: Disturbance, phase: float) -> Floats:
    """Brightness of the lamp: steady, flickering with the mains, or switched."""
    lamp = 1 + disturbance.flicker * np.cos(2 * math.pi * disturbance.flicker_hz * times_s + phase)
    if disturbance.pwm_hz:
        lamp *= 2.0 * ((disturbance.pwm_hz * times_s + phase) % 1 < 0.5)
    return lamp


def _disturbed(n: int, disturbance: Disturbance, rate_hz: float, rng: np.random.Generator) -> Floats:
    """What enters before the coupling: pink noise, hum, thumps, steps of other light, clicks."""
    out = np.zeros(n)
    t = np.arange(n) / rate_hz
    if disturbance.pink:
        out += disturbance.pink * simulated_card.pink_noise(n, rate_hz, rng)
    if disturbance.hum:
        out += disturbance.hum * simulated_card.hum(n, disturbance.hum_hz, rate_hz, rng)
    for _ in range(disturbance.n_thumps):
        at_s, f_hz = rng.uniform(0, t[-1]), rng.uniform(8, 60)
        after = np.maximum(t - at_s, 0)
        out += disturbance.thump * np.exp(-after * f_hz) * np.sin(2 * math.pi * f_hz * after)
    for _ in range(disturbance.n_steps):
        rise_s = rng.uniform(1e-3, 0.1)
        out += disturbance.ambient * rng.choice((-1, 1)) * np.clip((t - rng.uniform(0, t[-1])) / rise_s, 0, 1)
    for _ in range(disturbance.n_clicks):
        at, length = int(rng.integers(n)), int(rng.integers(1, 6))
        out[at : at + length] += disturbance.click * rng.choice((-1, 1))
    return out


def with_noise_db(scene: Scene, snr_db: float) -> Scene:
    """The same scene with white noise this many dB below the plateau (rms over the full band)."""
    return replace(scene, disturbance=replace(scene.disturbance, noise=10 ** (-snr_db / 20)))
