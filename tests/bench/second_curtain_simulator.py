"""A second simulator of a focal-plane shutter at sensors, written from the physics before a look at the first.

It shares no model with `camerawright.bench.curtains.simulate` nor with the test. Curtains run by integrating the motion
of a mass that winds onto a roller against rubbing and air. A lamp of some shape lights a disc past them, so edges are
blunt. The light goes through a circuit for each kind of sensor, a chain of high-pass poles, a converter at eight times
the rate with its filter, and a clock that is a little off.
"""

from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Final, Literal

import numpy as np
from numpy.typing import NDArray
from scipy.fft import next_fast_len
from scipy.integrate import solve_ivp
from scipy.interpolate import CubicSpline
from scipy.signal import fftconvolve, firwin, lfilter

Floats = NDArray[np.float64]
Kind = Literal["photodiode", "phototransistor", "solar cell"]

FINE: Final = 8
"""The world is computed at so many times the sampling rate."""
DARK_S: Final = 0.9
_MARGIN_S: Final = 6e-3
_SOON_S: Final = 6e-3
_DARK_V, _SLOPE_V = 1e-4, 0.039  # a silicon cell: saturation current times load, 1.5 kT/q


@dataclass(frozen=True, kw_only=True)
class Curtain:
    """A curtain of unit length from the one edge of the gate to the other, pulled from rest by a spring.

    Forces are in parts of the spring's first pull. `run_up` is how far before the gate it rests, in gates. `slackens`
    is how much less the spring pulls at the end, `rubs` the friction of rollers and rails, `air` the drag at the speed
    at which it leaves the gate (it grows with the square), `winds` how much heavier it gets as it winds onto its
    roller. `catches` is a place where it rubs more, over a tenth of the gate, by `catch`. It takes `across_s` from edge
    to edge.
    """

    across_s: float = 0.011
    run_up: float = 0.2
    slackens: float = 0.25
    rubs: float = 0.12
    air: float = 0.05
    winds: float = 0.1
    catches: float = 0.5
    catch: float = 0.0


@lru_cache(maxsize=64)
def run(curtain: Curtain) -> tuple[CubicSpline, CubicSpline]:
    """Place [gates] by time, and time by place from 0.2 gates before the gate on; time counts from the near edge. [s]

    Newton's law, m dv/dt = F, integrated in steps of 1e-9. The unit of time is scaled so that the gate takes
    `across_s`: all forces then scale alike.
    """

    def law(_: float, state: Floats) -> list[float]:
        x, v = state
        way = x + curtain.run_up
        bump = curtain.catch * np.exp(-0.5 * ((x - curtain.catches) / 0.05) ** 2)
        pull = 1 - curtain.slackens * way - curtain.rubs - bump - curtain.air * v**2 / 2
        return [v, pull / (1 + curtain.winds * way)]

    ends = lambda _, state: state[0] - 1.3  # noqa: E731
    ends.terminal = True  # type: ignore[attr-defined]
    found = solve_ivp(law, (0, 20), [-curtain.run_up, 0.0], events=ends, rtol=1e-9, atol=1e-12, max_step=0.02)
    when = CubicSpline(found.y[0], found.t)
    near, far = float(when(0.0)), float(when(1.0))
    t = (found.t - near) * curtain.across_s / (far - near)
    return CubicSpline(t, found.y[0]), CubicSpline(found.y[0], t)


@dataclass(frozen=True, kw_only=True)
class Sensor:
    """One channel's sensor and its circuit.

    photodiode
        A current into a resistor beside the junction: one RC of `lag_s`, up and down alike. `tail` of the light comes
        `tail_s` later: carriers from the depth of the chip, which diffuse.
    phototransistor
        Its base is a capacitor that the light charges: tau = lag (1.1 / (y + 0.1)), slower the darker it is.
    solar cell
        A junction beside the load: `forward_v` is what the whole light would drop over the load alone.

    """

    kind: Kind = "photodiode"
    lag_s: float = 3e-6
    diameter_mm: float = 1.0
    tail: float = 0.0
    tail_s: float = 10e-6
    forward_v: float = 0.1
    is_inverted: bool = False


@dataclass(frozen=True, kw_only=True)
class Bench:
    """All between the curtains and the file.

    `lamp_mm` is the lamp's half width at `lamp_far_mm` from the film, `lamp` its shape, `lamp_off_mm` how far it stands
    to the side. The curtains run `heights_mm` before the film. `edge_deg` is how far from square each curtain's edge
    runs, with the sensors `off_row_mm` to the side of their row; `tilt_deg` is how far the row leans away from the
    gate. `steps` is the rms of the lamp's level from firing to firing. The converter samples each channel later by
    `skews` samples; `clock` is its rate over what it says, and moves by `wobble` (rms) from one firing to the next, as
    a resampler's does. Noise and hum are in the full level.
    """

    gate_mm: float = 36.0
    at_mm: tuple[float, ...] = (2.0, 18.0, 34.0)
    sensors: tuple[Sensor, ...] = (Sensor(), Sensor(), Sensor())
    lamp: Literal["disc", "square", "ring"] = "disc"
    lamp_mm: float = 20.0
    lamp_far_mm: float = 150.0
    lamp_off_mm: float = 0.0
    heights_mm: tuple[float, float] = (1.0, 1.8)
    edge_deg: tuple[float, float] = (0.0, 0.0)
    off_row_mm: tuple[float, ...] = (0.0, 0.0, 0.0)
    tilt_deg: float = 0.0
    corners_hz: tuple[float, ...] = (5.0,)
    steps: float = 0.002
    white: float = 0.005
    pink: float = 0.0
    hum: float = 0.0
    level: float = 0.4
    rate_hz: int = 48_000
    bits: int = 16
    skews: tuple[float, ...] = (0.0, 0.0, 0.0)
    clock: float = 1.0
    wobble: float = 0.0


@dataclass(frozen=True)
class Truth:
    """One firing. `first_s`, `second_s`: when the shadows pass the sensors, shape (n,); `across_s` of both curtains.

    `along_s` is the exposure at the places `along` of the gate [gates], without tilt and with the lamp as it is.
    """

    at_s: float
    first_s: Floats
    second_s: Floats
    across_s: tuple[float, float]
    along: Floats
    along_s: Floats

    @property
    def exposure_s(self) -> Floats:
        """At each sensor."""
        return self.second_s - self.first_s


def _lamp_points(bench: Bench) -> tuple[Floats, Floats]:
    """Where light comes from across the lamp, in its half widths, and how much of it: midpoints of 24 strips."""
    x = (np.arange(24) + 0.5) / 12 - 1
    weights = {
        "disc": np.sqrt(1 - x**2),
        "square": np.ones_like(x),
        "ring": np.sqrt(1 - x**2) - np.sqrt(np.maximum(0, 0.36 - x**2)),
    }[bench.lamp]
    return x, weights / weights.sum()


def _shadow_mm(bench: Bench, k: int, x_mm: Floats, row_mm: Floats) -> Floats:
    """How far before a place on the film a curtain's edge lets in the light of each strip of the lamp; (places, 24)."""
    points, _ = _lamp_points(bench)
    lean = np.tan(np.radians(bench.tilt_deg)) * (x_mm - bench.gate_mm / 2)
    height = bench.heights_mm[k] + lean
    lamp_mm = bench.gate_mm / 2 + bench.lamp_off_mm + bench.lamp_mm * points
    slope = (lamp_mm[None, :] - x_mm[:, None]) / bench.lamp_far_mm
    return np.asarray(x_mm[:, None] + height[:, None] * slope - row_mm[:, None] * np.tan(np.radians(bench.edge_deg[k])))


def _disc(z: Floats) -> Floats:
    """Part of a disc of radius 1 on the one side of a chord at z, by the angle that it spans: (a - sin a)/2 pi."""
    angle = 2 * np.arccos(np.clip(-z, -1, 1))
    return np.asarray((angle - np.sin(angle)) / (2 * np.pi))


def _circuit(light: Floats, sensor: Sensor, dt: float) -> Floats:
    """What a circuit makes of light from 0 to 1, shape (n,)."""
    if sensor.kind == "photodiode":
        out = _low_pass(light, sensor.lag_s, dt)
        return out if not sensor.tail else (1 - sensor.tail) * out + sensor.tail * _low_pass(out, sensor.tail_s, dt)
    if sensor.kind == "phototransistor":
        out, y = np.empty_like(light), 0.0
        for i, now in enumerate(light.tolist()):
            y += (now - y) * min(1.0, dt * (y + 0.1) / (1.1 * sensor.lag_s))
            out[i] = y
        return out
    # Shockley: what the load and the junction beside it take is all the light gives; by a table of the drop
    drop_v = np.linspace(0, sensor.forward_v, 4001)
    given_v = drop_v + _DARK_V * np.expm1(drop_v / _SLOPE_V)
    whole_v = np.interp(sensor.forward_v, given_v, drop_v)
    return _low_pass(np.interp(light * sensor.forward_v, given_v, drop_v) / whole_v, sensor.lag_s, dt)


def _low_pass(x: Floats, tau_s: float, dt: float) -> Floats:
    """One RC, for a light that runs straight between samples (exact for ramps)."""
    r = dt / tau_s
    keep = np.exp(-r)
    now = 1 - (1 - keep) / r
    return np.asarray(lfilter([now, (1 - keep) - now], [1, -keep], x))


def _coloured(n: int, rate_hz: float, power: float, rng: np.random.Generator) -> Floats:
    """Noise of unit rms above 5 Hz whose power falls as 1/f^power."""
    n_fast = next_fast_len(n)
    f = np.fft.rfftfreq(n_fast, 1 / rate_hz)
    size = np.where(f > 0.5, np.maximum(f, 0.5), np.inf) ** (-power / 2)
    noise = np.fft.irfft(np.fft.rfft(rng.standard_normal(n_fast)) * size, n_fast)[:n]
    return np.asarray(noise / np.sqrt(np.mean(noise**2)))


def recording(
    bench: Bench, curtains: tuple[Curtain, Curtain], exposures_s: list[float], seed: int
) -> tuple[Floats, tuple[Truth, ...]]:
    """Samples, shape (n, sensors), and the truth of each firing: the second curtain is let go so long after the first.

    `exposures_s` are at the near edge of the gate.
    """
    rng = np.random.default_rng(seed)
    rate, n_sensors = bench.rate_hz, len(bench.sensors)
    dt = 1 / (rate * bench.clock * FINE)  # of true time
    places = [run(curtain)[0] for curtain in curtains]
    lasts = [float(place.x[-1]) for place in places]
    starts, at = [], DARK_S
    for exposure_s in exposures_s:
        starts.append(at + rng.uniform(0, 1 / rate))
        at += exposure_s + max(lasts) + DARK_S
    n = int(at * rate * bench.clock) + 1
    light = np.zeros((n, n_sensors))
    half_band = firwin(24 * FINE + 1, 0.46 * 2 / FINE / 1, window=("kaiser", 9.0))  # passes to 0.46 of the rate
    truths = []
    for start, exposure_s in zip(starts, exposures_s, strict=True):
        slower = 1 + bench.wobble * rng.normal()
        first = int((start - _MARGIN_S) * rate * bench.clock)
        count = int((exposure_s + max(lasts) + 2 * _MARGIN_S + _SOON_S) * rate * bench.clock) * FINE
        lamp = 1 + bench.steps * rng.normal()
        for i, sensor in enumerate(bench.sensors):
            t = (np.arange(count, dtype=float) + (first + bench.skews[i]) * FINE) * dt * slower + first * FINE * dt * (
                1 - slower
            )
            lit = _seen(bench, places, i, np.asarray(t - start), exposure_s)
            out = lamp * _circuit(lit, sensor, dt)
            sampled = fftconvolve(out, half_band, mode="same")[::FINE]
            light[first : first + len(sampled), i] += sampled[: n - first]
        truths.append(_truth(bench, curtains, start, exposure_s))
    t = np.arange(n) / rate
    for i, sensor in enumerate(bench.sensors):
        signal = light[:, i] + bench.white * rng.standard_normal(n)
        if bench.pink:
            signal += bench.pink * _coloured(n, rate, 1.0, rng)
        for k in (1, 2, 3, 5, 7) if bench.hum else ():
            signal += bench.hum / k**2 * np.sin(2 * np.pi * 50 * k * t + rng.uniform(0, 6.3))
        for corner in bench.corners_hz:
            signal = signal - _low_pass(signal, 1 / (2 * np.pi * corner), 1 / rate)
        light[:, i] = bench.level * signal * (-1 if sensor.is_inverted else 1)
    steps = 2 ** (bench.bits - 1)
    dither = rng.uniform(-0.5, 0.5, light.shape) + rng.uniform(-0.5, 0.5, light.shape)
    return np.round(light * steps + dither) / steps, tuple(truths)


def _seen(bench: Bench, places: list[CubicSpline], i: int, t: Floats, exposure_s: float) -> Floats:
    """Part of its whole light that a sensor gets, shape (n,)."""
    _, weights = _lamp_points(bench)
    x = np.array([bench.at_mm[i]])
    row = np.array([bench.off_row_mm[i]])
    open_by = np.zeros_like(t)
    for k, (place, let_go) in enumerate(zip(places, (0.0, exposure_s), strict=True)):
        passed = np.clip(t - let_go, float(place.x[0]), float(place.x[-1]))
        radius = bench.sensors[i].diameter_mm / 2
        edges = _shadow_mm(bench, k, x, row)[0]
        near = np.flatnonzero(np.abs(place(passed) * bench.gate_mm - edges.mean()) < radius + np.ptp(edges))
        part = (place(passed) * bench.gate_mm > edges.mean()).astype(float)
        where = place(passed[near]) * bench.gate_mm
        part[near] = sum(w * _disc((where - edge) / radius) for edge, w in zip(edges, weights, strict=True))
        open_by += part if k == 0 else -part
    return np.asarray(np.maximum(open_by, 0.0))


def _truth(bench: Bench, curtains: tuple[Curtain, Curtain], start: float, exposure_s: float) -> Truth:
    """When each strip's shadow passes each sensor's middle, in the mean over the lamp: that is where the light's sum
    puts the edge."""
    _, weights = _lamp_points(bench)
    at, row = np.array(bench.at_mm), np.array(bench.off_row_mm)
    along = np.linspace(0, 1, 19)
    flat = replace(bench, tilt_deg=0.0)
    passing, at_gate = [], []
    for k, let_go in enumerate((0.0, exposure_s)):
        when = run(curtains[k])[1]
        passing.append(start + let_go + when(_shadow_mm(bench, k, at, row) / bench.gate_mm) @ weights)
        middle = _shadow_mm(flat, k, along * bench.gate_mm, np.zeros_like(along)) / bench.gate_mm
        at_gate.append(let_go + when(np.clip(middle, -0.15, 1.25)) @ weights)
    across = tuple(float(one[-1] - one[0]) for one in at_gate)
    first, second = passing
    return Truth(float(first.min()), first, second, (across[0], across[1]), along, at_gate[1] - at_gate[0])
