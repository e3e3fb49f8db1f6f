"""Beat lengths of a run with what goes into their uncertainty."""

import math

import numpy as np
from numpy.typing import NDArray

from camerawright.bench.escapement.record import Beat
from camerawright.bench.escapement.train import Chain
from camerawright.quantity import BudgetLine, Quantity

Floats = NDArray[np.float64]

U_CLOCK = 50e-6
"""u of a crystal's rate. Common practice: 95 % are within 100 ppm."""
U_ATTACK_S = 0.04e-3
"""u of when a beat begins, beyond what its two bands disagree by: clicks of one part alike. From simulation; the
honesty test holds it."""
U_PALLETS_S = 0.065e-3
"""u of how much later one pallet's click is picked than the other's, since they ring unlike. From simulation."""
U_ECHO_S, ECHO_S = 0.12e-3, 0.04
"""u of how much the echo of the opening moves the first beats, and how fast it dies away. From simulation."""


class Ticks:
    """Beat lengths of a run as something linear in the times of its beats."""

    def __init__(self, beats_s: Floats, chain: Chain, u_bands_s: float) -> None:
        self._beats_s, self._u_bands_s = beats_s, u_bands_s
        self._is_odd = (chain.n_since % 2).astype(np.float64)
        stalled = {stall.i_beat for stall in chain.stalls}
        self._single = np.array(
            [i for i, n in enumerate(np.diff(chain.n_since)) if n == 1 and i + 1 not in stalled], dtype=np.intp
        )
        gaps = np.diff(beats_s)
        self._gaps_s = gaps[self._single]
        usual = np.abs(self._gaps_s / chain.period_s - 1) < 0.3
        self._single, self._gaps_s = self._single[usual], self._gaps_s[usual]
        self._period_s = float(self._gaps_s.mean())
        middle_s = beats_s[self._single] + self._gaps_s / 2
        run = (middle_s - middle_s[0]) / (middle_s[-1] - middle_s[0]) - 0.5
        odd = np.where(chain.n_since[self._single] % 2, 0.5, -0.5)
        self._design = np.column_stack([np.ones_like(run), run, odd])
        fit = np.linalg.lstsq(self._design, self._gaps_s, rcond=None)[0]
        left = self._gaps_s - self._design @ fit
        keep = np.abs(left) <= max(4 * 1.4826 * float(np.median(np.abs(left))), 1e-9)
        self._solve = np.zeros((3, len(self._gaps_s)))
        self._solve[:, keep] = np.linalg.pinv(self._design[keep])
        self._fit = self._solve @ self._gaps_s
        self._left = self._gaps_s - self._design @ self._fit
        self._keep = keep

    def _quantity(self, value: float, unit: str, weights: Floats) -> Quantity:
        """Something linear in the beats' lengths, through what moves the beats' times."""
        on_beats = np.zeros(len(self._beats_s))
        np.add.at(on_beats, self._single + 1, weights)
        np.add.at(on_beats, self._single, -weights)
        norm = float(np.linalg.norm(on_beats))
        echo = np.exp(-(self._beats_s - self._beats_s[0]) / ECHO_S)
        return Quantity(
            value,
            unit,
            (
                BudgetLine("bands disagree", self._u_bands_s * norm, len(self._beats_s) - 1, "A"),
                BudgetLine("attack", U_ATTACK_S * norm),
                BudgetLine("pallets sound unlike", U_PALLETS_S * abs(float(on_beats @ self._is_odd))),
                BudgetLine("echo of the opening", U_ECHO_S * abs(float(on_beats @ echo))),
                BudgetLine("clock", U_CLOCK * value if unit == "1/s" else 0.0),
            ),
        )

    def rate(self) -> Quantity:
        """Beats a second, by the mean of all single lengths.

        rate = 1 / mean length, so d(rate) / d(one length) = -rate² / n; the sign does not matter to an uncertainty.
        """
        n = len(self._gaps_s)
        rate = 1 / self._period_s
        return self._quantity(rate, "1/s", np.full(n, rate**2 / n))

    def drift(self) -> Quantity:
        """Change of length over the run, relative: the slope of the line over its middle.

        The run goes from -1/2 to 1/2 along the line. The middle is known far better than the slope, so the weights are
        those of the slope alone.
        """
        return self._quantity(float(self._fit[1] / self._fit[0]), "1", self._solve[1] / self._fit[0])

    def alternation(self) -> Quantity:
        """How much longer odd beats are than even ones, relative, without a sign: which is first is not known."""
        return self._quantity(abs(float(self._fit[2] / self._fit[0])), "1", self._solve[2] / self._fit[0])

    def unevenness(self) -> Quantity:
        """Standard deviation of a beat's length about its line, the share of the timing taken off, relative.

        Notes
        -----
        A length is the difference of two times, each with u_tick, so that of the variance left 2 u_tick² is the
        timing's: own² = variance - 2 u_tick². The three parameters of the fit leave n - 3 degrees of freedom; a
        variance of n - 3 of them has the relative u √(2 / (n - 3)), and the timing's share is taken as known to a half.
        By d(own²) = 2 own d(own), u(own) = u(own²) / (2 own); as that has no end where own is 0, own is taken there as
        √u(own²) at the least.

        References
        ----------
        [jcgm-100] 4.2.3, 5.1.2.
        """
        n = int(self._keep.sum())
        left = self._left[self._keep]
        variance = float(left @ left) / max(1, n - 3)
        u_tick_s = math.hypot(self._u_bands_s, U_ATTACK_S)
        own = math.sqrt(max(0.0, variance - 2 * u_tick_s**2))
        doubt = math.hypot(variance * math.sqrt(2 / max(1, n - 3)), 2 * u_tick_s**2 * 0.5)
        u = doubt / (2 * max(own, math.sqrt(doubt)))
        return Quantity(own / self._period_s, "1", (BudgetLine("few beats, timing", u / self._period_s, n - 3, "A"),))

    def beats(self) -> tuple[Beat, ...]:
        """Every single beat against the line; a length is the difference of two times, hence √2."""
        u = math.sqrt(2) * math.hypot(self._u_bands_s, U_ATTACK_S) / self._period_s
        return tuple(
            Beat(float(self._beats_s[i]), float(left / self._period_s), u)
            for i, left in zip(self._single, self._left, strict=True)
        )
