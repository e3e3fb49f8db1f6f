"""Focal plane by light: accuracy and honesty over speed, noise and sensors, at the sensors and along the gate."""

import math
import time
from collections import defaultdict
from dataclasses import replace

import numpy as np

from camerawright.bench.curtains import simulate
from camerawright.bench.curtains.budget import U_CLOCK, U_LAMP, U_SKEW
from camerawright.bench.curtains.gate import U_AT_MM, Gate
from camerawright.bench.curtains.measure import measure
from camerawright.bench.curtains.record import Firing
from camerawright.bench.curtains.sensors import of_class
from camerawright.bench.curtains.simulate import Scene, Truth, Unseen
from camerawright.handbook.light_sensors import CALIBRATED, PHOTODIODE, Sensor
from camerawright.quantity import Quantity
from camerawright.recordings.sound import Waveform
from camerawright.trouble import NotMeasurable

QUANTITIES = ("exposure", "between", "later", "across", "slit", "uneven", "inside", "beyond", "gate")
"""What is compared: exposure at a sensor, a curtain's time between the outer sensors, by how much longer the second
takes, a curtain's time across the gate, slit, unevenness at the sensors, exposure between and beyond the sensors,
unevenness over the gate."""

HELD = (0.93, 0.98)
"""How often an interval of 95 % may hold the truth."""

_FRESH = 3  # a cell outside is drawn again, with so many times the recordings: it may have been chance

Cell = dict[str, list[tuple[float, float, bool]]]
"""For each quantity the relative error, the relative u, and whether the 95 % interval held the truth."""


def unseen(sensor: Sensor) -> Unseen:
    """What no recording shows, spread as the budget states."""
    return Unseen(sensor.u_lag_s, sensor.u_lag_s, sensor.u_bend, U_CLOCK, U_SKEW, U_AT_MM, U_LAMP)


def sweep(
    exposure_s: float,
    snr_db: float,
    seeds: range,
    diameters_mm: tuple[float, ...],
    sensor: Sensor = PHOTODIODE,
    slow_s: float | None = None,
    disturbance: tuple[float, float] = (0.0, 0.0),
) -> tuple[Cell, int, int]:
    """Simulate and measure; what is hidden is drawn from what the budget states. Also how many fired, how many told.

    One firing a recording counts, so that firings are independent.
    """
    cell: Cell = defaultdict(list)
    n_fired = n_told = 0
    for seed in seeds:
        rng = np.random.default_rng([seed, round(1e6 * exposure_s), round(snr_db), len(diameters_mm)])
        scene = simulate.drawn(exposure_s, snr_db, unseen(sensor), rng, diameters_mm=diameters_mm, slow_s=slow_s)
        scene = replace(scene, pink=disturbance[0], hum=disturbance[1])
        samples, truths = simulate.recording(scene, seed)
        truths = tuple(one for one in truths[1 if slow_s else 0 :] if min(one.exposure_s) > 0)  # not those capped there
        n_fired += len(truths)
        waveform = Waveform(samples.astype(np.float32), scene.rate_hz, scene.bits)
        try:
            result = measure(
                waveform, Gate(scene.gate_mm, scene.at_mm, diameters_mm, U_AT_MM), sensors=of_class(sensor)
            )
        except NotMeasurable:
            continue
        for truth in truths:
            firing = min(result.firings, key=lambda one: abs(one.at_s - truth.first_s[0]))
            if abs(firing.at_s - truth.first_s[0]) < 0.1 and not firing.dark_mm:
                n_told += 1
                add(cell, firing, truth, scene)
    return cell, n_fired, n_told


def add(cell: Cell, firing: Firing, truth: Truth, scene: Scene) -> None:
    """One firing against its truth."""

    def put(name: str, quantity: Quantity, true: float, scale: float) -> None:
        low, high = quantity.interval
        cell[name].append(((quantity.value - true) / scale, quantity.u / scale, low <= true <= high))

    for k, one in enumerate(firing.sensors):
        true = truth.exposure_s[k]
        put("exposure", one.exposure, true, true)
        if one.slit is not None:
            put("slit", one.slit, truth.slit_mm[k], truth.slit_mm[k])
    times = (np.array(truth.first_s), np.array(truth.second_s))
    for curtain, own, passed in zip((firing.first, firing.second), (scene.first, scene.second), times, strict=True):
        put("between", curtain.between, float(np.ptp(passed)), float(np.ptp(passed)))
        put("across", curtain.across, own.gate_s, own.gate_s)
    put("later", firing.later, float(np.ptp(times[1]) - np.ptp(times[0])), float(np.ptp(times[0])))
    extremes = [math.log2(x) for x in truth.exposure_s]
    measured = [one.exposure.value for one in firing.sensors]
    low, high = int(np.argmin(measured)), int(np.argmax(measured))
    put("uneven", firing.uneven, extremes[high] - extremes[low], 1 / math.log(2))
    for x, point in zip(firing.along.at_mm, firing.along.points, strict=True):
        true = float(np.interp(x, truth.along_mm, truth.along_s))
        inside = scene.at_mm[0] <= x <= scene.at_mm[-1]
        if true > 0:  # a place that gets no light has no relative error
            put("inside" if inside else "beyond", point, true, true)
    ends = np.interp(firing.along.at_mm, truth.along_mm, truth.along_s)
    if firing.uneven_gate is not None and ends.min() > 0:
        put("gate", firing.uneven_gate, math.log2(ends.max() / ends.min()), 1 / math.log(2))


def table(n: int, title: str, cells: list[tuple[str, dict[str, object]]]) -> None:
    """A table of rms, mean u and coverage for each cell."""
    se = 100 * math.sqrt(0.95 * 0.05 / n)
    print(
        f"\n### {title}\n\n{n} recordings of one firing a cell: *held* is uncertain by {se:.1f} % (binomial, k = 1).\n"
    )
    print("| cell | firings (told) | " + " | ".join(f"{q}: rms, u [%], held" for q in QUANTITIES) + " |")
    print("|---|---|" + "---|" * len(QUANTITIES))
    pooled: dict[str, list[bool]] = defaultdict(list)
    again = []
    for name, how in cells:
        cell, n_fired, n_told = sweep(seeds=range(n), **how)  # type: ignore[arg-type]
        outside = []
        columns = []
        for quantity in QUANTITIES:
            if not cell[quantity]:
                columns.append("")
                continue
            errors, u, held = (np.array(column, dtype=float) for column in zip(*cell[quantity], strict=True))
            pooled[quantity].extend(held.astype(bool))
            rms, mean_u = (100 * float(np.sqrt(np.mean(column**2))) for column in (errors, u))
            columns.append(f"{rms:.2f}, {mean_u:.2f}, {100 * held.mean():.1f} %")
            if not HELD[0] <= held.mean() <= HELD[1]:
                outside.append(quantity)
        print(f"| {name} | {n_fired} ({n_told}) | " + " | ".join(columns) + " |", flush=True)
        if outside:
            cell, *_ = sweep(seeds=range(n, n + _FRESH * n), **how)  # type: ignore[arg-type]
            again += [f"{q}, {name}: {100 * np.mean([held for *_, held in cell[q]]):.1f} %" for q in outside]
    print("\nPooled, held: " + ", ".join(f"{q} {100 * np.mean(pooled[q]):.1f} %" for q in QUANTITIES if pooled[q]))
    print(
        f"\nOutside 93 to 98 % and drawn again, {_FRESH * n} fresh recordings: {'; '.join(again) or 'none'}", flush=True
    )


def main(n: int = 250) -> None:
    """All tables; an exposure error of 2.1 % is 0.03 stop."""
    three = (1.0, 1.0, 1.0)
    table(
        n,
        "Three sensors of 1 mm, class photodiode, white noise",
        [
            (f"1/{speed}, {snr_db} dB", {"exposure_s": 1 / speed, "snr_db": snr_db, "diameters_mm": three})
            for snr_db in (60, 40, 30)
            for speed in (30, 125, 500, 1000)
        ],
    )
    wide = (1.0, 2.0, 1.5)
    table(
        n,
        "Three sensors of 1, 2 and 1.5 mm; 1/2000 and 1/4000 with a firing at 1/30 beside them",
        [
            (
                f"1/{speed}, {snr_db} dB",
                {
                    "exposure_s": 1 / speed,
                    "snr_db": snr_db,
                    "diameters_mm": wide,
                    "slow_s": 1 / 30 if speed > 1000 else None,
                },
            )
            for snr_db in (60, 40)
            for speed in (500, 1000, 2000, 4000)
        ],
    )
    table(
        n,
        "Calibrated sensors of 1 mm, 1/1000",
        [
            (
                f"1/1000, {snr_db} dB",
                {"exposure_s": 1e-3, "snr_db": snr_db, "diameters_mm": three, "sensor": CALIBRATED},
            )
            for snr_db in (60, 40, 30)
        ],
    )
    table(
        n,
        "Two sensors of 1 mm; and three with pink noise and hum of 0.3 % each",
        [
            ("two, 1/1000, 40 dB", {"exposure_s": 1e-3, "snr_db": 40, "diameters_mm": (1.0, 1.0)}),
            (
                "three, 1/1000, 40 dB, pink, hum",
                {"exposure_s": 1e-3, "snr_db": 40, "diameters_mm": three, "disturbance": (0.003, 0.003)},
            ),
            (
                "three, 1/125, 40 dB, pink, hum",
                {"exposure_s": 1 / 125, "snr_db": 40, "diameters_mm": three, "disturbance": (0.003, 0.003)},
            ),
        ],
    )
    throughput()


def throughput() -> None:
    """Time of measuring a recording of three channels."""
    scene = simulate.with_delays(simulate.Scene(()), (2e-3,) * 40)
    samples, _ = simulate.recording(replace(scene, gap_s=2.0), 1)
    waveform = Waveform(samples.astype(np.float32), 48_000.0, 16)
    start = time.process_time()
    result = measure(waveform, Gate(scene.gate_mm, scene.at_mm, (1.0, 1.0, 1.0)))
    spent_s = time.process_time() - start
    n = len(result.firings)
    print(
        f"\n{waveform.duration_s:.0f} s of 48 kHz in three channels with {n} firings: {spent_s:.1f} s of one processor,"
        f" {waveform.duration_s / spent_s:.0f} x real time, {1e3 * spent_s / n:.0f} ms a firing"
    )
