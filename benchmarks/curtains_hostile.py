"""Focal plane by light: recordings made to mislead; a wrong answer must be flagged where it stands, or refused."""

import math
import sys
from collections import Counter
from dataclasses import dataclass, replace

import numpy as np

from camerawright.bench.curtains import simulate
from camerawright.bench.curtains.disturbances import Disturbances
from camerawright.bench.curtains.gate import U_AT_MM, Gate
from camerawright.bench.curtains.measure import measure
from camerawright.bench.curtains.record import AtSensor, Firing, Measured
from camerawright.bench.curtains.simulate import Scene, Truth
from camerawright.handbook.light_sensors import PHOTODIODE
from camerawright.recordings.sound import Waveform
from camerawright.trouble import NotMeasurable

from benchmarks.curtains import unseen  # isort: skip

WRONG_EV, WRONG_TRAVEL = 1 / 3, 0.05
_NO_DOUBT = ("the slit is narrower than what the sensor sees",)  # says how it was measured


@dataclass(frozen=True)
class Hostile:
    """A recording and what its owner says of it: `order` is which detector is plugged into each channel."""

    scene: Scene
    gate: Gate
    order: tuple[int, ...]


def hostile(seed: int) -> Hostile:
    """One recording: a few of many things go wrong, each by a random amount up to far beyond what is tolerable."""
    rng = np.random.default_rng([78, seed])
    severity = rng.uniform() ** 3  # many recordings only a little spoilt: those are answered

    def often(part: float, most: float) -> float:
        return severity * most * rng.uniform() if rng.uniform() < part else 0.0

    n = int(rng.choice([2, 3], p=[0.3, 0.7]))
    diameters = tuple(float(d) for d in rng.uniform(0.8, 2.5, n)) if rng.uniform() < 0.4 else (1.0,) * n
    exposure_s = float(2.0 ** -rng.uniform(*((1, 4) if rng.uniform() < 0.1 else (4, 11))))
    slow_s = 1 / 30 if rng.uniform() < 0.5 else None
    n_firings = int(rng.integers(1, 5))
    scene = simulate.drawn(
        exposure_s, rng.uniform(24, 60), unseen(PHOTODIODE), rng, diameters_mm=diameters, slow_s=slow_s,
        firings=n_firings,
    )  # fmt: skip
    disturbances = Disturbances(
        thump=often(0.3, 1.0), n_thumps=int(rng.integers(1, 8)),
        click=often(0.3, 1.5), n_clicks=int(rng.integers(1, 6)),
        ambient=often(0.3, 1.0), n_steps=int(rng.integers(1, 4)),
        leak=often(0.1, 0.3), gain=1 + rng.choice([-1, 1]) * often(0.2, 0.4),
        limit=1 - often(0.2, 0.9), release_s=float(10 ** rng.uniform(-2.5, 0.3)), bend_back=often(0.15, 0.5),
        dead=int(rng.integers(n)) if rng.uniform() < 0.02 else None,
    )  # fmt: skip
    n_poles = int(rng.choice([1, 2, 3], p=[0.35, 0.5, 0.15]))
    detectors = []
    for one in scene.detectors:
        lag_s = rng.uniform(2e-6, 20e-6) if rng.uniform() < 0.8 else rng.uniform(20e-6, 200e-6)
        detectors.append(replace(
            one,
            corners_hz=(rng.uniform(0.5, 40), rng.uniform(0.1, 5), rng.uniform(0.05, 2))[:n_poles],
            level_fs=float(rng.choice([rng.uniform(0.01, 0.9), rng.uniform(0.9, 2.5)], p=[0.985, 0.015])),
            rise_lag_s=lag_s, fall_lag_s=lag_s * rng.uniform(0.8, 1.3), bend=rng.uniform(-0.03, 0.03),
        ))  # fmt: skip
    stops = {"restitution": float(rng.uniform(0, 0.7) * rng.uniform()), "stop_mm": float(rng.uniform(2, 4))}
    second_s = scene.first.gate_s * (1 + (0.15 if rng.uniform() < 0.3 else 0.02) * rng.standard_normal())  # capping
    scene = replace(
        scene,
        first=replace(scene.first, **stops),
        second=replace(scene.second, gate_s=float(np.clip(second_s, 5e-3, 20e-3)), **stops),
        detectors=tuple(detectors), disturbances=disturbances, bits=int(rng.choice([8, 16, 16, 24])),
        pink=often(0.3, 0.05), hum=often(0.3, 0.1),
        flicker=often(0.25, 0.9), flicker_hz=float(rng.choice([100, 120, 240, 1000])),
        gap_s=float(rng.choice([rng.uniform(0.0, 0.3), rng.uniform(0.3, 1.0)], p=[0.2, 0.8])),
        lead_s=float(rng.uniform(0.05, 0.6)),
        rate_hz=float(rng.choice([22_050, 44_100, 48_000, 96_000], p=[0.1, 0.3, 0.5, 0.1])),
    )  # fmt: skip
    order = tuple(int(i) for i in (rng.permutation(n) if rng.uniform() < 0.08 else np.arange(n)))
    told_mm = [x * (1 + 0.05 * rng.standard_normal()) if rng.uniform() < 0.2 else x for x in scene.at_mm]
    return Hostile(scene, Gate(scene.gate_mm, tuple(map(float, told_mm)), diameters, U_AT_MM), order)


def _is_doubted(firing: Firing, result: Measured, at_mm: float | None = None) -> bool:
    """Whether anything is said against a figure: of its sensor, or with none named of any of the firing's."""
    flags = [flag for flag in firing.flags if not any(text in flag for text in _NO_DOUBT)]
    return bool(result.flags) or any(at_mm is None or flag.startswith(f"At {at_mm:g} mm ") for flag in flags)


def wrong(made: Hostile, result: Measured, truths: tuple[Truth, ...]) -> list[tuple[str, float, bool]]:
    """Every figure: what it is, its error over what would be wrong, and whether it is doubted."""
    out = []
    for firing in result.firings:
        truth = min(truths, key=lambda one: abs(min(one.first_s) - firing.at_s))
        is_it = abs(min(truth.first_s) - firing.at_s) < 0.02 + max(truth.exposure_s)

        def true(times_s: tuple[float, ...], one: AtSensor) -> float:
            return times_s[made.order[one.i_channel]]

        for one in firing.sensors:
            exposure_s = true(truth.exposure_s, one)
            ev = abs(math.log2(one.exposure.value / exposure_s)) if is_it and exposure_s > 0 else math.inf
            out.append(("exposure", ev / WRONG_EV, _is_doubted(firing, result, one.at_mm)))
        for curtain, times_s in ((firing.first, truth.first_s), (firing.second, truth.second_s)):
            way_s = abs(true(times_s, firing.sensors[-1]) - true(times_s, firing.sensors[0]))
            part = abs(curtain.between.value / way_s - 1) if is_it else math.inf
            out.append(("travel", part / WRONG_TRAVEL, _is_doubted(firing, result)))
    return out


def main(n: int = 2000, first: int = 0) -> None:
    """How many wrong figures are flagged, and how many are not; the seeds of the latter."""
    counts: Counter[str] = Counter()
    missed: list[tuple[int, str, float]] = []
    for seed in range(first, first + n):
        made = hostile(seed)
        samples, truths = simulate.recording(made.scene, seed)
        counts["fired"] += len(truths)
        try:
            waveform = Waveform(samples[:, made.order].astype(np.float32), made.scene.rate_hz, made.scene.bits)
            result = measure(waveform, made.gate)
        except NotMeasurable:
            counts["recordings refused"] += 1
            continue
        counts["firings told"] += len(result.firings)
        for name, error, is_doubted in wrong(made, result, truths):
            counts[f"{name}: figures"] += 1
            counts[f"{name}: unflagged"] += not is_doubted
            counts[f"{name}: wrong"] += error > 1
            if error > 1 and not is_doubted:
                missed.append((seed, name, round(error, 2)))
    print(f"{n} hostile recordings: " + ", ".join(f"{name} {number}" for name, number in counts.items()))
    print(f"Wrong without a flag: {len(missed)} {missed[:40] if missed else ''}")


if __name__ == "__main__":
    main(*map(int, sys.argv[1:]))
