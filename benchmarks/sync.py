"""Flash contact against the light: accuracy and honesty over speed, lead and noise; verdicts against the truth."""

import math
import time
from dataclasses import dataclass, field

import numpy as np

from camerawright.bench.sync import simulate
from camerawright.bench.sync.budget import U_CLOCK, U_SKEW_SAMPLES
from camerawright.bench.sync.judge import judge
from camerawright.bench.sync.measure import measure
from camerawright.bench.sync.record import Firing, Measured
from camerawright.bench.sync.simulate import Truth, Unseen
from camerawright.bench.sync.uses import Setup
from camerawright.handbook.light_sensors import SENSORS
from camerawright.handbook.sync import FLASH_S, PARTS
from camerawright.recordings.sound import Waveform
from camerawright.trouble import NotMeasurable

PHOTODIODE = SENSORS[0]
UNSEEN = Unseen(U_SKEW_SAMPLES / 48_000, U_CLOCK, PHOTODIODE.lag_s, PHOTODIODE.u_lag_s, PHOTODIODE.u_bend)
CASES = (("X, 1/60", 2e-3, 17e-3), ("X, 1/2", 2e-3, 0.5), ("M, 1/60", -14e-3, 17e-3), ("X, 1/250", 1.5e-3, 4e-3),
         ("X, 1/400", 2e-3, 2.6e-3))  # fmt: skip
SNRS_DB = (60, 45, 37)
NAMES = (*PARTS, "to closing", "dwell")


@dataclass
class Cell:
    """Errors and stated u in us, and whether the interval held, shape (n, 6) in the order of `NAMES`."""

    errors: list[list[float]] = field(default_factory=list)
    u: list[list[float]] = field(default_factory=list)
    held: list[list[bool]] = field(default_factory=list)
    n_fired: int = 0
    n_miscounted: int = 0


def sweep(make_s: float, hold_s: float, snr_db: int, seeds: range) -> Cell:
    """Simulate and measure; skew, lag and bend are drawn from what the budget states."""
    cell = Cell()
    for seed in seeds:
        rng = np.random.default_rng([seed, round(1e6 * abs(make_s)), round(1e6 * hold_s), snr_db])
        scene = simulate.drawn(make_s, hold_s, snr_db, UNSEEN, rng, 1)
        result, truths = _measured(scene, seed)
        cell.n_fired += len(truths)
        for firing in result.firings if result else ():
            _add(cell, firing, min(truths, key=lambda t: abs(t.rise_s[0.5] - firing.at_s)))
    return cell


def _measured(scene: simulate.Scene, seed: int) -> tuple[Measured | None, tuple[Truth, ...]]:
    """What was made of a scene."""
    samples, truths = simulate.recording(scene, seed)
    try:
        return measure(Waveform(samples.astype(np.float32), scene.card.rate_hz, scene.card.bits)), truths
    except NotMeasurable:
        return None, truths


def _add(cell: Cell, firing: Firing, truth: Truth) -> None:
    """One firing against its truth."""
    if firing.to_closing is None or firing.dwell is None:
        return
    assert truth.make_s is not None
    assert truth.break_s is not None
    pairs = [(firing.delay(name), truth.make_s - truth.rise_s[part]) for name, part in PARTS.items()]
    pairs += [(firing.to_closing, truth.fall_s[0.95] - truth.make_s), (firing.dwell, truth.break_s - truth.make_s)]
    cell.errors.append([1e6 * (quantity.value - true) for quantity, true in pairs])
    cell.u.append([1e6 * quantity.u for quantity, _ in pairs])
    cell.held.append([quantity.interval[0] <= true <= quantity.interval[1] for quantity, true in pairs])
    cell.n_miscounted += firing.n_bounces != truth.n_gaps


def accuracy(n: int) -> None:
    """A table of bias, rms, mean u and coverage; one firing a recording, so that all of them are independent."""
    print(f"A cell of {n}: the part held is uncertain by {100 * math.sqrt(0.05 * 0.95 / n):.1f} % (binomial, k = 1).\n")
    print(
        "| contact, speed | SNR dB | firings (refused) | "
        + " | ".join(f"{q} [µs]" for q in NAMES)
        + " | bounces miscounted |"
    )
    print("|---" * (4 + len(NAMES)) + "|")
    pooled = []
    for words, make_s, hold_s in CASES:
        for snr_db in SNRS_DB:
            cell = sweep(make_s, hold_s, snr_db, range(n))
            errors, u, held = np.array(cell.errors), np.array(cell.u), np.array(cell.held)
            pooled.append(held)
            columns = [
                f"{errors[:, i].mean():+.1f}, {np.sqrt(np.mean(errors[:, i] ** 2)):.1f}, {u[:, i].mean():.1f},"
                f" {100 * held[:, i].mean():.0f} %"
                for i in range(len(NAMES))
            ]
            counts = f"{len(errors)} ({cell.n_fired - len(errors)})"
            print(f"| {words} | {snr_db} | {counts} | " + " | ".join(columns) + f" | {cell.n_miscounted} |", flush=True)
    every = np.concatenate(pooled)
    print(f"\nPooled over {len(every)} firings, held: " + ", ".join(
        f"{name} {100 * every[:, i].mean():.1f} %" for i, name in enumerate(NAMES)
    ))  # fmt: skip


def verdicts(n: int) -> None:
    """How often a decided verdict on electronic flash is wrong, for contacts about the limits."""
    wrong = undecided = decided = 0
    for seed in range(n):
        rng = np.random.default_rng([seed, 99])
        make_s, hold_s = rng.uniform(1.0e-3, 6e-3), rng.uniform(4e-3, 8e-3)
        result, truths = _measured(simulate.drawn(make_s, hold_s, int(rng.uniform(38, 60)), UNSEEN, rng), seed)
        if result is None:
            continue
        judged = [(i, verdict) for one in judge(result, Setup(), ())
                  for i, verdict in zip(one.i_firings, one.lights[0].singles, strict=True)]  # fmt: skip
        for i, verdict in judged:
            firing = result.firings[i]
            truth = min(truths, key=lambda t: abs(t.rise_s[0.5] - firing.at_s))
            assert truth.make_s is not None
            is_usable = truth.rise_s[0.95] <= truth.make_s <= truth.fall_s[0.95] - FLASH_S
            if verdict.word == "undecided":
                undecided += 1
            else:
                decided += 1
                wrong += (verdict.word == "within") != is_usable
    print(f"Usable for electronic flash, makes drawn about the limits: {decided} decided, {wrong} of them wrong,"
          f" {undecided} undecided")  # fmt: skip


def throughput() -> None:
    """Time of measuring one recording."""
    scene = simulate.example(1)
    samples, _ = simulate.recording(scene, 1)
    waveform = Waveform(samples.astype(np.float32), scene.card.rate_hz, scene.card.bits)
    start = time.process_time()
    measure(waveform)
    spent_s = time.process_time() - start
    print(f"{waveform.duration_s:.0f} s of stereo with 6 firings: {spent_s:.2f} s of processor time")


def main(n: int = 300) -> None:
    """All tables: bias, rms, mean u, held."""
    accuracy(n)
    print()
    verdicts(n)
    throughput()
