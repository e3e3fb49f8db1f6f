"""What moves the times of a firing, as independent causes, and what that does to anything computed from them."""

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from camerawright.bench.curtains.channel import Channel, Seen
from camerawright.bench.curtains.sensors import Sensors
from camerawright.handbook.light_sensors import MAINS_LIGHT_HZ, Sensor
from camerawright.quantity import BudgetLine, Quantity

Floats = NDArray[np.float64]

U_CLOCK = 50e-6  # u of a crystal's rate, normal: 95 % are within 100 ppm. Common practice
U_SKEW = 0.3  # u of when a channel is sampled against the others, in samples: rectangular over one sample
U_LOSSY = 0.02  # u of a time from a lossy file, as a part of it: the worst of four codecs, see docs/accuracy.md
U_LAMP = 0.01  # u of the lamp's steadiness from firing to firing, as a part. Common practice: a lamp on a battery
# u of placing an edge, in samples: both curtains' at one sensor alike, as they gather speed alike while they pass it,
# and each its own. 60 simulated shutters without noise or anything hidden: 0.02 (rms of a mean of 0.028, 0.005, 0.002
# at the three sensors and a scatter of 0.012) and 0.0017
_U_ALIKE, _U_OWN = 0.02, 0.003
_STEPS = 1e-8  # of the numbers that are moved to find sensitivities: shorter than any exposure, by far


@dataclass(frozen=True)
class Line:
    """One named cause: the columns of `moves`, shape (3 n, causes), are what one standard deviation does to z."""

    name: str
    moves: Floats
    dof: float = math.inf
    kind: str = "B"


@dataclass(frozen=True)
class Inputs:
    """The numbers that all results of a firing come from: z = (n times of the first, n of the second, n places)."""

    z: Floats
    lines: tuple[Line, ...]

    @property
    def n(self) -> int:
        """How many sensors."""
        return len(self.z) // 3

    def derived(self, function: Callable[[Floats, Floats, Floats], Floats], unit: str) -> tuple[Quantity, ...]:
        """Quantities from ``function(first_s, second_s, at_mm)``, shape (m,), by finite differences.

        References
        ----------
        [jcgm-100] 5.1.3, note 2: sensitivities may be had numerically.
        """
        n = self.n
        values = function(*np.split(self.z, 3))
        steps = np.r_[np.full(2 * n, _STEPS), np.full(n, 1e5 * _STEPS)]
        columns = []
        for i, step in enumerate(steps):
            moved = self.z.copy()
            moved[i] += step
            back = self.z.copy()
            back[i] -= step
            columns.append((function(*np.split(moved, 3)) - function(*np.split(back, 3))) / (2 * step))
        jacobian = np.stack(columns, axis=1)
        parts = [np.sqrt(np.sum((jacobian @ line.moves) ** 2, axis=1)) for line in self.lines]
        return tuple(
            Quantity(
                float(values[k]),
                unit,
                tuple(
                    BudgetLine(line.name, float(part[k]), line.dof, "A" if line.kind == "A" else "B")
                    for line, part in zip(self.lines, parts, strict=True)
                ),
            )
            for k in range(len(values))
        )


def inputs_of(
    seen: tuple[Seen, ...],
    channel: Channel,
    at_mm: tuple[float, ...],
    *,
    u_at_mm: float,
    u_level: tuple[float, ...],
    unsteady: tuple[float, ...],
    sensors: Sensors,
    is_lossy: bool,
) -> Inputs:
    """Times and places of a firing with all that moves them.

    Parameters
    ----------
    seen, at_mm
        One each for every sensor that saw the firing.
    channel
        One of its channels: for the rate, and how well the noise is known.
    u_level
        Relative u of a level that was taken from other firings; does nothing where the firing shows its own.
    unsteady
        Relative spread of each sensor's level from firing to firing, 0 where that is small.
    sensors
        What they are known to do to a time is taken off; what they may do besides goes into the budget.
    """
    n, sensor = len(seen), sensors.each
    times = np.array([one.times_s - _known_s(one, sensor) for one in seen])
    z = np.r_[times[:, 0], times[:, 1], at_mm]
    middle = times.mean()
    dt = 1 / channel.rate_hz
    # the columns of moves: a covariance C of two times is R Rᵀ, so R's columns are independent causes of one sd each
    noise = _spread([_root(one.by_noise_s2) for one in seen], n)
    model = _spread([_root(one.by_undoing_s2) for one in seen], n)
    falls = _spread([one.passage.per_fall_lag[:, None] for one in seen], n)
    bends = _spread([one.passage.per_bend_s[:, None] for one in seen], n)
    lamp = np.array([u * one.passage.per_level_s for one, u in zip(seen, u_level, strict=True)])
    both = np.vstack([np.eye(n), np.eye(n), np.zeros((n, n))])
    second = np.vstack([np.zeros((n, n)), np.eye(n), np.zeros((n, n))])
    clock = np.r_[z[: 2 * n] - middle, np.zeros(n)][:, None] * U_CLOCK
    placed = np.hstack([_U_ALIKE * dt * both, np.vstack([_U_OWN * dt * np.eye(2 * n), np.zeros((n, 2 * n))])])
    # an edge takes `edge_s` for the level: a level that is off by the part p moves its half by p/2 of that time
    flicker = [min(one.flicker, 0.2) * one.passage.edge_s / 2 for one in seen]
    lag = sensors.moves(sensor.u_lag_s * falls, is_measured=sensors.is_lag_measured)
    # a sensor that lags more the darker it is lags most at the opening, which starts from dark: the slower, the more.
    # A lag of rise and fall alike moves both times by itself: what the fall does not move, the rise does
    late = sensors.u_apart_s * both + sensor.u_lag_by_light_s * (both - falls)
    skew = 0.0 if sensors.are_sampled_together else U_SKEW / channel.recorded_hz
    lines = [
        Line("noise", noise, channel.noise.n_segments, "A"),
        # one lamp lights all sensors: what it does from firing to firing it does to all of them
        Line("level", np.r_[lamp.T.ravel(), np.zeros(n)][:, None]),
        Line("timing", np.hstack([clock, placed])),
        Line("AC model", model, kind="A"),
        Line("sensor lag", np.hstack([sensors.moves(late), lag])),
        Line("sensor linearity", sensors.moves(sensor.u_bend * bends)),
        Line("channel skew", skew * both),
        Line("sensor position", np.vstack([np.zeros((2 * n, n)), u_at_mm * np.eye(n)])),
    ]
    if any(flicker):
        lines.append(Line("flicker", np.vstack([np.diag(flicker * 2), np.zeros((n, 2 * n))])))
    if any(unsteady):
        # light that is not steady, were it mains flicker, tilts the top of a firing: each edge's half level moves
        tilts = np.minimum(1.0, 2 * math.pi * min(MAINS_LIGHT_HZ) * (times[:, 1] - times[:, 0]))
        moved = np.array(unsteady) * tilts * [one.passage.edge_s / 4 for one in seen]
        lines.append(Line("unsteady light", np.vstack([np.diag(np.tile(moved, 2)), np.zeros((n, 2 * n))])))
    if is_lossy:
        lines.append(Line("lossy coding", U_LOSSY * second * (times[:, 1] - times[:, 0])))
    return Inputs(z, tuple(lines))


def _known_s(one: Seen, sensor: Sensor) -> Floats:
    """By how much a sensor is known to move both times, shape (2,)."""
    return np.asarray(sensor.longer_s * one.passage.per_fall_lag + sensor.bend * one.passage.per_bend_s)


def _root(covariance: Floats) -> Floats:
    """A square root of a covariance, shape (2, 2); what rounding made negative is zero."""
    values, vectors = np.linalg.eigh(covariance)
    return np.asarray(vectors * np.sqrt(np.maximum(values, 0.0)))


def _spread(pairs: list[Floats], n: int) -> Floats:
    """Moves of (first, second) of each sensor, shape (2, m), as columns of z."""
    out = np.zeros((3 * n, sum(pair.shape[1] for pair in pairs)))
    column = 0
    for i, pair in enumerate(pairs):
        out[[i, n + i], column : column + pair.shape[1]] = pair
        column += pair.shape[1]
    return out
