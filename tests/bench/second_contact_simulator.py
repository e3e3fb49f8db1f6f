"""A second simulator of the flash contact, by another hand: it shares no code and no model with the first.

It was written before its author read the first simulator or the test. It starts from the circuit and the blades:

- Blades turn about pivots outside the hole. A point of the hole is lit from the angle on at which the last blade has
  cleared it. A spring turns the ring against its inertia, and a stop ends the turn. Closing is driven anew.
- The contact is a leaf spring that lands, bounces with falling gaps, wipes clean (its resistance falls within a
  millisecond), and chatters as it parts.
- Battery, resistor, contact and input make the circuit. The lead and the input have a capacitance: what the input sees
  follows through RC. With a pull-up instead of the ring, the make shorts that capacitance and only the break is slow.
- Mains hum enters where the contact is open. Each channel has its high-pass, its anti-alias filter, noise, and a part
  of the other channel; the lamp may ripple; the sensor lags.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final, Literal

import numpy as np
from numpy.typing import NDArray
from scipy import signal

Array = NDArray[np.float64]

_FINE: Final = 4
_START_S: Final = 1.0


@dataclass(frozen=True, kw_only=True)
class Bench:
    """What is recorded.

    `open_s` is about how long the light stands above half, `blade_s` how long the blades turn. `lead_s` is how long
    before full open the contact makes: about 0 for X, 15 ms for M. `rc_s` is the
    lead's time constant; `circuit` whether it slows both edges (in series before the input) or the break only (a
    pull-up). `n_bounces` and `bounce_s` are the make's bounces and the first one's gap; `n_chatter` how often the
    contact touches again as it parts, each touch and gap drawn up to `chatter_s`. `again_s` is when a second make
    comes after the break, None for none. `dwell_s` is from first make to the parting. `ripple` is the lamp's, as a part
    of its light. `hum_db` and `crosstalk_db` are against the closed contact's step, the others over the rms noise.
    """

    open_s: float = 1 / 60
    blade_s: float = 0.0022
    lead_s: float = 0.0
    dwell_s: float = 0.012
    rc_s: float = 0.0
    circuit: Literal["series", "pull-up"] = "series"
    n_bounces: int = 2
    bounce_s: float = 0.00015
    n_chatter: int = 0
    chatter_s: float = 0.00012
    again_s: float | None = None
    contact_ohm: float = 0.2
    series_ohm: float = 220.0
    snr_db: float = 50.0
    contact_snr_db: float = 55.0
    hum_db: float = -70.0
    ripple: float = 0.0
    lag_s: float = 5e-6
    skew_s: float = 0.0
    crosstalk_db: float = -60.0
    n_firings: int = 1
    is_bridged: bool = True
    rate_hz: float = 48_000.0


@dataclass(frozen=True)
class Firing:
    """What truly happened, in seconds of the recording: the contact's touches, and where the light passed its parts.

    `touches_s` has shape (n, 2): each make and break. `light_s` is keyed by "first light", "half light", "80 % open",
    "full open" and "closing": where 10, 50, 80 and 95 % were passed opening, and 95 % closing.
    """

    touches_s: Array
    light_s: dict[str, float]

    @property
    def make_s(self) -> float:
        """The first touch."""
        return float(self.touches_s[0, 0])

    @property
    def break_s(self) -> float:
        """The last parting."""
        return float(self.touches_s[-1, 1])

    @property
    def n_bounces(self) -> int:
        """How often it opened again before its longest touch."""
        return int(np.argmax(self.touches_s[:, 1] - self.touches_s[:, 0]))

    @property
    def longest_bounce_s(self) -> float:
        """The longest of those openings."""
        gaps = self.touches_s[1:, 0] - self.touches_s[:-1, 1]
        return float(gaps[: self.n_bounces].max(initial=0.0))


@dataclass(frozen=True)
class Recorded:
    """The two channels, light first (full scale is 1), and the truth about them."""

    samples: NDArray[np.float32]
    rate_hz: float
    firings: tuple[Firing, ...]


def record(bench: Bench, random: np.random.Generator) -> Recorded:
    """Fire, and record light and contact."""
    fine_hz = bench.rate_hz * _FINE
    gap_s = 0.6 + bench.open_s + abs(bench.lead_s)
    n = int((_START_S + gap_s * bench.n_firings + 0.2) * bench.rate_hz) * _FINE
    light, closed = np.zeros(n), np.zeros(n)
    if bench.is_bridged:
        _close(closed, 0.2, 0.5, 0.0, bench)
    firings = []
    for i in range(bench.n_firings):
        at_s = _START_S + gap_s * i + random.uniform(0, 0.05)
        firings.append(_fire(light, closed, at_s, bench, fine_hz, random))
    t = np.arange(n) / fine_hz
    if bench.ripple:
        light *= 1 + bench.ripple * np.sin(2 * np.pi * 100 * t + random.uniform(0, 6.3))
    seen = _lagged(light, bench.lag_s, fine_hz)
    volts = _circuit(closed, bench, fine_hz)
    volts += 10 ** (bench.hum_db / 20) * (1 - closed) * np.sin(2 * np.pi * 50 * t + random.uniform(0, 6.3))
    leak = 10 ** (bench.crosstalk_db / 20)
    skewed = _later(volts + leak * seen, bench.skew_s * fine_hz)
    channels = [
        _sampled(seen + leak * volts, bench.snr_db, bench, random),
        _sampled(skewed, bench.contact_snr_db, bench, random),
    ]
    return Recorded(np.stack(channels, axis=1).astype(np.float32), bench.rate_hz, tuple(firings))


def _fire(
    light: Array, closed: Array, at_s: float, bench: Bench, fine_hz: float, random: np.random.Generator
) -> Firing:
    """Open, close and touch once; `at_s` is when the blades start."""
    begin = int(at_s * fine_hz)
    t = np.arange(begin, begin + int((bench.open_s + 4 * bench.blade_s) * fine_hz)) / fine_hz - at_s
    needed, share = _clearing(random)
    back_s = bench.blade_s * random.uniform(0.8, 1.2)
    angle = _turn(t / bench.blade_s, random) - _turn((t - bench.open_s - bench.blade_s / 2) / back_s, random)
    lit = np.interp(angle, needed, share)
    light[begin : begin + len(t)] += lit
    parts = {"first light": 0.1, "half light": 0.5, "80 % open": 0.8, "full open": 0.95}
    peak = int(np.argmax(lit))
    lights = {name: at_s + float(np.interp(part, lit[: peak + 1], t[: peak + 1])) for name, part in parts.items()}
    lights["closing"] = at_s + float(np.interp(-0.95, -lit[peak:], t[peak:]))
    touches = _touches(lights["full open"] - bench.lead_s, bench, random)
    for i, (make, part) in enumerate(touches):
        _close(closed, make, part, bench.contact_ohm * (1 + 3 / (1 + i)), bench)
    return Firing(touches, lights)


def _clearing(random: np.random.Generator) -> tuple[Array, Array]:
    """At which part of the ring's turn which part of the hole is lit.

    Five blades turn about pivots on a circle of 1.9 hole radii. When shut, each one's straight edge runs from its pivot
    through the middle of the hole. A point is lit once every edge has turned past it. The ring turns a little further
    than the last point needs.
    """
    points = random.uniform(-1, 1, (20_000, 2))
    points = points[np.hypot(points[:, 0], points[:, 1]) < 1]
    needed = np.zeros(len(points))
    for place in 2 * np.pi * np.arange(5) / 5:
        pivot = 1.9 * np.array([np.cos(place), np.sin(place)])
        towards = np.arctan2(points[:, 1] - pivot[1], points[:, 0] - pivot[0])
        turned = (towards - (place + np.pi) + np.pi) % (2 * np.pi) - np.pi
        needed = np.maximum(needed, turned)
    needed = np.sort(needed) / (needed.max() * random.uniform(1.03, 1.2))
    return np.concatenate([[0.0], needed]), np.concatenate([[0.0], np.arange(1, len(needed) + 1) / len(needed)])


def _turn(time: Array, random: np.random.Generator) -> Array:
    """How far the ring has turned after a part of its time: a spring drives a mass from rest, and a stop ends it."""
    reach = np.pi * random.uniform(0.5, 0.85)
    return np.asarray((1 - np.cos(reach * np.clip(time, 0, 1))) / (1 - np.cos(reach)))


def _touches(make_s: float, bench: Bench, random: np.random.Generator) -> Array:
    """When the contact touches and parts: bounces as it lands, chatter as it parts, perhaps a second make."""
    gaps, at, touches = bench.bounce_s * 0.6 ** np.arange(bench.n_bounces), make_s, []
    for gap in gaps * random.uniform(0.8, 1.2, bench.n_bounces):
        part = at + random.uniform(0.00008, 0.0003)
        touches.append((at, part))
        at = part + gap
    part = make_s + bench.dwell_s
    touches.append((at, part))
    for _ in range(bench.n_chatter):
        again = part + bench.chatter_s * random.uniform(0.4, 1.0)
        part = again + bench.chatter_s * random.uniform(0.4, 1.0)
        touches.append((again, part))
    if bench.again_s is not None:
        touches.append((part + bench.again_s, part + bench.again_s + 0.004))
    return np.array(touches)


def _close(closed: Array, make_s: float, part_s: float, ohm: float, bench: Bench) -> None:
    """Close the ring from make to parting; a sample takes its share of either end.

    The contact has `ohm` where it lands and wipes down to its own resistance with a time constant of 0.3 ms.
    """
    fine_hz = bench.rate_hz * _FINE
    first, last = make_s * fine_hz, part_s * fine_hz
    i = np.arange(int(first) - 1, int(last) + 3)
    share = np.clip(np.minimum(i + 0.5, last) - np.maximum(i - 0.5, first), 0, 1)
    now = bench.contact_ohm + (ohm - bench.contact_ohm) * np.exp(-np.maximum(i - first, 0) / fine_hz / 0.0003)
    closed[i] += share * bench.series_ohm / (bench.series_ohm + now)


def _circuit(closed: Array, bench: Bench, fine_hz: float) -> Array:
    """What the input sees of the contact: it follows through RC on both edges, or after the parting only."""
    if not bench.rc_s:
        return closed.copy()
    if bench.circuit == "series":
        return _lagged(closed, bench.rc_s, fine_hz)
    seen, keep = closed.copy(), np.exp(-1 / (fine_hz * bench.rc_s))
    for part in np.flatnonzero((closed[:-1] > 0.5) & (closed[1:] <= 0.5)):
        following = np.flatnonzero(closed[part + 2 :] > 0.5)
        n = min(int(12 * bench.rc_s * fine_hz), following[0] if len(following) else len(closed))
        left = closed[part] * keep ** np.arange(n + 1)
        stretch = slice(part + 1, part + 2 + n)
        seen[stretch] = np.maximum(seen[stretch], left[: len(seen[stretch])])
    return seen


def _lagged(x: Array, lag_s: float, fine_hz: float) -> Array:
    """Pass through one RC."""
    if lag_s <= 0:
        return x.copy()
    keep = np.exp(-1 / (fine_hz * lag_s))
    return np.asarray(signal.lfilter([(1 - keep) / 2, (1 - keep) / 2], [1, -keep], x))


def _later(x: Array, by: float) -> Array:
    """Shift by a part of a fine sample and whole ones; what enters at the left is dark."""
    if by == 0:
        return x
    i = np.arange(len(x))
    return np.asarray(np.interp(i - by, i, x))


def _sampled(x: Array, snr_db: float, bench: Bench, random: np.random.Generator) -> Array:
    """Anti-alias, couple, add noise, set a gain and a sign, and quantise to 16 bit."""
    smooth = signal.firwin(48 * _FINE + 1, random.uniform(0.44, 0.48) * bench.rate_hz, fs=bench.rate_hz * _FINE)
    y = np.asarray(signal.upfirdn(smooth, x, 1, _FINE))[24 : 24 + len(x) // _FINE]
    for lowest, highest in ((2.0, 8.0), (0.3, 2.0)):
        b, a = signal.butter(1, random.uniform(lowest, highest), "highpass", fs=bench.rate_hz)
        y = signal.lfilter(b, a, y)
    y = y + 10 ** (-snr_db / 20) * random.standard_normal(len(y))
    level = random.choice([-1, 1]) * random.uniform(0.3, 0.75)
    return np.asarray(np.round(y * level * 2**15) / 2**15)


def cells() -> Iterator[tuple[str, Bench]]:
    """The benches of the table: plain ones, and one thing at a time that a plain one has not."""
    for snr_db in (60.0, 40.0):
        yield f"X, 1/60, {snr_db:.0f} dB", Bench(snr_db=snr_db)
    yield "M, 1/60", Bench(lead_s=0.0155, dwell_s=0.03)
    yield "X, 1/250", Bench(open_s=1 / 250, blade_s=0.0015, dwell_s=0.004)
    yield "five bounces from 400 us", Bench(n_bounces=5, bounce_s=0.0004)
    yield "chatter at the break: 3 to 150 us", Bench(n_chatter=3)
    yield "chatter at the break: 6 to 300 us", Bench(n_chatter=6, chatter_s=0.0003)
    yield "1/15, a second make 20 ms after the break", Bench(open_s=1 / 15, dwell_s=0.02, again_s=0.02)
    for rc_s in (5e-6, 20e-6, 50e-6, 100e-6, 200e-6):
        yield f"lead of {rc_s * 1e6:.0f} us", Bench(rc_s=rc_s)
    for rc_s in (20e-6, 50e-6, 100e-6, 200e-6):
        yield f"pull-up, {rc_s * 1e6:.0f} us", Bench(rc_s=rc_s, circuit="pull-up")
    yield "M, lead of 100 us, chatter", Bench(rc_s=100e-6, n_chatter=3, lead_s=0.0155, dwell_s=0.03)
    yield "lead of 100 us, contact 42 dB over its noise", Bench(rc_s=100e-6, contact_snr_db=42.0)
    yield "contact 35 dB over its noise", Bench(contact_snr_db=35.0)
    yield "hum 40 dB below the closed contact", Bench(hum_db=-40.0)
    yield "a contact of 5 ohm", Bench(contact_ohm=5.0)
    yield "lamp ripples by 1 %", Bench(ripple=0.01)
