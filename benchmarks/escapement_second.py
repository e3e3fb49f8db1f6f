"""The slow train against the second simulator: how often the stated intervals hold, and what is flagged or refused."""

import math
import sys
from collections import Counter
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray
from tests.bench import second_train_simulator as second
from tests.bench.second_train_simulator import Array, Bench

from camerawright.bench.escapement.budget import U_CLOCK
from camerawright.bench.escapement.measure import measure
from camerawright.bench.escapement.record import Run
from camerawright.quantity import Quantity
from camerawright.recordings.sound import Waveform
from camerawright.trouble import NotMeasurable

NAMES = ("rate [%]", "drift [%]", "other beat [%]", "a beat [%]")
_WRONG = 0.03


@dataclass
class Cell:
    """For each of `NAMES`: errors, stated u, and whether the interval held; and what was refused, flagged or wrong."""

    errors: tuple[list[float], ...] = field(default_factory=lambda: tuple([] for _ in NAMES))
    u: tuple[list[float], ...] = field(default_factory=lambda: tuple([] for _ in NAMES))
    held: tuple[list[bool], ...] = field(default_factory=lambda: tuple([] for _ in NAMES))
    flags: Counter[str] = field(default_factory=Counter)
    n_runs: int = 0
    n_refused: int = 0
    n_flagged: int = 0
    n_wrong: int = 0
    n_wrong_unflagged: int = 0

    def add(self, i: int, quantity: Quantity, true: float, scale: float) -> None:
        """One number against its truth."""
        self.errors[i].append(scale * (quantity.value - true))
        self.u[i].append(scale * quantity.u)
        self.held[i].append(quantity.interval[0] <= true <= quantity.interval[1])


def sweep(bench: Bench, seeds: range) -> Cell:
    """Simulate and measure, one run a recording; the clock is drawn as the budget states."""
    cell = Cell()
    for seed in seeds:
        random = np.random.default_rng([seed, 41])
        fast = random.normal(0, U_CLOCK)
        heard = second.record(replace(bench, rate_hz=bench.rate_hz * (1 + fast)), random)
        try:
            found = measure(Waveform(heard.samples, bench.rate_hz, 16))
        except NotMeasurable:
            cell.n_refused += 1
            continue
        _add(cell, found.runs[0], heard.runs[0])
    return cell


def _add(cell: Cell, run: Run, truth: second.Run) -> None:
    """One run against all its beats, heard or not; single beats against those that were heard in a row."""
    cell.n_runs += 1
    cell.n_flagged += bool(run.flags)
    cell.flags.update(flag.partition(".")[0][:48] for flag in run.flags)
    if abs(run.beat_rate.value / truth.beat_hz - 1) > _WRONG:
        cell.n_wrong += 1
        cell.n_wrong_unflagged += not run.flags
        return
    knocks = truth.knocks_s
    heard = np.array([int(np.argmin(np.abs(knocks - beat.at_s))) for beat in run.beats])
    _, drift, other, _ = true_of(knocks, np.arange(len(knocks) - 1))
    cell.add(0, run.beat_rate, truth.beat_hz, 100 / truth.beat_hz)
    cell.add(1, run.drift, drift, 100)
    cell.add(2, run.alternation, other, 100)
    for beat, true in zip(run.beats, true_of(knocks, heard[heard + 1 < len(knocks)])[3], strict=False):
        cell.errors[3].append(100 * (beat.deviation - true))
        cell.u[3].append(100 * beat.u_deviation)
        cell.held[3].append(abs(beat.deviation - true) <= 1.96 * beat.u_deviation)


def true_of(knocks_s: Array, index: NDArray[np.intp]) -> tuple[float, float, float, Array]:
    """Rate, drift, alternation of some beats of a run, and how far each is from the line."""
    gaps = knocks_s[index + 1] - knocks_s[index]
    along = (index - index[0]) / (index[-1] - index[0]) - 0.5
    design = np.column_stack([np.ones_like(along), along, np.where(index % 2, 0.5, -0.5)])
    fit = np.linalg.lstsq(design, gaps, rcond=None)[0]
    left = (gaps - design @ fit) / gaps.mean()
    return 1 / float(gaps.mean()), float(fit[1] / fit[0]), abs(float(fit[2] / fit[0])), left


def main(n: int = 500, only: str = "") -> None:
    """A table of rms error, median u and coverage; then what was flagged."""
    print(f"A cell of {n}: the part held is uncertain by {100 * math.sqrt(0.05 * 0.95 / n):.1f} % (binomial, k = 1).\n")
    print("| bench | runs (refused; rate wrong; of them unflagged) | flagged | " + " | ".join(NAMES) + " |")
    print("|---" * (3 + len(NAMES)) + "|")
    said = []
    for i, (name, bench) in enumerate(second.cells()):
        if only not in name:
            continue
        cell = sweep(bench, range(1000 * i, 1000 * i + n))
        columns = [
            f"{np.sqrt(np.mean(np.square(e))):.2f}, {np.median(u):.2f}, {100 * np.mean(held):.0f} %" if e else ""
            for e, u, held in zip(cell.errors, cell.u, cell.held, strict=True)
        ]
        counts = f"{cell.n_runs} ({cell.n_refused}; {cell.n_wrong}; {cell.n_wrong_unflagged})"
        print(f"| {name} | {counts} | {cell.n_flagged} | " + " | ".join(columns) + " |", flush=True)
        said.append(f"- {name}: " + "; ".join(f"{flag} ({m})" for flag, m in cell.flags.most_common()))
    print("\n" + "\n".join(said))


if __name__ == "__main__":
    main(int(sys.argv[1]), sys.argv[2] if len(sys.argv) > 2 else "")
