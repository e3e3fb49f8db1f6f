"""What else gets into a recording: light from elsewhere, knocks, and what an input does to a signal. Truth in only."""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

_SMOOTHED_S = 0.3e-3


@dataclass(frozen=True)
class Disturbances:
    """Sizes in full levels of a channel, one seed's draws for each of them; all 0 for a recording without any.

    `thump` and `click` come `n` times each, anywhere; `ambient` is a step of other light that stays a while, alike in
    all channels. `leak` is the part of each channel that its neighbour holds too. `gain` is how much louder each
    firing is than the one before. `limit` is the part of its swing to which a limiter of one `release_s` holds a
    channel, `bend_back` how far the input saturates at its highest: 1 - bend_back times the swing. `dead` is a channel
    that sees nothing.
    """

    thump: float = 0.0
    n_thumps: int = 3
    click: float = 0.0
    n_clicks: int = 3
    ambient: float = 0.0
    n_steps: int = 2
    leak: float = 0.0
    gain: float = 1.0
    limit: float = 1.0
    release_s: float = 0.1
    bend_back: float = 0.0
    dead: int | None = None

    def light(self, n: int, rate_hz: float, rng: np.random.Generator) -> Floats:
        """Light that reaches all sensors from elsewhere, shape (n,)."""
        out = np.zeros(n)
        for _ in range(self.n_steps if self.ambient else 0):
            first, height = int(rng.integers(n)), self.ambient * rng.uniform(-1, 1)
            out[first : first + int(rate_hz * rng.uniform(0.005, 0.5))] += height
        return out

    def knocks(self, n: int, rate_hz: float, rng: np.random.Generator) -> Floats:
        """What knocks and switches make of a channel's signal, shape (n,)."""
        out = np.zeros(n)
        for _ in range(self.n_thumps if self.thump else 0):
            f_hz, fades_s = rng.uniform(15, 200), rng.uniform(0.01, 0.1)
            t = np.arange(min(n, int(8 * fades_s * rate_hz))) / rate_hz
            first = int(rng.integers(n))
            knock = self.thump * rng.uniform(0.3, 1) * np.sin(2 * math.pi * f_hz * t) * np.exp(-t / fades_s)
            out[first : first + len(t)] += knock[: n - first]
        for _ in range(self.n_clicks if self.click else 0):
            first = int(rng.integers(n))
            out[first : first + int(rng.integers(1, 1 + max(1, round(_SMOOTHED_S * rate_hz))))] += (
                self.click * rng.uniform(0.3, 1) * rng.choice([-1, 1])
            )
        return out

    def through_input(self, signal: Floats, rate_hz: float) -> Floats:
        """A channel after an input that limits or saturates."""
        if self.limit < 1:
            signal = signal * _limiter_gain(np.abs(signal), self.limit, self.release_s, rate_hz)
        if self.bend_back:
            top = max(float(np.abs(signal).max()), 1e-12)  # a dead channel has no top
            signal = signal * (1 - self.bend_back * (np.abs(signal) / top) ** 2)
        return signal


def _limiter_gain(size: Floats, limit: float, release_s: float, rate_hz: float) -> Floats:
    """Gain that holds what is above `limit` of the largest down to it: at once, let go in `release_s`."""
    least = float(size.max()) * limit
    fall = np.arange(len(size)) / (release_s * rate_hz)
    held = np.exp(np.maximum.accumulate(np.log(np.maximum(size, 1e-9)) + fall) - fall)
    return np.asarray(least / np.maximum(held, least))
