"""Leaf shutter by slow-motion video: clips made to mislead; a wrong answer must be flagged, or refused."""

import math
import sys
from collections import Counter
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from camerawright.bench.footage import simulate
from camerawright.bench.footage.measure import measure
from camerawright.bench.footage.record import Measured
from camerawright.bench.footage.simulate import Blades, Camera, Filmed, Light, Scene
from camerawright.recordings.clips import Clip, clip_of_luma
from camerawright.trouble import NotMeasurable

WRONG_EV = 1 / 3
LOST_SILENTLY = "frames lost, stamped evenly"
Codes = NDArray[np.uint8]
Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Hostile:
    """A clip as it was written, which firings it shows, and what was done to it."""

    clip: Clip
    filmed: Filmed
    slowed: float
    done: tuple[str, ...]


def _scene(rng: np.random.Generator, fps: float, severity: float) -> Scene:
    """Shutter, camera and light; of one speed, or of several."""

    def often(part: float, most: float) -> float:
        return severity * most * rng.uniform() if rng.uniform() < part else 0.0

    blades = Blades(open_s=rng.uniform(1e-3, 2.4e-3), close_s=rng.uniform(1e-3, 2.2e-3), free=rng.uniform(0.7, 0.95))
    camera = Camera(
        fps=fps, duty=rng.uniform(0.1, 1.0), readout=rng.uniform(0.2, 0.98), height_px=36, width_px=48,
        level=float(rng.choice([rng.uniform(0.35, 0.8), rng.uniform(0.02, 0.2), rng.uniform(0.9, 2.0)],
                               p=[0.7, 0.2, 0.1])),
        tone=str(rng.choice(["BT.709", "sRGB", "phone"])), read_noise=0.003 + often(0.2, 0.03), bend=often(0.2, 0.5),
        jitter_s=often(0.2, 0.3 / fps),
    )  # fmt: skip
    light = Light(
        flicker=often(0.2, 0.6), flicker_hz=float(rng.choice([100, 120])), drift=often(0.2, 0.7),
        falloff=rng.uniform(0, 0.5),
    )  # fmt: skip
    time_s = 2.0 ** -rng.uniform(2, 8.5)
    times_s = [time_s * 2 ** rng.normal(0, 0.03) for _ in range(int(rng.integers(1, 7)))]
    if rng.uniform() < 0.15:
        times_s[-1] *= float(2.0 ** rng.integers(1, 4))
    static_s = float(rng.choice([0.0, max(0.2, 6 * time_s)], p=[0.3, 0.7]))
    holds = tuple(simulate.hold_for(one, blades) for one in times_s)
    return Scene(holds, blades, camera, light, static_s=static_s, gap_s=float(rng.uniform(4, 24)) / fps)


def hostile(seed: int) -> Hostile:
    """One clip: a few of many things go wrong, each by a random amount up to far beyond what is tolerable."""
    rng = np.random.default_rng([79, seed])
    fps = float(rng.choice([60, 120, 240, 480, 960], p=[0.1, 0.25, 0.35, 0.1, 0.2]))
    severity = rng.uniform() ** 2
    filmed = simulate.film(_scene(rng, fps, severity), seed)
    luma, at_s, done = filmed.luma, filmed.at_s, []
    for name, part, change in _CHANGES:
        if rng.uniform() < part:
            done.append(name)
            luma, at_s = change(luma, at_s, severity, rng)
    # what is saved as slow motion plays at what a screen shows, 30 or 60 frames a second. Common practice
    slowed = max(1.0, fps / rng.choice([30.0, 60.0])) if rng.uniform() < 0.2 else 1.0
    is_noted = bool(rng.uniform() < 0.5)
    clip = replace(clip_of_luma(luma, at_s * slowed), capture_fps=fps if slowed > 1 and is_noted else None)
    return Hostile(clip, filmed, 1.0 if is_noted else slowed, tuple(done))


def _lost(luma: Codes, at_s: Floats, severity: float, rng: np.random.Generator) -> tuple[Codes, Floats]:
    """Frames are missing."""
    kept = rng.uniform(size=len(luma)) > 0.15 * severity
    return luma[kept], at_s[kept]


def _lost_silently(luma: Codes, at_s: Floats, severity: float, rng: np.random.Generator) -> tuple[Codes, Floats]:
    """Frames are missing, and the stamps run on evenly."""
    left, _ = _lost(luma, at_s, severity, rng)
    return left, at_s[: len(left)]


def _blended(luma: Codes, at_s: Floats, _severity: float, _rng: np.random.Generator) -> tuple[Codes, Floats]:
    """Two frames mixed into one, as a converter of rates does."""
    return ((luma[:-1].astype(int) + luma[1:]) // 2).astype(np.uint8)[::2], at_s[:-1:2]


def _doubled(luma: Codes, at_s: Floats, _severity: float, _rng: np.random.Generator) -> tuple[Codes, Floats]:
    """Every frame written twice."""
    return np.repeat(luma, 2, axis=0), (at_s[:, None] + np.array([0, (at_s[1] - at_s[0]) / 2])).ravel()


def _interlaced(luma: Codes, at_s: Floats, _severity: float, _rng: np.random.Generator) -> tuple[Codes, Floats]:
    """Every other row from between this frame and the next."""
    woven = luma.copy()
    woven[:-1, 1::2] = (luma[:-1, 1::2].astype(int) + luma[1:, 1::2]) // 2
    return woven, at_s


def _turned(luma: Codes, at_s: Floats, _severity: float, rng: np.random.Generator) -> tuple[Codes, Floats]:
    """The camera held another way."""
    return np.rot90(luma, int(rng.integers(1, 4)), (1, 2)), at_s


def _shaken(luma: Codes, at_s: Floats, severity: float, rng: np.random.Generator) -> tuple[Codes, Floats]:
    """Held in the hand: the picture wanders."""
    most_px = 6 * severity
    way = np.cumsum(rng.standard_normal((len(luma), 2)), axis=0)
    way = np.round(most_px * way / max(1.0, float(np.abs(way).max()))).astype(int)
    return np.array([np.roll(one, tuple(move), (0, 1)) for one, move in zip(luma, way, strict=True)]), at_s


def _other_light(luma: Codes, at_s: Floats, severity: float, rng: np.random.Generator) -> tuple[Codes, Floats]:
    """A patch beside or over the gate that is lit now and then."""
    out = luma.astype(float)
    y, x = int(rng.integers(0, luma.shape[1] - 8)), int(rng.integers(0, luma.shape[2] - 8))
    for _ in range(int(rng.integers(1, 4))):
        first = int(rng.integers(len(luma)))
        stop = first + int(rng.integers(1, 1 + len(luma) // 3))
        out[first:stop, y : y + int(rng.integers(8, 30)), x : x + int(rng.integers(8, 40))] += severity * 200
    return np.clip(out, 0, 255).astype(np.uint8), at_s


_CHANGES = (
    ("frames lost", 0.1, _lost),
    (LOST_SILENTLY, 0.05, _lost_silently),
    ("blended", 0.05, _blended),
    ("doubled", 0.05, _doubled),
    ("interlaced", 0.05, _interlaced),
    ("shaken", 0.15, _shaken),
    ("other light", 0.15, _other_light),
    ("turned", 0.2, _turned),
)


def errors(made: Hostile, result: Measured) -> list[tuple[float, bool]]:
    """Of every firing its error in stops, infinite where it is none, and whether it is flagged."""
    out = []
    for firing in result.firings:
        at_s = firing.at_s / made.slowed
        if at_s < made.filmed.released_s[0] - 0.03:
            continue  # the gate that was held open first: too short to be told from a firing, and rightly timed
        i = int(np.argmin(np.abs(np.array(made.filmed.released_s) - at_s)))
        true_s = made.filmed.effective_s[i]
        # frames that were left out without a word shift what comes later: then the nearest in length will do
        is_it = abs(made.filmed.released_s[i] - at_s) < 0.03 + true_s
        near = [true_s] if is_it else ([*made.filmed.effective_s] if LOST_SILENTLY in made.done else [])
        error = min((abs(math.log2(firing.effective.value / one)) for one in near), default=math.inf)
        out.append((error, bool(firing.flags or result.flags)))
    return out


def main(n: int = 2000, first: int = 0) -> None:
    """How many wrong answers are flagged, and how many are not; the seeds of the latter."""
    counts: Counter[str] = Counter()
    missed: list[tuple[int, float, tuple[str, ...]]] = []
    for seed in range(first, first + n):
        made = hostile(seed)
        counts["firings filmed"] += len(made.filmed.effective_s)
        try:
            result = measure(made.clip)
        except NotMeasurable:
            counts["clips refused"] += 1
            continue
        for error, is_flagged in errors(made, result):
            counts["answers"] += 1
            counts["unflagged answers"] += not is_flagged
            counts["wrong by more than 1/3 stop"] += error > WRONG_EV
            if error > WRONG_EV and not is_flagged and made.slowed > 1:
                counts["wrong by slow motion that the file does not tell of"] += 1
            elif error > WRONG_EV and not is_flagged:
                missed.append((seed, round(error, 2), made.done))
    print(f"{n} hostile clips: " + ", ".join(f"{name} {number}" for name, number in counts.items()))
    print(f"Wrong by more than 1/3 stop without a flag, else: {len(missed)} {missed[:40] if missed else ''}")


if __name__ == "__main__":
    main(*map(int, sys.argv[1:]))
