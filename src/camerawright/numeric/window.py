"""One firing cut out of an AC-coupled recording, with the dark beside it."""

import numpy as np
from numpy.typing import NDArray

from camerawright.numeric.coupling import Coupling, terms
from camerawright.numeric.firings import GUARD_S, Span
from camerawright.numeric.noise import Noise
from camerawright.numeric.pulse import Pulse, measure_pulse, pulse_reach
from camerawright.numeric.samples import Samples
from camerawright.trouble import NotMeasurable

Floats = NDArray[np.float64]

_LEAST_DARK_S = 4e-3


class Window:
    """One firing with a little dark on both sides, its AC coupling undone.

    Attributes
    ----------
    start, stop
        First and last + 1 sample of the window in the recording.
    recorded, light : shape (n,)
        The light as recorded, and with the coupling undone.
    terms : shape (3, n)
        What a, b and e are multiplied by in the undoing.
    before, after : shape (n,)
        Which samples are surely dark, before and after the firing.
    """

    def __init__(self, level: Samples, rate_hz: float, spans: tuple[Span, ...], i: int, coupling: Coupling) -> None:
        self.span = span = spans[i]
        self.rate_hz = rate_hz
        # noise integrated over long dark bends the line under the firing, so a short firing gets little
        dark_s = float(np.clip(0.75 * span.duration_s, 8e-3, 0.12))
        earliest_s = spans[i - 1].down_s + 2 * GUARD_S if i else 0.0
        latest_s = spans[i + 1].up_s - GUARD_S if i + 1 < len(spans) else len(level) / rate_hz
        start_s = max(earliest_s, span.up_s - GUARD_S - dark_s)
        stop_s = min(latest_s, span.down_s + 2 * GUARD_S + dark_s)
        self.start = round(start_s * rate_hz)
        self.stop = max(round(stop_s * rate_hz), self.start + 2)
        self.recorded = y = level[self.start : self.stop]
        self.terms = terms(y, 1 / rate_hz)
        self.light = y + np.array([coupling.a, coupling.b, coupling.e]) @ self.terms
        at_s = (self.start + np.arange(len(y))) / rate_hz
        self.before = at_s < span.up_s - GUARD_S
        self.after = at_s > span.down_s + 2 * GUARD_S

    def refuse_without_dark(self) -> None:
        """Raise `NotMeasurable` if there is too little dark on one side of the firing to tell where zero is."""
        self._refuse_without_dark(self.before, self.after)

    def opened(self) -> Floats:
        """Light well between the edges, above the line through the dark on both sides; empty for a short firing."""
        dark = np.flatnonzero(self.before | self.after)
        line = np.polyfit(dark, self.light[dark], 1)
        edge = round(GUARD_S * self.rate_hz)
        n = np.flatnonzero(~(self.before | self.after))[2 * edge : -3 * edge]
        return np.asarray(self.light[n] - np.polyval(line, n))

    def around(self) -> Floats:
        """The firing as recorded, with 2 ms on each side."""
        at_s = (self.start + np.arange(len(self.light))) / self.rate_hz
        return self.recorded[(at_s > self.span.up_s - 2e-3) & (at_s < self.span.down_s + 2e-3)]

    def pulse(self, noise: Noise, full_open: float | None = None) -> Pulse:
        """Measure the firing, with dark as near to its feet as they allow; raises as `measure_pulse`."""
        self.refuse_without_dark()
        first, last = pulse_reach(self.light, self.before | self.after, noise.sigma, self.rate_hz, full_open)
        n = np.arange(len(self.light))
        before, after = n < first, n > last
        self._refuse_without_dark(before, after)
        return measure_pulse(self.light, before | after, noise.sigma, self.rate_hz, full_open)

    def _refuse_without_dark(self, before: NDArray[np.bool_], after: NDArray[np.bool_]) -> None:
        """Raise `NotMeasurable` if either side has less than 4 ms of dark."""
        for side, where in ((before, "before"), (after, "after")):
            if side.sum() < _LEAST_DARK_S * self.rate_hz:
                raise NotMeasurable(
                    f"there is no dark {where} this firing: another firing, or the end of the recording, is too near",
                    "Leave a second of dark before and after each firing",
                )
