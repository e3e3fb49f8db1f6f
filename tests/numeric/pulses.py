"""Firings of which everything is known in closed form: edges that rise and fall as the square of a sine."""

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Known:
    """A firing from `up_s` on: `edge_s` to open, `open_s` fully open, `edge_s` to close. [s]"""

    up_s: float = 0.02
    edge_s: float = 2e-3
    open_s: float = 0.015
    level: float = 0.3
    length_s: float = 0.06
    rate_hz: float = 48_000.0

    @property
    def at_s(self) -> Floats:
        """When the samples are."""
        return np.asarray(np.arange(round(self.length_s * self.rate_hz)) / self.rate_hz)

    @property
    def down_s(self) -> float:
        """When it is closed."""
        return self.up_s + 2 * self.edge_s + self.open_s

    @property
    def opening(self) -> Floats:
        """How far the opening has come at each sample, 0 to 1: sin² of a quarter turn."""
        run = np.clip((self.at_s - self.up_s) / self.edge_s, 0, 1)
        return np.asarray(np.sin(math.pi / 2 * run) ** 2)

    @property
    def closing(self) -> Floats:
        """How much the closing still leaves open at each sample."""
        run = np.clip((self.down_s - self.at_s) / self.edge_s, 0, 1)
        return np.asarray(np.sin(math.pi / 2 * run) ** 2)

    @property
    def light(self) -> Floats:
        """The light, noiseless."""
        return np.asarray(self.level * self.opening * self.closing)

    @property
    def dark(self) -> NDArray[np.bool_]:
        """Where there is none, a millisecond off the edges."""
        return (self.at_s < self.up_s - 1e-3) | (self.at_s > self.down_s + 1e-3)

    def reached_s(self, part: float) -> float:
        """How long after its beginning an edge has come to a part of the level: sin² inverted."""
        return 2 * self.edge_s / math.pi * math.asin(math.sqrt(part))

    def width_s(self, part: float) -> float:
        """Between the crossings of a part of the level."""
        return 2 * self.edge_s + self.open_s - 2 * self.reached_s(part)

    @property
    def effective_s(self) -> float:
        """The integral over the level: sin² averages to 1/2 on each edge."""
        return self.open_s + self.edge_s

    def moved(self, by_s: float) -> "Known":
        """The same, later."""
        return replace(self, up_s=self.up_s + by_s)
