"""What goes into the uncertainty of a firing's times."""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from camerawright.bench.shutter import health
from camerawright.bench.shutter.full_open import FullOpen
from camerawright.bench.shutter.lamp import Flicker
from camerawright.bench.shutter.record import LevelFrom
from camerawright.handbook.light_sensors import Sensor
from camerawright.numeric.coupling import Coupling
from camerawright.numeric.noise import Noise
from camerawright.numeric.pulse import Pulse, Timed
from camerawright.numeric.window import Window
from camerawright.quantity import BudgetLine, Quantity

Floats = NDArray[np.float64]

U_CLOCK = 50e-6  # u of a crystal's rate, normal: 95 % are within 100 ppm. Common practice


@dataclass(frozen=True)
class Seen:
    """A firing measured, before its budget: how loud the slow noise beside it is, and the lamp's flicker."""

    window: Window
    pulse: Pulse
    flicker: Flicker
    disturbed: float
    snr_db: float
    full_open: FullOpen | None = None  # the level's origin, where the firing itself does not stand fully open

    @property
    def level_from(self) -> LevelFrom:
        """Where the level is from."""
        if self.pulse.has_plateau:
            return "its own plateau"
        return "slower firings" if self.full_open is not None else "its own peak"


@dataclass(frozen=True)
class Budget:
    """What all firings of a recording share in their budgets."""

    noise: Noise
    coupling: Coupling
    sensor: Sensor
    is_lossy: bool

    def quantity(self, timed: Timed, one: Seen, *, is_edge: bool = False) -> Quantity:
        """A time with its budget lines; from an opening to a closing it loses what the fall is known to lag more."""
        longer_s = 0.0 if is_edge else self.sensor.longer_s
        bent_s = self.sensor.lag_s**2 * timed.per_lag2_1_s
        u_noise = one.disturbed * self.noise.u_of(timed.weights)
        lines = [
            BudgetLine("noise", u_noise, self.noise.n_segments, "A"),
            self._level_line(one, timed.per_level_s),
            BudgetLine("timing", math.hypot(U_CLOCK * timed.value_s, timed.u_between / self.noise.rate_hz)),
            BudgetLine("AC model", self._u_coupling(timed.weights, one.window), kind="A"),
            BudgetLine("sensor lag", math.hypot(self.sensor.u_lag_s, bent_s)),
            BudgetLine("sensor linearity", self.sensor.u_bend * abs(timed.per_bend_s)),
        ]
        if self.sensor.u_lag_by_light_s:
            lines.append(BudgetLine("sensor lag by light", self.sensor.u_lag_by_light_s))
        if one.flicker.part > 0:
            lines.append(BudgetLine("flicker", one.flicker.u_s(timed.value_s)))
        if self.is_lossy:
            lines.append(BudgetLine("lossy coding", health.U_LOSSY * timed.value_s))
        return Quantity(timed.value_s - bent_s - longer_s - self.sensor.bend * timed.per_bend_s, "s", tuple(lines))

    def u_of(self, weights: Floats, one: Seen) -> float:
        """Uncertainty of something linear in the light of one firing, from noise and coupling."""
        return math.hypot(one.disturbed * self.noise.u_of(weights), self._u_coupling(weights, one.window))

    def _u_coupling(self, weights: Floats, window: Window) -> float:
        """What the uncertainty of a and b does to something linear in the light."""
        moved = window.terms @ weights
        return math.sqrt(max(0.0, float(moved @ self.coupling.covariance @ moved)))

    def _level_line(self, one: Seen, per_level_s: float) -> BudgetLine:
        """What the level's doubt does to a time."""
        if one.full_open is not None:
            return BudgetLine("level", one.full_open.u * abs(per_level_s), one.full_open.dof)
        return BudgetLine("level", self._level_doubt(one) * abs(per_level_s))

    def _level_doubt(self, one: Seen) -> float:
        """How far the inner part of the plateau differs from the whole beyond what noise explains."""
        weights = one.pulse.inner_weights
        expected = math.hypot(self.noise.u_of(weights), self._u_coupling(weights, one.window))
        return math.sqrt(max(0.0, one.pulse.inner_level**2 - (1.5 * expected) ** 2))
