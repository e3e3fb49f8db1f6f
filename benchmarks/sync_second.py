"""The flash contact against the second simulator: how often the stated intervals hold, what is flagged or refused."""

import math
import sys
from collections import Counter
from dataclasses import dataclass, field, replace

import numpy as np
from tests.bench import second_contact_simulator as second
from tests.bench.second_contact_simulator import Bench

from camerawright.bench.sync.budget import U_CLOCK, U_SKEW_SAMPLES
from camerawright.bench.sync.measure import measure
from camerawright.bench.sync.record import Firing
from camerawright.handbook.light_sensors import PHOTODIODE
from camerawright.handbook.sync import PARTS
from camerawright.quantity import Quantity
from camerawright.recordings.sound import Waveform
from camerawright.trouble import NotMeasurable

NAMES = (*PARTS, "to closing", "dwell", "longest bounce")


@dataclass
class Cell:
    """For each of `NAMES`: errors and stated u in us, whether the interval held; what was refused, flagged, missed."""

    errors: tuple[list[float], ...] = field(default_factory=lambda: tuple([] for _ in NAMES))
    u: tuple[list[float], ...] = field(default_factory=lambda: tuple([] for _ in NAMES))
    held: tuple[list[bool], ...] = field(default_factory=lambda: tuple([] for _ in NAMES))
    flags: Counter[str] = field(default_factory=Counter)
    n_firings: int = 0
    n_refused: int = 0
    n_flagged: int = 0
    n_open: int = 0
    n_miscounted: int = 0

    def add(self, i: int, quantity: Quantity, true_s: float) -> None:
        """One number against its truth."""
        self.errors[i].append(1e6 * (quantity.value - true_s))
        self.u[i].append(1e6 * quantity.u)
        self.held[i].append(quantity.interval[0] <= true_s <= quantity.interval[1])


def sweep(bench: Bench, seeds: range) -> Cell:
    """Simulate and measure, one firing a recording; lag, skew and clock are drawn as the budget states."""
    cell = Cell()
    for seed in seeds:
        random = np.random.default_rng([seed, 43])
        lag_s = max(0.0, random.normal(PHOTODIODE.lag_s, PHOTODIODE.u_lag_s))
        skew_s = random.normal(0, U_SKEW_SAMPLES / bench.rate_hz)
        fast = random.normal(0, U_CLOCK)
        made = second.record(replace(bench, lag_s=lag_s, skew_s=skew_s, rate_hz=bench.rate_hz * (1 + fast)), random)
        try:
            found = measure(Waveform(made.samples, bench.rate_hz, 16))
        except NotMeasurable:
            cell.n_refused += 1
            continue
        cell.n_refused += len(found.skipped)
        for firing in found.firings:
            _add(cell, firing, made.firings[0])
    return cell


def _add(cell: Cell, firing: Firing, truth: second.Firing) -> None:
    """One firing against its truth."""
    cell.n_firings += 1
    cell.n_flagged += bool(firing.flags)
    cell.flags.update(flag.partition(".")[0][:48] for flag in firing.flags)
    if firing.dwell is None or firing.to_closing is None or firing.longest_bounce is None:
        cell.n_open += 1
        return
    for i, name in enumerate(PARTS):
        cell.add(i, firing.delay(name), truth.make_s - truth.light_s[name])
    cell.add(4, firing.to_closing, truth.light_s["closing"] - truth.make_s)
    cell.add(5, firing.dwell, truth.break_s - truth.make_s)
    cell.add(6, firing.longest_bounce, truth.longest_bounce_s)
    cell.n_miscounted += firing.n_bounces != truth.n_bounces


def main(n: int = 500, only: str = "") -> None:
    """A table of bias, rms error, mean u and coverage; then what was flagged."""
    print(f"A cell of {n}: the part held is uncertain by {100 * math.sqrt(0.05 * 0.95 / n):.1f} % (binomial, k = 1).\n")
    head = "| bench | firings (refused; read as open; bounces miscounted) | flagged | "
    print(head + " | ".join(f"{name} [µs]" for name in NAMES) + " |")
    print("|---" * (3 + len(NAMES)) + "|")
    said = []
    for i, (name, bench) in enumerate(second.cells()):
        if only not in name:
            continue
        cell = sweep(bench, range(1000 * i, 1000 * i + n))
        columns = [
            f"{np.mean(e):+.1f}, {np.sqrt(np.mean(np.square(e))):.1f}, {np.mean(u):.1f}, {100 * np.mean(held):.0f} %"
            if e
            else ""
            for e, u, held in zip(cell.errors, cell.u, cell.held, strict=True)
        ]
        counts = f"{cell.n_firings} ({cell.n_refused}; {cell.n_open}; {cell.n_miscounted})"
        print(f"| {name} | {counts} | {cell.n_flagged} | " + " | ".join(columns) + " |", flush=True)
        said.append(f"- {name}: " + "; ".join(f"{flag} ({m})" for flag, m in cell.flags.most_common()))
    print("\n" + "\n".join(said))


if __name__ == "__main__":
    main(int(sys.argv[1]), sys.argv[2] if len(sys.argv) > 2 else "")
