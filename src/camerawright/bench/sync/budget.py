"""What goes into the uncertainty of a delay, a closure and a resistance."""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from camerawright.bench.sync.contact import Closure
from camerawright.bench.sync.light import Light, Seen
from camerawright.handbook.light_sensors import Sensor
from camerawright.numeric.coupling import Coupling
from camerawright.numeric.noise import Noise
from camerawright.numeric.pulse import Pulse, Timed
from camerawright.numeric.window import Window
from camerawright.quantity import BudgetLine, Quantity
from camerawright.recordings.channel import Recording

Floats = NDArray[np.float64]

U_SKEW_SAMPLES = 0.5
"""u of how much later one channel is sampled than the other, in samples: within one sample, 95 %. Common practice."""
U_CLOCK = 50e-6
"""u of a crystal's rate. Common practice: 95 % are within 100 ppm."""
U_LOSSY_S = 0.1e-3
"""u of an instant in a lossy file: its coder smears a step over about that. Common practice."""
_CHATTER = 2.5  # the edge of a contact that chatters as it parts, in u of an edge alone. By the second simulator


@dataclass(frozen=True)
class Budget:
    """What all firings of a recording share."""

    light: Light
    recording: Recording
    sensor: Sensor
    skew_s: float | None
    series_ohm: float | None
    bridge: Closure | None

    def instant(self, timed: Timed, seen: Seen, closure: Closure | None) -> list[BudgetLine]:
        """Lines of an instant of the light, or of a time between two."""
        light, pulse = self.light, seen.pulse
        level = max(_level_doubt(seen, light), ripple(pulse, light.noise))
        leak = light.u_leak * closure.level_fs / pulse.level if closure else 0.0
        return [
            BudgetLine("light noise", light.noise.u_of(timed.weights), light.noise.n_segments, "A"),
            BudgetLine("light level", level * abs(timed.per_level_s)),
            BudgetLine("AC model", _u_coupling(timed.weights, seen.window, light.coupling), kind="A"),
            BudgetLine("crosstalk", leak * abs(timed.per_level_s)),
            BudgetLine("sensor linearity", self.sensor.u_bend * abs(timed.per_bend_s)),
            BudgetLine("timing", timed.u_between / light.rate_hz),
            *([BudgetLine("lossy coding", U_LOSSY_S)] if self.recording.is_lossy else []),
        ]

    def width(self, timed: Timed, seen: Seen, closure: Closure | None) -> Quantity:
        """A time between two instants of the light; a sensor's fall may lag unlike its rise."""
        lines = (
            *self.instant(timed, seen, closure),
            BudgetLine("sensor lag", self.sensor.u_lag_s),
            BudgetLine("clock", U_CLOCK * timed.value_s),
        )
        return Quantity(timed.value_s, "s", lines)

    def delay(self, light_s: float, timed: Timed, seen: Seen, closure: Closure, sign: float = 1.0) -> Quantity:
        """From an instant of the light to the make (the other way with a negative sign)."""
        u_skew_s = (U_SKEW_SAMPLES if self.skew_s is None else 0.02) / self.light.rate_hz
        lag_s, u_lag_s = self.sensor.lag_s, self.sensor.u_lag_s
        # A first-order lag turns L(t) into L - lag L' + lag² L'' - ...; solved for where that passes a level, it is
        # late by lag - lag² L'' / 2 L': a straight edge by the lag itself, a bent one by its square too
        later_s = lag_s + lag_s**2 * timed.per_lag2_1_s
        value = closure.make_s + (self.skew_s or 0.0) - (light_s - later_s)
        return Quantity(
            sign * value,
            "s",
            (
                *self.instant(timed, seen, closure),
                BudgetLine("contact edge", closure.u_edge_s),
                *_lag_line(closure.u_lag_s),
                BudgetLine("skew of the channels", u_skew_s),
                BudgetLine("sensor lag", u_lag_s * abs(1 + 2 * lag_s * timed.per_lag2_1_s)),
                BudgetLine("clock", U_CLOCK * abs(value)),
            ),
        )

    def dwell(self, closure: Closure) -> Quantity:
        """From the first make to the last break; the edges of one that chatters ring into each other."""
        value = closure.break_s - closure.make_s
        lossy = [BudgetLine("lossy coding", U_LOSSY_S)] if self.recording.is_lossy else []
        edge = BudgetLine("contact edge", math.hypot(1, _CHATTER if closure.chatters else 1) * closure.u_edge_s)
        lag = _lag_line(closure.u_lags_apart_s)
        return Quantity(value, "s", (edge, *lag, BudgetLine("clock", U_CLOCK * value), *lossy))

    def longest_bounce(self, closure: Closure) -> Quantity:
        """The longest time that it opened again before it settled: two edges of like uncertainty, 0 without bounces.

        Edges so near to each other ring into one another in the anti-alias filter: as much again as placing them.
        """
        u_s = 2 * closure.u_edge_s if closure.n_bounces else 0.0
        lag = _lag_line(closure.u_lags_apart_s if closure.n_bounces else 0.0)
        return Quantity(closure.longest_bounce_s, "s", (BudgetLine("contact edge", u_s), *lag))

    def resistance(self, closure: Closure) -> Quantity | None:
        """Of the closed contact, by the divider.

        Notes
        -----
        Battery U, series resistor R, contact r: the input sees U R / (R + r) closed and U bridged, so that their ratio
        q = 1 + r / R and r = R (q - 1). dr/dq = R, and q changes by its own relative change of either level: R q is
        what a relative error of a level does to r.
        """
        if self.series_ohm is None or self.bridge is None:
            return None
        ratio = self.bridge.level_fs / closure.level_fs
        per = self.series_ohm * ratio
        return Quantity(
            self.series_ohm * (ratio - 1),
            "ohm",
            (
                BudgetLine("level bridged", per * self.bridge.u_level_fs / self.bridge.level_fs),
                BudgetLine("level closed", per * closure.u_level_fs / closure.level_fs),
                BudgetLine("series resistor", 0.05 / math.sqrt(3) * abs(self.series_ohm * (ratio - 1))),
            ),
        )


def _lag_line(u_s: float) -> tuple[BudgetLine, ...]:
    """What undoing the lead's lag leaves, where there was one."""
    return (BudgetLine("lag of the lead", u_s),) if u_s else ()


def _u_coupling(weights: Floats, window: Window, coupling: Coupling) -> float:
    """What the uncertainty of the undoing does to something linear in the light."""
    moved = window.terms @ weights
    return math.sqrt(max(0.0, float(moved @ coupling.covariance @ moved)))


def _level_doubt(seen: Seen, light: Light) -> float:
    """How far the inner part of the plateau differs from the whole, beyond what noise explains."""
    weights = seen.pulse.inner_weights
    expected = math.hypot(light.noise.u_of(weights), _u_coupling(weights, seen.window, light.coupling))
    return math.sqrt(max(0.0, seen.pulse.inner_level**2 - (1.5 * expected) ** 2))


def ripple(pulse: Pulse, noise: Noise) -> float:
    """How much the plateau moves within itself beyond noise, in levels: a lamp that flickers."""
    block = max(1, round(1e-3 * noise.rate_hz))
    top = pulse.light[slice(*pulse.plateau)]
    means = top[: len(top) // block * block].reshape(-1, block).mean(axis=1)
    if len(means) < 4:
        return 0.0
    spread = float(np.std(means - np.polyval(np.polyfit(np.arange(len(means)), means, 1), np.arange(len(means)))))
    weights = np.zeros(block * 16)
    weights[:block] = 1 / block
    return math.sqrt(max(0.0, spread**2 - (1.5 * noise.u_of(weights)) ** 2)) / pulse.level
