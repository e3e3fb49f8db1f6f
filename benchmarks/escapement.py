"""The slow train by sound: accuracy and honesty over rate and noise; clicks at random that are taken for a beat."""

import math
import time
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from camerawright.bench.escapement import simulate
from camerawright.bench.escapement.measure import measure
from camerawright.bench.escapement.open_close import SOUND_TO_LIGHT_S, U_ONSET_S
from camerawright.bench.escapement.record import Run
from camerawright.bench.escapement.simulate import Truth
from camerawright.quantity import Quantity
from camerawright.recordings.sound import Waveform
from camerawright.trouble import NotMeasurable

RATES = (20, 30, 60, 100, 140, 180)
SNRS_DB = (60, 45, 36, 28)
NAMES = ("rate [%]", "drift [%]", "other beat [%]", "a beat [%]", "opening to closing [ms]")
_WRONG = 0.03


@dataclass
class Cell:
    """For each of `NAMES`: errors, stated u, and whether the interval held; and what was refused, missed or wrong."""

    errors: tuple[list[float], ...] = field(default_factory=lambda: ([], [], [], [], []))
    u: tuple[list[float], ...] = field(default_factory=lambda: ([], [], [], [], []))
    held: tuple[list[bool], ...] = field(default_factory=lambda: ([], [], [], [], []))
    n_refused: int = 0
    n_pairs: int = 0
    n_wrong: int = 0

    def add(self, i: int, quantity: Quantity, true: float, scale: float) -> None:
        """One number against its truth."""
        self.errors[i].append(scale * (quantity.value - true))
        self.u[i].append(scale * quantity.u)
        self.held[i].append(quantity.interval[0] <= true <= quantity.interval[1])


def sweep(rate: int, snr_db: int, seeds: range) -> Cell:
    """Simulate and measure; onset of a click, and sound against light, are drawn from what the budget states."""
    cell = Cell()
    for seed in seeds:
        rng = np.random.default_rng([seed, rate, snr_db, 3])
        scene = simulate.drawn(rate, snr_db, rng)
        offset_s = SOUND_TO_LIGHT_S / math.sqrt(3) * rng.standard_normal()
        samples, (truth,) = simulate.recording(replace(scene, onset_s=U_ONSET_S, offset_s=offset_s), seed)
        try:
            train = measure(Waveform(samples.astype(np.float32), 48_000.0, 16)).runs[0]
        except NotMeasurable:
            cell.n_refused += 1
            continue
        _add(cell, train, truth)
    return cell


def _add(cell: Cell, train: Run, truth: Truth) -> None:
    """One run against all its beats, heard or not; single beats against those that were heard."""
    index = np.array([int(np.argmin(np.abs(truth.beats_s - beat.at_s))) for beat in train.beats])
    keep = index + 1 < len(truth.beats_s)
    true_rate, drift, alternation, _ = _true(truth.beats_s, np.arange(len(truth.beats_s) - 1))
    left = _true(truth.beats_s, index[keep])[3]
    cell.n_wrong += abs(train.beat_rate.value / true_rate - 1) > _WRONG
    cell.add(0, train.beat_rate, true_rate, 100 / true_rate)
    cell.add(1, train.drift, drift, 100)
    cell.add(2, train.alternation, alternation, 100)
    for beat, true in zip(np.array(train.beats, dtype=object)[keep], left, strict=True):
        cell.errors[3].append(100 * (beat.deviation - true))
        cell.u[3].append(100 * beat.u_deviation)
        cell.held[3].append(abs(beat.deviation - true) <= 1.96 * beat.u_deviation)
    if train.open_close.time is not None:
        cell.n_pairs += 1
        cell.add(4, train.open_close.time, truth.close_s - truth.open_s, 1e3)


def _true(beats_s: NDArray[np.float64], index: NDArray[np.intp]) -> tuple[float, float, float, NDArray[np.float64]]:
    """Rate, drift, alternation and what is left of each beat."""
    gaps = beats_s[index + 1] - beats_s[index]
    along = (index - index[0]) / (index[-1] - index[0]) - 0.5
    design = np.column_stack([np.ones_like(along), along, np.where(index % 2, 0.5, -0.5)])
    fit = np.linalg.lstsq(design, gaps, rcond=None)[0]
    left = (gaps - design @ fit) / gaps.mean()
    return 1 / float(gaps.mean()), float(fit[1] / fit[0]), abs(float(fit[2] / fit[0])), left


def accuracy(n: int) -> None:
    """A table of rms, mean u and coverage."""
    print(f"A cell of {n}: the part held is uncertain by {100 * math.sqrt(0.05 * 0.95 / n):.1f} % (binomial, k = 1).\n")
    print("| beats a second | SNR dB | runs (refused, rate wrong) | " + " | ".join(NAMES) + " | of them paired |")
    print("|---" * (4 + len(NAMES)) + "|")
    pooled: tuple[list[bool], ...] = ([], [], [], [], [])
    for rate in RATES:
        for snr_db in SNRS_DB:
            cell = sweep(rate, snr_db, range(n))
            columns = []
            for i in range(len(NAMES)):
                pooled[i].extend(cell.held[i])
                errors = np.array(cell.errors[i])
                columns.append(
                    f"{np.sqrt(np.mean(errors**2)):.2f}, {np.mean(cell.u[i]):.2f}, {100 * np.mean(cell.held[i]):.0f} %"
                    if len(errors)
                    else ""
                )
            counts = f"{n - cell.n_refused} ({cell.n_refused}, {cell.n_wrong})"
            print(f"| {rate} | {snr_db} | {counts} | " + " | ".join(columns) + f" | {cell.n_pairs} |", flush=True)
    print(f"\nPooled over {len(pooled[0])} runs, held: " + ", ".join(
        f"{name.split(' [')[0]} {100 * np.mean(held):.1f} %" for name, held in zip(NAMES, pooled, strict=True)
    ))  # fmt: skip


def knocks(n: int) -> None:
    """Clicks at random times, of one loudness and of several: how often a beat is found in them."""
    t = np.arange(480) / 48_000
    burst = np.exp(-t / 6e-4) * (np.sin(2 * np.pi * 2700 * t) + np.sin(2 * np.pi * 7100 * t)) / 2
    found = 0
    for seed in range(n):
        rng = np.random.default_rng([seed, 1])
        samples = 1e-4 * rng.standard_normal(96_000)
        for at_s in rng.uniform(0.3, 1.7, int(rng.integers(8, 130))):
            first = round(48_000 * at_s)
            samples[first : first + 480] += (0.2 if seed % 2 else rng.uniform(0.05, 0.3)) * burst
        try:
            measure(Waveform(samples.astype(np.float32), 48_000.0, 16))
        except NotMeasurable:
            continue
        found += 1
    print(f"Clicks at random times: a beat is found in {found} of {n} recordings")


def throughput() -> None:
    """Time of measuring one recording."""
    samples, _ = simulate.recording(simulate.example(1), 1)
    waveform = Waveform(samples.astype(np.float32), 48_000.0, 16)
    start = time.process_time()
    measure(waveform)
    print(f"{waveform.duration_s:.0f} s with 3 runs: {time.process_time() - start:.2f} s of processor time")


def main(n: int = 200) -> None:
    """All tables: rms, mean u, held."""
    accuracy(n)
    print()
    knocks(5 * n)
    throughput()
