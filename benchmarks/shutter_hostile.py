"""Leaf shutter by light: recordings made to mislead; a wrong answer must be flagged, or refused."""

import math
import sys
from collections import Counter
from dataclasses import replace

import numpy as np

from camerawright.bench.shutter import simulate
from camerawright.bench.shutter.measure import measure
from camerawright.bench.shutter.record import Firing
from camerawright.bench.shutter.simulate import Disturbance, Scene, Sensor, SoundCard, Truth
from camerawright.recordings.sound import Waveform
from camerawright.trouble import NotMeasurable

WRONG_EV = 1 / 3


def hostile(seed: int) -> Scene:
    """One recording: a few of many things go wrong, each by a random amount up to far beyond what is tolerable."""
    rng = np.random.default_rng([77, seed])

    severity = rng.uniform() ** 2  # many recordings only a little spoilt: those are answered

    def often(part: float, most: float) -> float:
        return severity * most * rng.uniform() if rng.uniform() < part else 0.0

    time_s = float(2.0 ** -rng.uniform(0, 10))
    scene = simulate.drawn(time_s, rng.uniform(22, 60), simulate.Unseen(5e-6, 0.01, 5e-5), rng, int(rng.integers(1, 5)))
    blades = replace(scene.blades, restitution=rng.uniform(0, 0.6), overlap_deg=rng.uniform(2, 9))
    disturbance = Disturbance(
        noise=scene.disturbance.noise,
        pink=often(0.3, 0.05), hum=often(0.3, 0.1), hum_hz=float(rng.choice([50, 60, 150])),
        flicker=often(0.25, 0.9), flicker_hz=float(rng.choice([100, 120])),
        pwm_hz=float(rng.choice([0, 240, 1000, 20_000], p=[0.88, 0.04, 0.04, 0.04])),
        thump=often(0.4, 1.0), n_thumps=int(rng.integers(1, 8)),
        gain_per_firing=1 + rng.choice([-1, 1]) * often(0.2, 0.4),
        ambient=often(0.3, 1.0), n_steps=int(rng.integers(1, 4)),
        click=often(0.3, 1.5), n_clicks=int(rng.integers(1, 6)),
    )  # fmt: skip
    corners = (rng.uniform(0.5, 40), rng.uniform(0.1, 5), rng.uniform(0.05, 2))[
        : int(rng.choice([1, 2, 3], p=[0.35, 0.5, 0.15]))
    ]
    card = SoundCard(
        rate_hz=float(rng.choice([22_050, 44_100, 48_000, 96_000])),
        corners_hz=corners,
        bits=int(rng.choice([8, 16, 16, 24])),
        plateau_fs=float(rng.choice([rng.uniform(0.01, 0.9), rng.uniform(0.9, 2.5)], p=[0.92, 0.08])),
        is_inverted=bool(rng.integers(2)),
    )
    lag_s = rng.uniform(2e-6, 20e-6) if rng.uniform() < 0.7 else rng.uniform(20e-6, 400e-6)
    sensor = Sensor(lag_s, lag_s * rng.uniform(0.8, 1.3), rng.uniform(-0.03, 0.03))
    near, far = rng.uniform(0.02, 0.3), rng.uniform(0.3, 1.0)
    gap_s, lead_s = float(rng.choice([near, far], p=[0.2, 0.8])), float(rng.uniform(0.05, 0.6))
    return replace(scene, blades=blades, disturbance=disturbance, card=card, sensor=sensor, gap_s=gap_s, lead_s=lead_s)


def judged(firing: Firing, truths: tuple[Truth, ...]) -> float:
    """Error in stops against the firing that it is; infinite where it is none."""
    at_s = firing.at_s + firing.half_peak.value / 2
    truth = min(truths, key=lambda one: abs(one.at_s - at_s))
    if abs(truth.at_s - at_s) > truth.total_s / 2 + firing.total.value / 2 + 5e-3:
        return math.inf
    effective_s = truth.effective_s if firing.has_plateau else truth.effective_own_peak_s
    return abs(math.log2(firing.effective.value / effective_s))


def main(n: int = 10_000, first: int = 0) -> None:
    """How many wrong answers are flagged, and how many are not; the seeds of the latter."""
    counts: Counter[str] = Counter()
    missed: list[tuple[int, float]] = []
    for seed in range(first, first + n):
        scene = hostile(seed)
        samples, truths = simulate.recording(scene, seed)
        counts["fired"] += len(truths)
        try:
            result = measure(Waveform(samples.astype(np.float32), scene.card.rate_hz, scene.card.bits))
        except NotMeasurable:
            counts["recordings refused"] += 1
            continue
        for firing in result.firings:
            is_flagged, error = bool(firing.flags or result.flags), judged(firing, truths)
            counts["answers"] += 1
            counts["answers flagged"] += is_flagged
            counts["wrong by more than 1/3 stop"] += error > WRONG_EV
            counts["unflagged answers"] += not is_flagged
            if error > WRONG_EV and not is_flagged:
                missed.append((seed, error))
    print(f"{n} hostile recordings: " + ", ".join(f"{name} {number}" for name, number in counts.items()))
    print(f"Wrong by more than 1/3 stop without a flag: {len(missed)} {missed[:20] if missed else ''}")


if __name__ == "__main__":
    main(*map(int, sys.argv[1:]))
