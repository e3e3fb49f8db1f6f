"""Focal plane by light, on the second simulator (tests/bench/second_curtain_simulator.py): accuracy and honesty."""

import math
import sys
from collections import defaultdict
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np
from tests.bench.second_curtain_simulator import Bench, Curtain, Sensor, Truth, recording

from camerawright.bench.curtains.gate import U_AT_MM, gate_of
from camerawright.bench.curtains.measure import measure
from camerawright.bench.curtains.record import Firing
from camerawright.bench.curtains.sensors import sensors_told
from camerawright.quantity import Quantity
from camerawright.recordings.sound import simulated
from camerawright.trouble import NotMeasurable

QUANTITIES = ("exposure", "between", "later", "uneven", "across", "inside", "beyond")
AT_MM = (2.0, 18.0, 34.0)
MEASURED = "as checked"
"""A lag that a set-up check measured: 95 % within 0.5 µs of the true one, which is none for one RC."""


@dataclass
class Cell:
    """By quantity, the relative error, the relative u and whether the interval held; and the firings."""

    rows: dict[str, list[tuple[float, float, bool]]] = field(default_factory=lambda: defaultdict(list))
    n_told: int = 0
    n_refused: int = 0
    n_flagged: int = 0

    def put(self, name: str, quantity: Quantity, true: float, scale: float) -> None:
        """One figure against its truth."""
        low, high = quantity.interval
        self.rows[name].append(((quantity.value - true) / scale, quantity.u / scale, low <= true <= high))

    def held(self, name: str) -> float:
        """How often the interval of a quantity held."""
        return float(np.mean([row[2] for row in self.rows[name]]))


@dataclass(frozen=True, kw_only=True)
class Told:
    """What the test is told."""

    sensor: str | None = "photodiode"
    lag_us: str | None = None
    alike: str | None = None
    diameter: str | None = "1"


Drawn = Callable[[np.random.Generator], Sensor]


def photodiode(rng: np.random.Generator) -> Sensor:
    """A junction on 1 to 10 kΩ: one RC, and a little that diffuses late."""
    lag_s = float(np.exp(rng.uniform(np.log(0.5e-6), np.log(10e-6))))
    return Sensor(lag_s=lag_s, tail=rng.uniform(0, 0.05), tail_s=rng.uniform(5e-6, 30e-6))


def quick(rng: np.random.Generator) -> Sensor:
    """A small photodiode, as whoever checks a set-up uses: 0.5 to 5 µs."""
    return Sensor(lag_s=rng.uniform(0.5e-6, 5e-6))


def phototransistor(rng: np.random.Generator) -> Sensor:
    """Slow, and slower where there is less light."""
    return Sensor(kind="phototransistor", lag_s=rng.uniform(5e-6, 60e-6))


def solar_cell(rng: np.random.Generator) -> Sensor:
    """From hardly bent to nearly saturated."""
    return Sensor(kind="solar cell", lag_s=rng.uniform(3e-6, 30e-6), forward_v=rng.uniform(0.1, 0.5))


def shutter(rng: np.random.Generator) -> tuple[Curtain, Curtain]:
    """Two curtains of one make: the second a little slower or faster, and each rubs and catches in its own way."""
    first = Curtain(
        across_s=rng.uniform(0.008, 0.014), run_up=rng.uniform(0.14, 0.28), slackens=rng.uniform(0.1, 0.4),
        air=rng.uniform(0, 0.1), winds=rng.uniform(0, 0.2),
    )  # fmt: skip
    rubs = rng.uniform(0.05, 0.2)

    def own(curtain: Curtain) -> Curtain:
        more = {"rubs": rubs + rng.normal(0, 0.02), "catches": rng.uniform(0, 1), "catch": abs(rng.normal(0, 0.05))}
        return replace(curtain, **more)

    return own(first), own(replace(first, across_s=first.across_s * (1 + rng.normal(0, 0.02))))


def bench(rng: np.random.Generator, drawn: Drawn, *, alike: bool, plain: Bench) -> Bench:
    """A set-up: lamp, tilt, card and sensors; `alike` are of one make, values within 10 %, on one card."""
    one = drawn(rng)
    sensors = [replace(one, lag_s=one.lag_s * rng.uniform(0.9, 1.1)) if alike else drawn(rng) for _ in range(3)]
    near = rng.uniform(0.5, 1.5)
    corners = (rng.uniform(3, 16), *((rng.uniform(0.3, 2),) if rng.uniform() < 0.5 else ()))
    return replace(
        plain,
        at_mm=tuple(x + rng.uniform(-1, 1) * U_AT_MM * math.sqrt(3) for x in AT_MM),
        sensors=tuple(
            replace(each, diameter_mm=was.diameter_mm, is_inverted=bool(rng.integers(2)))
            for each, was in zip(sensors, plain.sensors, strict=True)
        ),
        lamp=("disc", "square", "ring")[rng.integers(3)],
        lamp_mm=rng.uniform(4, 25),
        lamp_off_mm=rng.uniform(-15, 15),
        heights_mm=(near, near + rng.uniform(0.3, 0.8)),
        edge_deg=(rng.normal(0, 0.3), rng.normal(0, 0.3)),
        off_row_mm=tuple(rng.normal(0, 0.2, 3)),
        tilt_deg=rng.normal(0, 1),
        corners_hz=plain.corners_hz or corners,
        level=rng.uniform(0.1, 0.5),
        skews=(0.0, 0.0, 0.0) if alike else tuple(rng.uniform(-0.5, 0.5, 3)),
        clock=1 + rng.normal(0, 50e-6),
        wobble=5e-6,
    )  # fmt: skip


PLAIN = Bench(corners_hz=(), white=0.0045, pink=0.002)
"""45 dB of white noise with a third as much power of 1/f beside it; the couplings are drawn."""


def sweep(speed: int, seeds: range, told: Told, drawn: Drawn, *, alike: bool = False, plain: Bench = PLAIN) -> Cell:
    """Simulate and measure: a firing at 1/60, and one that counts."""
    cell = Cell()
    for seed in seeds:
        rng = np.random.default_rng([seed, speed])
        curtains = shutter(rng)
        made = bench(rng, drawn, alike=alike, plain=plain)
        samples, truths = recording(made, curtains, [1 / 60, 2 ** rng.normal(0, 0.1) / speed], seed)
        lag_us = f"{rng.normal(0, 0.25):.3f} ± 0.5" if told.lag_us == MEASURED else told.lag_us
        sensors = sensors_told(told.sensor, lag_us, told.alike)
        if truths[1].exposure_s.min() <= 0:
            continue
        try:
            found = measure(
                simulated(np.asarray(samples, np.float32), made.rate_hz, made.bits),
                gate_of(3, None, None, told.diameter, None),
                sensors=sensors,
            )
        except NotMeasurable:
            cell.n_refused += 1
            continue
        firing = min(found.firings, key=lambda one: abs(one.at_s - truths[1].at_s))
        if abs(firing.at_s - truths[1].at_s) > 0.05 or firing.dark_mm:
            cell.n_refused += 1
            continue
        cell.n_told += 1
        cell.n_flagged += bool(firing.flags or found.flags)
        add(cell, firing, truths[1])
    return cell


def add(cell: Cell, firing: Firing, truth: Truth) -> None:
    """One firing against its truth."""
    for one, true in zip(firing.sensors, truth.exposure_s, strict=True):
        cell.put("exposure", one.exposure, true, true)
    for curtain, passed, across in zip(
        (firing.first, firing.second), (truth.first_s, truth.second_s), truth.across_s, strict=True
    ):
        cell.put("between", curtain.between, float(np.ptp(passed)), float(np.ptp(passed)))
        cell.put("across", curtain.across, across, across)
    later = float(np.ptp(truth.second_s) - np.ptp(truth.first_s))
    cell.put("later", firing.later, later, float(np.ptp(truth.first_s)))
    seen = [one.exposure.value for one in firing.sensors]
    low, high = int(np.argmin(seen)), int(np.argmax(seen))
    cell.put("uneven", firing.uneven, math.log2(truth.exposure_s[high] / truth.exposure_s[low]), 1 / math.log(2))
    for x, point, true in zip(firing.along.at_mm, firing.along.points, truth.along_s, strict=True):
        if true > 0:
            cell.put("inside" if AT_MM[0] <= x <= AT_MM[-1] else "beyond", point, float(true), float(true))


def with_diameters(*diameters_mm: float) -> Bench:
    """The plain bench with sensors of these diameters."""
    return replace(PLAIN, sensors=tuple(Sensor(diameter_mm=one) for one in diameters_mm))


CHECKED = Told(sensor="calibrated", lag_us=MEASURED, alike="both")
CELLS: dict[str, tuple[int, Told, Drawn, dict[str, Any]]] = {
    f"{name}, 1/{speed}": (speed, told, drawn, how)
    for name, speeds, told, drawn, how in (
        ("photodiodes, each its own, told so", (1000, 125), Told(), photodiode, {}),
        ("the same, nothing told", (1000,), Told(sensor=None, diameter=None), photodiode, {}),
        ("quick photodiodes of one make, one card, class alone told", (1000,), Told(), quick, {"alike": True}),
        ("the same, told to be alike", (1000,), Told(alike="both"), quick, {"alike": True}),
        ("the same, calibrated, told to be alike", (1000,), Told(sensor="calibrated", alike="both"), quick,
         {"alike": True}),
        ("the same, calibrated with their lag, told to be alike", (1000, 125), CHECKED, quick, {"alike": True}),
        ("phototransistors, told so", (1000, 125), Told(sensor="phototransistor"), phototransistor, {}),
        ("phototransistors, nothing told", (1000,), Told(sensor=None, diameter=None), phototransistor, {}),
        ("phototransistors of one make, told to be alike", (1000,), Told(sensor="phototransistor", alike="both"),
         phototransistor, {"alike": True}),
        ("solar cells, told so", (1000, 125), Told(sensor="solar cell"), solar_cell, {}),
        ("solar cells, nothing told", (1000,), Told(sensor=None, diameter=None), solar_cell, {}),
        ("photodiodes of 2.7 mm, diameter not told", (500,), Told(diameter=None), photodiode,
         {"plain": with_diameters(2.7, 2.7, 2.7)}),
        ("photodiodes of 1, 2.7 and 1.5 mm, not told", (500,), Told(diameter=None), photodiode,
         {"plain": with_diameters(1, 2.7, 1.5)}),
        ("photodiodes, hum of 1 %", (1000,), Told(), photodiode, {"plain": replace(PLAIN, hum=0.01)}),
        ("photodiodes, three poles", (1000,), Told(), photodiode,
         {"plain": replace(PLAIN, corners_hz=(9.0, 4.0, 1.0))}),
    )
    for speed in speeds
}  # fmt: skip


def main(n: int = 500, only: str = "") -> None:
    """The table of docs/accuracy/curtains.md; `only` picks cells by a part of their name."""
    print("| cell | firings (refused, flagged) | " + " | ".join(f"{q}: rms, u [%], held" for q in QUANTITIES) + " |")
    print("|---|---|" + "---|" * len(QUANTITIES))
    for name, (speed, told, drawn, how) in CELLS.items():
        if only not in name:
            continue
        cell = sweep(speed, range(n), told, drawn, **how)
        columns = []
        for quantity in QUANTITIES:
            errors, u, _ = (np.array(column, float) for column in zip(*cell.rows[quantity], strict=True))
            rms, mean_u = (100 * float(np.sqrt(np.mean(column**2))) for column in (errors, u))
            columns.append(f"{rms:.2f}, {mean_u:.2f}, {100 * cell.held(quantity):.1f} %")
        print(
            f"| {name} | {cell.n_told} ({cell.n_refused}, {cell.n_flagged}) | " + " | ".join(columns) + " |", flush=True
        )


if __name__ == "__main__":
    main(int(sys.argv[1]), sys.argv[2] if len(sys.argv) > 2 else "")
