"""A second simulator of the leaf shutter test, written from the physics alone, without a look at the first or the test.

It shares no formula with them: the light is counted over points of the pupil that turning blades uncover, the sensor is
an equivalent circuit, the coupling a chain of resistors and capacitors, the converter rounds.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from typing import Final, Literal

import numpy as np
from numpy.typing import NDArray
from scipy.signal import lfilter, resample_poly
from scipy.special import wrightomega

Floats = NDArray[np.float64]
Kind = Literal["photodiode", "phototransistor", "cell"]

FINE: Final = 4
"""The world is computed at so many times the sampling rate."""
N_POINTS: Final = 20_000
THERMAL_V: Final = 0.02585  # kT/q at 300 K: a physical constant
DARK_S: Final = 1.0


@dataclass(frozen=True, kw_only=True)
class Shutter:
    """Blades on pivots around the pupil, thrown by one spring and drawn back by another.

    `open_s` and `close_s` are how long a blade takes from rest to its stop; `n_blades` have straight edges.
    """

    n_blades: int = 5
    open_s: float = 2.2e-3
    close_s: float = 2.6e-3


@dataclass(frozen=True, kw_only=True)
class Sensor:
    """A light sensor as a circuit.

    photodiode
        A current source in parallel with a junction, into a load of 10 kΩ: `lag_s` is its RC.
    cell
        The same with so much light that the junction itself conducts: `forward_v` is what the whole light would drop
        over the load alone. Shockley: I = V/R + I0 (exp(V / nVt) − 1).
    phototransistor
        A base that its photocurrent has to charge: the less light there is, the longer it takes. τ = τ0 / (y + 0.1),
        so that `lag_s` is the lag in the full light, about.
    """

    kind: Kind = "photodiode"
    lag_s: float = 3e-6
    forward_v: float = 0.05


@dataclass(frozen=True, kw_only=True)
class Bench:
    """Everything between the lamp and the file.

    `snr_db` is plateau over rms noise in the full band; a third of its power is 1/f noise if `is_pink`. `flicker` is
    the part of the light by which the lamp swings, at twice the mains' frequency. `plateau` is in full scales.
    """

    shutter: Shutter = Shutter()
    sensor: Sensor = Sensor()
    corners_hz: tuple[float, ...] = (5.0,)
    snr_db: float = 45.0
    is_pink: bool = True
    hum: float = 5e-4
    flicker: float = 0.0
    mains_light_hz: float = 100.0
    plateau: float = 0.3
    bits: int = 16
    rate_hz: int = 48_000


@dataclass(frozen=True)
class Truth:
    """What one firing really did: when it was half open, and the integral of its light over the full light. [s]"""

    at_s: float
    effective_s: float
    half_peak_s: float


def recording(bench: Bench, effective_s: Sequence[float], seed: int) -> tuple[Floats, tuple[Truth, ...]]:
    """Make a recording of firings with a second of dark around each.

    Parameters
    ----------
    effective_s
        The effective time of each firing.

    Returns
    -------
    tuple
        Samples, shape (n,) [full scale = 1]; what is true of each firing.
    """
    rng, fine_hz = np.random.default_rng(seed), bench.rate_hz * FINE
    pieces, truths, begin = [], [], 0
    for time_s in effective_s:
        light, truth = _firing(bench.shutter, time_s, fine_hz, rng.uniform(0, 1))
        dark = np.zeros(int(fine_hz * DARK_S * rng.uniform(1.0, 1.1)))
        pieces += [dark, light]
        begin += len(dark)
        truths.append(Truth(begin / fine_hz + truth.at_s, truth.effective_s, truth.half_peak_s))
        begin += len(light)
    lit = np.concatenate([*pieces, np.zeros(int(fine_hz * DARK_S))])
    if bench.flicker:
        t = np.arange(len(lit)) / fine_hz
        lit = lit * (1 + bench.flicker * np.sin(2 * np.pi * (bench.mains_light_hz * t + rng.uniform())))
    seen = _sensed(bench.sensor, lit, fine_hz)
    for corner_hz in bench.corners_hz:
        seen = _coupled(seen, corner_hz, fine_hz)
    taken = np.asarray(resample_poly(seen, 1, FINE))
    noisy = taken + _noise(bench, len(taken), rng)
    step = 2.0 ** (1 - bench.bits)
    return np.clip(np.round(bench.plateau * noisy / step) * step, -1, 1 - step), tuple(truths)


@cache
def _uncovered(n_blades: int) -> Floats:
    """The blade angle at which each point of the pupil is uncovered, in order; each point is as much light. [rad]

    A blade turns about a pivot outside the pupil and its edge is a ray from there. At rest the edges pass the middle on
    the far side, so that they overlap.
    """
    k = np.arange(N_POINTS) + 0.5
    r, turn = np.sqrt(k / N_POINTS), np.pi * (1 + np.sqrt(5)) * k  # a sunflower fills a disc evenly
    point = r * np.exp(1j * turn)
    pivots = 1.35 * np.exp(2j * np.pi * np.arange(n_blades) / n_blades)
    seen = np.angle((point[None] - pivots[:, None]) / -pivots[:, None])  # from the line to the middle
    return np.sort((seen + 0.15).max(axis=0).clip(0.02))


def _open(blade: Floats, n_blades: int) -> Floats:
    """The part of the pupil that is open where the blades stand at an angle."""
    edges = _uncovered(n_blades)
    part = np.arange(1, len(edges) + 1) / len(edges)
    return np.interp(blade, edges, part, left=0.0)


def _firing(shutter: Shutter, time_s: float, fine_hz: float, phase: float) -> tuple[Floats, Truth]:
    """The light of one firing, in parts of the full light, from the start of the blades to their rest."""
    stop = 1.06 * _uncovered(shutter.n_blades)[-1]  # they travel a little beyond what is needed

    def travel(long_s: float, t: Floats) -> Floats:
        """From rest to the stop with even acceleration, and a small rebound there."""
        to = np.clip(t / long_s, 0, None)
        after = np.clip((to - 1) / 0.35, 0, 1)
        return np.asarray(stop * (np.minimum(to, 1) ** 2 - 0.03 * 4 * after * (1 - after)))

    finest: Floats = np.linspace(0, 2, 40_001)
    lost_s = shutter.open_s * np.trapezoid(1 - _open(travel(1.0, finest), shutter.n_blades), finest)
    kept_s = shutter.close_s * np.trapezoid(_open(stop - travel(1.0, finest), shutter.n_blades), finest)
    back_s = time_s + lost_s - kept_s  # when the blades are let go to close
    assert back_s > 1.4 * shutter.open_s, "these blades are too slow for so short a time"
    n = int((back_s + 2 * shutter.close_s) * fine_hz)
    t: Floats = np.asarray((np.arange(n) - phase) / fine_hz)
    blade = np.where(t < back_s, travel(shutter.open_s, t), stop - travel(shutter.close_s, t - back_s))
    blade = np.where(t > back_s + shutter.close_s, 0.0, blade)
    half = _uncovered(shutter.n_blades)[N_POINTS // 2] / stop
    opens_s, closes_s = shutter.open_s * np.sqrt(half), back_s + shutter.close_s * np.sqrt(1 - half)
    return _open(blade, shutter.n_blades), Truth(
        float(opens_s + phase / fine_hz), float(back_s - lost_s + kept_s), float(closes_s - opens_s)
    )


def _sensed(sensor: Sensor, light: Floats, rate_hz: float) -> Floats:
    """What the sensor makes of it, in parts of its own answer to the full light."""
    if sensor.kind == "phototransistor":
        return _charged(light, sensor.lag_s, rate_hz)
    volts = light * sensor.forward_v
    if sensor.kind == "cell":
        volts = _loaded(volts)
    a = np.exp(-1 / (rate_hz * sensor.lag_s))
    out = lfilter([1 - a], [1, -a], volts)
    full = float(_loaded(np.array([sensor.forward_v]))[0]) if sensor.kind == "cell" else sensor.forward_v
    return np.asarray(out / full)


def _loaded(drive_v: Floats, n_vt: float = 1.5 * THERMAL_V, dark_v: float = 1e-4) -> Floats:
    """The voltage over the load: V + dark (exp(V / nVt) − 1) = drive; solved with Wright's omega, W(exp x)."""
    known = drive_v + dark_v
    return np.asarray(known - n_vt * wrightomega(np.log(dark_v / n_vt) + known / n_vt))


def _charged(light: Floats, lag_s: float, rate_hz: float) -> Floats:
    """A lag that grows as the light falls: dy/dt = (x − y)(y + 0.1) / τ0, step by step where something changes."""
    out = light.copy()
    steps = np.flatnonzero(np.diff(light, prepend=0.0))
    if not len(steps):
        return out
    is_near = np.zeros(len(light), bool)
    reach = int(60 * lag_s * rate_hz) + 10
    for i in steps[np.diff(steps, prepend=-reach) > 1]:
        is_near[i : i + reach] = True
    is_near[steps] = True
    for i in steps[np.diff(steps, append=len(light) + reach) > 1]:
        is_near[i : i + reach] = True
    y, values, rate = 0.0, light.tolist(), 1 / (rate_hz * lag_s)
    for i in np.flatnonzero(is_near).tolist():
        x = values[i]
        y = x + (y - x) * float(np.exp(-rate * (y + 0.1)))
        out[i] = y
    return out


def _coupled(x: Floats, corner_hz: float, rate_hz: float) -> Floats:
    """A capacitor in series and a resistor to ground: what passes is the rest of what charges the capacitor."""
    a = np.exp(-2 * np.pi * corner_hz / rate_hz)
    return np.asarray(x - lfilter([(1 - a) / 2, (1 - a) / 2], [1, -a], x))


def _noise(bench: Bench, n: int, rng: np.random.Generator) -> Floats:
    """White and 1/f noise, and hum of the mains with a harmonic."""
    rms = 10 ** (-bench.snr_db / 20)
    white = rng.normal(0, 1, n)
    if bench.is_pink:
        spectrum = np.fft.rfft(rng.normal(0, 1, n))
        f = np.maximum(np.fft.rfftfreq(n, 1 / bench.rate_hz), 1.0)
        pink = np.fft.irfft(spectrum / np.sqrt(f), n)
        white = np.sqrt(2 / 3) * white + np.sqrt(1 / 3) * pink / np.std(pink)
    t, turn = np.arange(n) / bench.rate_hz, rng.uniform(0, 2 * np.pi)
    hum = np.sin(2 * np.pi * 50 * t + turn) + 0.4 * np.sin(2 * np.pi * 150 * t + 2 * turn)
    return np.asarray(rms * white + bench.hum * hum)
