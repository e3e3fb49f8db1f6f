"""Beat lengths of a run with what goes into their uncertainty."""

import math
from dataclasses import dataclass
from itertools import pairwise

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
U_ECHO_S, ECHO_S = 0.15e-3, 0.04
"""u of how much the echo of the opening moves the first beats, and how fast it dies away. From simulation."""

_RUN_UP = 3.0
_BEND = 0.05  # of the line's whole rise: how far from it the beats beyond those heard may lie
_MOST_UNHEARD = 6
_MAY_BE = 0.3  # of a beat: what is further off the line is no beat
_FIRST, _LAST = 0.7, 1.0  # of a beat: usual time from the opening to the first beat, from the last to the closing


@dataclass(frozen=True)
class Blades:
    """When the blades opened and closed by their clicks; None where that is not heard. [s]"""

    open_s: float | None = None
    close_s: float | None = None


@dataclass(frozen=True)
class Unheard:
    """How many beats were not heard, or left out, before the first of a chain and after the last, each with u.

    That u is how far the time to the blades is from whole beats; half a beat where the blades were not heard. Where
    more than 6 would be missing, none is counted, and any number of them may be: perhaps the train began late.
    """

    before: int
    after: int
    u_before: float
    u_after: float


def unheard(beats_s: Floats, chain: Chain, blades: Blades) -> Unheard:
    """Count the beats that must have been between the blades and the beats that were heard."""
    sides = []
    for gap_s, usual, cut_s in (
        (None if blades.open_s is None else float(beats_s[0]) - blades.open_s, _FIRST, chain.before_s),
        (None if blades.close_s is None else blades.close_s - float(beats_s[-1]), _LAST, chain.after_s),
    ):
        n_beats = 0.0 if gap_s is None else max(0.0, gap_s / chain.period_s - usual)
        n = max(round(n_beats), 1 if cut_s else 0)
        if n > _MOST_UNHEARD:
            sides.append((0, n / math.sqrt(3)))
        else:
            sides.append((n, 0.5 if gap_s is None else min(0.5, abs(n_beats - n))))
    (before, u_before), (after, u_after) = sides
    return Unheard(before, after, u_before, u_after)


def _design(at: NDArray[np.intp], first: int, last: int) -> Floats:
    """What is fitted to the beats: a constant, a line from −1/2 to 1/2 over the run, the alternation; shape (n, 3)."""
    along = (at - first) / max(1, last - 1 - first) - 0.5
    return np.column_stack([np.ones(len(at)), along, np.where(at % 2, 0.5, -0.5)])


def _fitting(design: Floats, gaps_s: Floats) -> NDArray[np.bool_]:
    """Which lengths are no further from line and alternation than chance explains."""
    left = gaps_s - design @ np.linalg.lstsq(design, gaps_s, rcond=None)[0]
    return np.asarray(np.abs(left) <= max(4 * 1.4826 * float(np.median(np.abs(left))), 1e-9))


class Ticks:
    """Beat lengths of a run as something linear in the times of its beats.

    The run is all its beats, from the first after the opening to the last before the closing. Those that were not heard
    count by the line and the alternation through those that were, with a budget line of their own.
    """

    def __init__(self, beats_s: Floats, chain: Chain, u_bands_s: float, blades_s: Blades) -> None:
        self._beats_s, self._u_bands_s = beats_s, u_bands_s
        self._from_s = float(beats_s[0]) if blades_s.open_s is None else blades_s.open_s
        self._is_odd = (chain.n_since % 2).astype(np.float64)
        stalled = {stall.i_beat for stall in chain.stalls}
        steps, gaps = np.diff(chain.n_since), np.diff(beats_s)
        moves = np.array([i + 1 not in stalled for i in range(len(gaps))])
        single = np.flatnonzero((steps == 1) & moves)
        self._single = single[np.abs(gaps[single] / chain.period_s - 1) < 0.3]
        self._gaps_s = gaps[self._single]
        ends = unheard(beats_s, chain, blades_s)
        first, last = -ends.before, int(chain.n_since[-1]) + ends.after
        at = np.arange(first, last)  # the lengths of all beats, counted from the first that was heard
        self._design_all = _design(at, first, last)
        self._design = _design(chain.n_since[self._single], first, last)
        self._keep = _fitting(self._design, self._gaps_s)
        self._solve = np.zeros((3, len(self._gaps_s)))
        self._solve[:, self._keep] = np.linalg.pinv(self._design[self._keep])
        self._fit = self._solve @ self._gaps_s
        self._left = self._gaps_s - self._design @ self._fit
        self._own_s = float(np.sqrt(np.sum(self._left[self._keep] ** 2) / max(1, int(self._keep.sum()) - 3)))
        self._ends, self._is_end = ends, (at < 0) | (at >= last - ends.after)
        self._is_known = np.zeros(len(at), dtype=bool)
        self._is_known[chain.n_since[self._single[self._keep]] - first] = True
        self._aside_s = self._astray(chain, self._design_all @ self._fit)
        # from the first beat to the last, without the stalls; the mean length is what telescopes out of it
        filled = (self._design_all @ self._fit + self._aside_s / 2)[self._is_end]
        self._n = int(steps[moves].sum()) + len(filled)
        self._period_s = (float(gaps[moves].sum()) + float(filled.sum())) / self._n
        self._on_mean = np.zeros(len(beats_s))
        np.add.at(self._on_mean, np.flatnonzero(moves) + 1, 1 / self._n)
        np.add.at(self._on_mean, np.flatnonzero(moves), -1 / self._n)

    def _astray(self, chain: Chain, line_s: Floats) -> Floats:
        """How far each length of the whole run may lie aside of the line, 0 where nothing says so. [s]

        Lengths that were heard and do not fit are as far as they were heard. At an end, so are clicks that were left
        out, if that makes the beat longer: a train that starts from rest may be slow at first, and never fast. Those
        beyond them, which were not heard, may be three times as far: so fast may a train run up. Whether the click was
        the beat's, or an echo's, is not known: anything between counts alike.
        """
        aside = np.zeros(len(line_s))
        heard = chain.n_since[self._single] + self._ends.before
        aside[heard[~self._keep]] = self._left[~self._keep]
        for n, cut_s, i_near, step in (
            (self._ends.before, (self._beats_s[0], *chain.before_s), 0, -1),
            (self._ends.after, (self._beats_s[-1], *chain.after_s), -1, 1),
        ):
            beyond = _RUN_UP * max(0.0, float(self._left[i_near]) - 2 * self._own_s)
            at = self._ends.before - 1 if step < 0 else len(line_s) - n
            lengths = [abs(b - a) for a, b in pairwise(cut_s)]
            for k in range(n):
                off = lengths[k] - line_s[at + step * k] if k < len(lengths) else math.inf
                if abs(off) < _MAY_BE * chain.period_s:
                    aside[at + step * k] = max(0.0, off)
                    beyond = _RUN_UP * max(0.0, off)
                else:
                    aside[at + step * k] = min(beyond, _MAY_BE * chain.period_s)
        return aside

    def _quantity(self, value: float, unit: str, on_beats: Floats, on_lengths: Floats, per_count: float) -> Quantity:
        """Something linear in the beats' times, and in the lengths that were not heard.

        Those scatter as the others do. What is anywhere between 0 and d, all alike, has u = d / sqrt(12); what lies
        aside at one end lies to one side, so its parts add up.
        """
        norm = float(np.linalg.norm(on_beats))
        echo = np.exp(-(self._beats_s - self._from_s) / ECHO_S)
        chance = self._own_s * float(np.linalg.norm(on_lengths[~self._is_known]))
        aside = float(np.abs(on_lengths * self._aside_s).sum()) / math.sqrt(12)
        bends = _BEND * abs(float(self._fit[1])) * float(np.abs(on_lengths[self._is_end]).sum())
        return Quantity(
            value,
            unit,
            (
                BudgetLine("bands disagree", self._u_bands_s * norm, len(self._beats_s) - 1, "A"),
                BudgetLine("attack", U_ATTACK_S * norm),
                BudgetLine("pallets sound unlike", U_PALLETS_S * abs(float(on_beats @ self._is_odd))),
                BudgetLine("echo of the opening", U_ECHO_S * abs(float(on_beats @ echo))),
                BudgetLine("beats not heard", math.hypot(chance, aside, bends, per_count)),
                BudgetLine("clock", U_CLOCK * value if unit == "1/s" else 0.0),
            ),
        )

    def _on_beats(self, weights: Floats) -> Floats:
        """Weights of the single lengths as weights of the beats' times."""
        on_beats = np.zeros(len(self._beats_s))
        np.add.at(on_beats, self._single + 1, weights)
        np.add.at(on_beats, self._single, -weights)
        return on_beats

    def rate(self) -> Quantity:
        """Beats a second, by the mean length of all beats.

        rate = 1 / mean length, so d(rate) / d(mean length) = -rate²; the sign does not matter to an uncertainty. A beat
        more or less at an end moves the mean by how far that beat is from it, over their number.
        """
        rate = 1 / self._period_s
        first, last = self._design_all[[0, -1]] @ self._fit - self._period_s
        per_count = math.hypot(self._ends.u_before * first, self._ends.u_after * last) * rate**2 / self._n
        return self._quantity(rate, "1/s", self._on_mean * rate**2, self._is_end * rate**2 / self._n, per_count)

    def drift(self) -> Quantity:
        """Change of length over the run, relative: the slope of the line over its middle.

        The run goes from -1/2 to 1/2 along the line. The middle is known far better than the slope, so the weights are
        those of the slope alone. A beat more or less makes the line that much longer.
        """
        drift = float(self._fit[1] / self._fit[0])
        return self._ratio(1, drift, math.hypot(self._ends.u_before, self._ends.u_after) * drift / self._n)

    def alternation(self) -> Quantity:
        """How much longer odd beats are than even ones, relative, without a sign: which is first is not known."""
        return self._ratio(2, float(self._fit[2] / self._fit[0]), 0.0)

    def _ratio(self, row: int, value: float, per_count: float) -> Quantity:
        """A parameter of the fit over the middle length."""
        on_lengths = np.linalg.pinv(self._design_all)[row] / self._fit[0]
        value += float(on_lengths @ self._aside_s) / 2
        value = abs(value) if row == 2 else value
        return self._quantity(value, "1", self._on_beats(self._solve[row] / self._fit[0]), on_lengths, abs(per_count))

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
