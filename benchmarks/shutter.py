"""Leaf shutter by light: accuracy and honesty over speed and noise."""

import math
from dataclasses import dataclass, replace

import numpy as np

from camerawright.bench.shutter import simulate
from camerawright.bench.shutter.budget import U_CLOCK
from camerawright.bench.shutter.measure import measure
from camerawright.bench.shutter.record import Firing
from camerawright.bench.shutter.simulate import Disturbance, Truth, Unseen
from camerawright.handbook.light_sensors import CALIBRATED, PHOTODIODE, Sensor
from camerawright.quantity import Quantity
from camerawright.recordings.sound import Waveform
from camerawright.trouble import NotMeasurable

SPEEDS = (1, 2, 8, 30, 60, 125, 250, 500)
SNRS_DB = (60, 40, 30)
DISTURBED = Disturbance(pink=0.003, hum=0.003, thump=0.03, n_thumps=4, flicker=0.005)
_SLOW = 8  # one firing in a recording below, two from there on
QUANTITIES = ("total", "half-peak", "effective")


@dataclass
class Cell:
    """Errors in stops, and whether the 95 % interval held the truth, shape (n, 3) in the order of `QUANTITIES`."""

    errors: list[list[float]]
    held: list[list[bool]]
    u: list[list[float]]
    n_fired: int = 0
    n_flagged: int = 0


def sweep(
    time_s: float, snr_db: float, seeds: range, sensor: Sensor = PHOTODIODE, disturbance: Disturbance | None = None
) -> Cell:
    """Simulate and measure; what the sensor and the clock hide is drawn from what the budget states."""
    cell = Cell([], [], [])
    for seed in seeds:
        rng = np.random.default_rng([seed, round(1e6 * time_s), round(snr_db)])
        unseen = Unseen(sensor.u_lag_s, sensor.u_bend, U_CLOCK)
        scene = simulate.drawn(time_s, snr_db, unseen, rng, 1 if time_s * _SLOW > 1 else 2)
        if disturbance is not None:
            scene = replace(scene, disturbance=replace(disturbance, noise=scene.disturbance.noise))
        samples, truths = simulate.recording(scene, seed)
        cell.n_fired += len(truths)
        waveform = Waveform(samples.astype(np.float32), scene.card.rate_hz, scene.card.bits)
        try:
            result = measure(waveform, sensor=sensor)
        except NotMeasurable:
            continue
        for firing in result.firings:
            cell.n_flagged += bool(firing.flags or result.flags)
            add(cell, firing, min(truths, key=lambda truth: abs(truth.at_s - firing.at_s - truth.half_peak_s / 2)))
    return cell


def add(cell: Cell, firing: Firing, truth: Truth) -> None:
    """One firing against its truth."""
    effective_s = truth.effective_s if firing.has_plateau else truth.effective_own_peak_s
    pairs: list[tuple[Quantity, float]] = [
        (firing.total, truth.total_s),
        (firing.half_peak, truth.half_peak_s),
        (firing.effective, effective_s),
    ]
    cell.errors.append([math.log2(quantity.value / true) for quantity, true in pairs])
    cell.held.append([quantity.interval[0] <= true <= quantity.interval[1] for quantity, true in pairs])
    cell.u.append([quantity.u / true / math.log(2) for quantity, true in pairs])


def accuracy(
    n: int, n_slow: int, sensor: Sensor, disturbance: Disturbance | None = None, snrs_db: tuple[int, ...] = SNRS_DB
) -> None:
    """A table of bias, rms, mean u and coverage for each speed and noise."""
    print(
        "| SNR dB | speed | firings (refused) | "
        + " | ".join(f"{q} bias, rms, u [mstop], held" for q in QUANTITIES)
        + " |"
    )
    print("|---|---|---|---|---|---|")
    pooled = []
    for snr_db in snrs_db:
        for speed in SPEEDS:
            cell = sweep(1 / speed, snr_db, range(n_slow if speed < _SLOW else n), sensor, disturbance)
            if not cell.errors:
                print(f"| {snr_db} | 1/{speed} | 0 ({cell.n_fired}) | | | |")
                continue
            errors, held, u = np.array(cell.errors) * 1e3, np.array(cell.held), np.array(cell.u) * 1e3
            pooled.append(held)
            columns = [
                f"{errors[:, i].mean():+.2f}, {np.sqrt(np.mean(errors[:, i] ** 2)):.2f}, {u[:, i].mean():.2f},"
                f" {100 * held[:, i].mean():.0f} %"
                for i in range(3)
            ]
            refused = cell.n_fired - len(errors)
            print(f"| {snr_db} | 1/{speed} | {len(errors)} ({refused}) | " + " | ".join(columns) + " |", flush=True)
    every = np.concatenate(pooled)
    print(f"\nPooled over {len(every)} firings, held: " + ", ".join(
        f"{q} {100 * every[:, i].mean():.1f} %" for i, q in enumerate(QUANTITIES)
    ))  # fmt: skip


def worst(n: int) -> None:
    """The errors of `n` firings on a disturbed bench at 40 dB, any speed; what is flagged apart from what is not."""
    errors: dict[bool, list[float]] = {False: [], True: []}
    unseen = Unseen(PHOTODIODE.u_lag_s, PHOTODIODE.u_bend, U_CLOCK)
    for seed in range(n):
        rng = np.random.default_rng([5, seed])
        scene = simulate.drawn(2.0 ** -rng.uniform(1, 9), 40, unseen, rng, 2)
        scene = replace(scene, disturbance=replace(DISTURBED, noise=scene.disturbance.noise))
        samples, truths = simulate.recording(scene, seed)
        try:
            result = measure(Waveform(samples.astype(np.float32), scene.card.rate_hz, scene.card.bits))
        except NotMeasurable:
            continue
        cell = Cell([], [], [])
        for firing in result.firings[:1]:
            add(cell, firing, min(truths, key=lambda truth: abs(truth.at_s - firing.at_s - truth.half_peak_s / 2)))
            own_peak = [flag for flag in firing.flags if "own peak" not in flag]
            errors[bool(own_peak or result.flags)].append(cell.errors[-1][2])
    told = [
        f"{len(found)} {name}, rms {np.sqrt(np.mean(np.square(found))):.4f}, worst {np.max(np.abs(found)):.3f} stop"
        for name, found in (("not flagged", errors[False]), ("flagged", errors[True]))
        if found
    ]
    print(f"Effective time, {n} recordings, 1/2 to 1/512 at 40 dB, disturbed as above: " + "; ".join(told))


def main(n: int = 500, n_slow: int = 800) -> None:
    """All tables: what is held is known to 0.7 % in a cell."""
    print("Sensor of the class photodiode, white noise\n")
    accuracy(n, n_slow, PHOTODIODE)
    print("\nCalibrated sensor, white noise\n")
    accuracy(n, n_slow, CALIBRATED)
    print("\nPhotodiode; pink noise 0.3 %, hum 0.3 %, thumps of 3 %, flicker 0.5 %\n")
    accuracy(n, n_slow, PHOTODIODE, DISTURBED, (60, 40))
    print()
    worst(2 * n)
