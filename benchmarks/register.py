"""Register by depth readings: error over the least-squares limit, honesty in each cell, and hostile sets of readings.

The limit is the error of a plane fitted by somebody who knows the size of every error but not its sign: generalised
least squares with the true covariance of the simulated readings.
"""

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from camerawright.bench import register
from camerawright.bench.register.record import RegisterRecord
from camerawright.bench.register.simulate import CORNERS, SIDES, Scene, readings
from camerawright.recordings.table import Table

Floats = NDArray[np.float64]
PLACES = {
    3: (CORNERS[0], CORNERS[1], SIDES[2]),
    4: CORNERS,
    5: (*CORNERS, (0.0, 0.0)),
    9: (*CORNERS, *SIDES, (0.0, 0.0)),
}
ROUNDS = {3: (3,), 4: (3,), 5: (1, 3, 6), 9: (1, 3)}
HANDS_MM = (0.0005, 0.002, 0.005, 0.02)
STEP_MM = 0.01
TOLERANCE_MM = 0.02
N = 1000


@dataclass(frozen=True)
class Cell:
    """Errors of register [mm] and slopes [mrad] with their stated u and half intervals, shape (n, 3) each."""

    errors: Floats
    u: Floats
    expanded: Floats
    limit: Floats

    @property
    def rms(self) -> Floats:
        """Root mean square of the errors."""
        return np.asarray(np.sqrt((self.errors**2).mean(axis=0)))

    @property
    def held(self) -> Floats:
        """How often the interval held the truth."""
        return np.asarray((np.abs(self.errors) <= self.expanded).mean(axis=0))


def drawn(rng: np.random.Generator, scene: Scene) -> Scene:
    """A body: anywhere between two steps of the gauge, askew by about a milliradian."""
    nod, turn = 0.8e-3 * rng.standard_normal(2)
    return replace(scene, register_mm=44.96 + rng.uniform(-0.05, 0.05), nod_rad=nod, turn_rad=turn)


def measured(scene: Scene, rng: np.random.Generator) -> RegisterRecord:
    """What the test makes of a scene."""
    x_mm, y_mm, depth_mm = readings(scene, rng)
    return register.run(Table({"x_mm": x_mm, "y_mm": y_mm, "depth_mm": depth_mm}), resolution_mm=str(scene.step_mm))


def cell(scene: Scene, seeds: range) -> Cell:
    """Simulate and measure."""
    rows = []
    for seed in seeds:
        rng = np.random.default_rng([seed, len(scene.at_mm), scene.n_rounds, round(1e6 * scene.hand_mm)])
        body = drawn(rng, scene)
        plane = measured(body, rng).plane
        assert plane is not None
        truth = (body.register_mm, *body.slopes_mrad)
        rows.append([(one.value - true, one.u, one.expanded_u) for one, true in zip(plane, truth, strict=True)])
    errors, u, expanded = np.moveaxis(np.array(rows), 2, 0)
    return Cell(errors, u, expanded, limit(scene))


def limit(scene: Scene) -> Floats:
    """The least-squares limit of a scene: standard deviations of register [mm] and slopes [mrad]."""
    at = np.array(scene.at_mm)
    design = np.column_stack([np.ones(len(at)), at])
    rounding = scene.step_mm**2 / 12
    shared = left_by_repeats(scene.hand_mm, scene.step_mm)
    place = scene.rails_mm**2 / 3 + shared + (scene.hand_mm**2 + rounding - shared) / scene.n_rounds
    covariance = np.linalg.inv(design.T @ design) * place
    covariance[0, 0] += scene.pressure_mm**2 / 3
    return np.sqrt(np.diag(covariance)) * (1, 1e3, 1e3)


def left_by_repeats(hand_mm: float, step_mm: float) -> float:
    """The variance of rounding that no repeat averages away: of its sawtooth's Fourier series, blurred by the hand."""
    k = np.arange(1, 200)
    return float((step_mm**2 / (2 * math.pi**2) * np.exp(-((2 * math.pi * k * hand_mm / step_mm) ** 2)) / k**2).sum())


def cells() -> Iterator[tuple[Scene, Cell]]:
    """Every cell of the table."""
    for n_places, at_mm in PLACES.items():
        for n_rounds in ROUNDS[n_places]:
            for hand_mm in HANDS_MM:
                scene = Scene(at_mm=at_mm, n_rounds=n_rounds, hand_mm=hand_mm, step_mm=STEP_MM)
                yield scene, cell(scene, range(N))


def hostile(seed: int) -> tuple[Scene, Table]:
    """Readings with several things wrong at once, from slight to absurd."""
    rng = np.random.default_rng([seed, 77])
    places = (*CORNERS, *SIDES, (0.0, 0.0))
    chosen = rng.permutation(len(places))[: rng.integers(2, 10)]
    scene = drawn(
        rng,
        Scene(
            at_mm=tuple(places[i] for i in chosen),
            n_rounds=int(rng.integers(1, 5)),
            hand_mm=10 ** rng.uniform(-3.3, -1.3),
            step_mm=float(rng.choice([0.001, 0.005, 0.01, 0.02, 0.05])),
            bumps_mm=tuple(10 ** rng.uniform(-2.5, -0.5, rng.integers(0, 2))),
            rocks_rad=float(rng.choice([0.0, 0.0, 1e-3, 5e-3])),
        ),
    )
    x_mm, y_mm, depth_mm = readings(scene, rng)
    for i in np.flatnonzero(rng.random(len(depth_mm)) < rng.choice([0.0, 0.0, 0.05])):
        depth_mm[i] += rng.choice([-1, 1]) * rng.choice([0.1, 0.3, 0.9, 1.0, 9.0])  # a digit mistyped
    return scene, Table({"x_mm": x_mm, "y_mm": y_mm, "depth_mm": depth_mm})


def main() -> None:
    """Print the tables of docs/accuracy/register.md."""
    print("| places | rounds | hand µm | register: rms µm, × limit, held | slope x: rms mrad, × limit, held |")
    print("|---|---|---|---|---|")
    every = []
    for scene, one in cells():
        every.append(one)
        ratio = one.rms / one.limit
        print(
            f"| {len(scene.at_mm)} | {scene.n_rounds} | {1e3 * scene.hand_mm:g} |"
            f" {1e3 * one.rms[0]:.2f}, {ratio[0]:.2f}, {one.held[0]:.1%} |"
            f" {one.rms[1]:.3f}, {ratio[1]:.2f}, {one.held[1]:.1%} |",
            flush=True,
        )
    held = np.concatenate([np.abs(one.errors) <= one.expanded for one in every]).mean(axis=0)
    print(f"\nAll {N * len(every)} sets, held: register {held[0]:.1%}, slope x {held[1]:.1%}, slope y {held[2]:.1%}.")
    _hostile(range(10_000, 14_000))  # the flags were made with the sets 0 to 1999


def _hostile(seeds: range) -> None:
    """Count the answers that are wrong beyond the tolerance, and whether something was said."""
    counts = dict.fromkeys(("refused", "flagged", "unflagged", "wrong", "wrong unflagged", "wrongly judged"), 0)
    for seed in seeds:
        scene, table = hostile(seed)
        record = register.run(table, nominal_mm="44.96", tolerance_mm=str(TOLERANCE_MM))
        if record.register is None:
            counts["refused"] += 1
            continue
        counts["flagged" if record.flags else "unflagged"] += 1
        error_mm = abs(record.register.value - scene.register_mm)
        is_wrong = error_mm > TOLERANCE_MM and error_mm > record.register.expanded_u
        is_within = abs(scene.register_mm - 44.96) <= TOLERANCE_MM
        counts["wrong"] += is_wrong
        counts["wrong unflagged"] += is_wrong and not record.flags
        counts["wrongly judged"] += (
            not record.flags and record.verdict in {"within", "outside"} and (record.verdict == "within") != is_within
        )
    print(f"{len(seeds)} hostile sets: " + ", ".join(f"{what} {count}" for what, count in counts.items()))


if __name__ == "__main__":
    main()
