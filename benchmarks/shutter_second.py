"""Leaf shutter by light, on the second simulator (tests/bench/second_leaf_shutter.py): accuracy and honesty."""

import math
from collections.abc import Callable
from dataclasses import dataclass, field, replace

import numpy as np
from tests.bench.second_leaf_shutter import Bench, Sensor, Shutter, recording

from camerawright.bench.sensor_lag import with_lag
from camerawright.bench.shutter.measure import measure
from camerawright.handbook.light_sensors import sensor_named
from camerawright.recordings.sound import simulated
from camerawright.trouble import NotMeasurable

SPEEDS = (500, 125, 30, 8)
FAST = Shutter(open_s=1.0e-3, close_s=1.2e-3)
QUICKEST_OF_SLOW_BLADES_S = 1 / 200


@dataclass
class Cell:
    """Errors and stated u in stops, and whether the 95 % interval held the truth: half-peak and effective."""

    errors: list[tuple[float, ...]] = field(default_factory=list)
    u: list[tuple[float, ...]] = field(default_factory=list)
    held: list[tuple[bool, ...]] = field(default_factory=list)
    n_refused: int = 0
    n_flagged: int = 0


def photodiode(rng: np.random.Generator) -> Sensor:
    """A junction of 50 to 500 pF on 10 to 20 kΩ: rise and fall lag alike."""
    return Sensor(lag_s=float(np.exp(rng.uniform(np.log(0.5e-6), np.log(10e-6)))))


def phototransistor(rng: np.random.Generator) -> Sensor:
    """Slow, and slower where there is less light."""
    return Sensor(kind="phototransistor", lag_s=rng.uniform(5e-6, 60e-6))


def cell(rng: np.random.Generator) -> Sensor:
    """From hardly bent to nearly saturated."""
    return Sensor(kind="cell", lag_s=10e-6, forward_v=rng.uniform(0.1, 0.5))


def sweep(speed: int, n: int, told: str | None, drawn: Callable[[np.random.Generator], Sensor], bench: Bench) -> Cell:
    """Simulate and measure so many recordings of two firings."""
    out = Cell()
    for seed in range(n):
        rng = np.random.default_rng([seed, speed])
        corners: tuple[float, ...] = (rng.uniform(3, 16),)
        if rng.uniform() < 0.5:
            corners = (*corners, rng.uniform(0.3, 2))
        time_s = 2 ** rng.normal(0, 0.1) / speed
        made = replace(
            bench,
            shutter=FAST if time_s < QUICKEST_OF_SLOW_BLADES_S else Shutter(n_blades=int(rng.integers(3, 6))),
            sensor=drawn(rng), corners_hz=corners, plateau=rng.uniform(0.1, 0.6),
        )  # fmt: skip
        samples, truths = recording(made, [time_s, time_s], seed)
        samples, clock = samples * rng.choice([-1, 1]), 1 + rng.normal(0, 50e-6)
        sensor = sensor_named(told)
        if told == "calibrated":  # its lag as a set-up check measured it; that of the circuit is none
            sensor = with_lag(sensor, f"{rng.normal(0, 0.5):.3f} ± 1")
        try:
            found = measure(simulated(np.asarray(samples, np.float32), made.rate_hz, made.bits), sensor=sensor)
        except NotMeasurable:
            out.n_refused += 2
            continue
        out.n_refused += 2 - len(found.firings)
        for firing in found.firings:
            truth = min(truths, key=lambda each: abs(each.at_s - firing.at_s))
            pairs = ((firing.half_peak, truth.half_peak_s * clock), (firing.effective, truth.effective_s * clock))
            out.errors.append(tuple(math.log2(one.value / true) for one, true in pairs))
            out.u.append(tuple(one.u / true / math.log(2) for one, true in pairs))
            out.held.append(tuple(one.interval[0] <= true <= one.interval[1] for one, true in pairs))
            out.n_flagged += bool(firing.flags or found.flags)
    return out


def table(name: str, n: int, told: str | None, drawn: Callable[[np.random.Generator], Sensor], bench: Bench) -> None:
    """A row for each speed."""
    for speed in SPEEDS:
        found = sweep(speed, n, told, drawn, bench)
        errors, u, held = (np.array(each, float) for each in (found.errors, found.u, found.held))
        columns = [
            f"{1e3 * errors[:, i].mean():+.2f}, {1e3 * np.sqrt(np.mean(errors[:, i] ** 2)):.2f},"
            f" {1e3 * u[:, i].mean():.2f}, {100 * held[:, i].mean():.1f} %"
            for i in range(2)
        ]
        counted = f"{len(errors)} ({found.n_refused}, {found.n_flagged})"
        print(f"| {name} | 1/{speed} | {counted} | " + " | ".join(columns) + " |", flush=True)


def main(n: int = 500) -> None:
    """The table of docs/accuracy/shutter.md; what is held is known to 0.7 % in a cell."""
    head = (
        "bench", "speed", "firings (refused, flagged)", "half-peak bias, rms, u [mstop], held",
        "effective bias, rms, u [mstop], held",
    )  # fmt: skip
    print("| " + " | ".join(head) + " |\n|---|---|---|---|---|")
    quiet = Bench(is_pink=False, hum=0.0, snr_db=45)
    for snr_db in (45, 30):
        table(
            f"calibrated with its lag, white noise {snr_db} dB",
            n,
            "calibrated",
            photodiode,
            replace(quiet, snr_db=snr_db),
        )
    table("the same, a third 1/f noise, and hum, 45 dB", n, "calibrated", photodiode, Bench(snr_db=45))
    table("phototransistor, told so, 45 dB", n, "phototransistor", phototransistor, quiet)
    table("solar cell, told so, 45 dB", n, "solar cell", cell, quiet)
    table("solar cell, nothing told, 45 dB", n, None, cell, quiet)
