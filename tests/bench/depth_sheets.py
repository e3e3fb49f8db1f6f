"""A second simulator of depth readings: a sheet of readings as a bench writes it, made in matrices.

It shares no code with `bench/register/simulate.py`, and was written to another's plan: the plane is given by its
register and slopes, everything that goes wrong is a term of its own, and the sheet is what a hand would have typed.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from camerawright.recordings.table import Table

Floats = NDArray[np.float64]

GATE = {
    3: ((-16, -10), (16, -10), (0, 10)),
    4: ((-16, -10), (16, -10), (16, 10), (-16, 10)),
    5: ((-16, -10), (16, -10), (16, 10), (-16, 10), (0, 0)),
    9: tuple((x, y) for y in (-10, 0, 10) for x in (-16, 0, 16)),
    30: tuple((x, y) for y in (-10, -5, 0, 5, 10) for x in (-16, -9.6, -3.2, 3.2, 9.6, 16)),
}
"""Places by their number. [mm]"""


@dataclass(frozen=True, kw_only=True)
class Bench:
    """A body, a gauge and a hand; lengths in millimetres, slopes in millimetres on a metre.

    `rails`, `press`, `slope` and `register_off` are drawn evenly, ±; `hand` and those named `_sd` are standard
    deviations. `visits` is how often each place is read in a round, once if it is empty. `jitter` is how far the noted
    places differ from round to round, ±, and `beside_sd` how far the gauge stands beside them.
    """

    n_places: int = 5
    n_rounds: int = 3
    visits: tuple[int, ...] = ()
    hand: float = 0.003
    step: float = 0.01
    rails: float = 0.003
    press: float = 0.002
    slope: float = 1.5
    register_off: float = 0.03
    places_sd: float = 0.0
    rounds_sd: float = 0.0
    drift: float = 0.0
    rocks: float = 0.0
    bow: float = 0.0
    dirt: float = 0.0
    jitter: float = 0.0
    beside_sd: float = 0.0
    is_copied: bool = False
    is_inch: bool = False


@dataclass(frozen=True)
class Sheet:
    """The readings of a bench, and the truth: register [mm], slopes [mrad]."""

    table: Table
    truth: tuple[float, float, float]


NOMINAL_MM = 28.80


def written(bench: Bench, rng: np.random.Generator) -> Sheet:
    """Draw a body and read it."""
    at = np.array(GATE[bench.n_places], float)
    one_round = np.repeat(np.arange(len(at)), bench.visits or 1)
    place = np.tile(one_round, bench.n_rounds)
    turn = np.repeat(np.arange(bench.n_rounds), len(one_round))
    register = NOMINAL_MM + rng.uniform(-1, 1) * bench.register_off
    slopes = 1e-3 * bench.slope * rng.uniform(-1, 1, 2)
    noted = np.round(at[place] + bench.jitter * rng.uniform(-1, 1, (len(place), 2)), 2)
    stood = noted + (bench.beside_sd * rng.standard_normal(at.shape))[place]
    depth = register + stood @ slopes + bench.press * rng.uniform(-1, 1)
    depth += _of_places(bench, at, rng)[place] + _of_rounds(bench, stood[:, 0], turn, rng)
    hand = bench.hand * rng.standard_normal(len(place))
    depth += hand[: len(one_round)][np.arange(len(place)) % len(one_round)] if bench.is_copied else hand
    columns = {"x_mm": noted[:, 0], "y_mm": noted[:, 1], "depth_mm": _shown(bench, depth)}
    return Sheet(Table(columns, "simulated"), (register, 1e3 * slopes[0], 1e3 * slopes[1]))


def _of_places(bench: Bench, at: Floats, rng: np.random.Generator) -> Floats:
    """What all readings of a place share."""
    off = bench.rails * rng.uniform(-1, 1, len(at)) + bench.places_sd * rng.standard_normal(len(at))
    off += bench.bow * (1 - (at[:, 0] / 16) ** 2)
    off[rng.integers(len(at))] += bench.dirt * rng.choice([-1, 1])
    return np.asarray(off)


def _of_rounds(bench: Bench, x: Floats, turn: NDArray[np.intp], rng: np.random.Generator) -> Floats:
    """What moves between rounds, or slowly all the time; in one round the body leans by `rocks` at x = 16."""
    off = (bench.rounds_sd * rng.standard_normal(bench.n_rounds))[turn]
    off += bench.drift * np.arange(len(x)) / len(x)
    return np.asarray(off + np.where(turn == rng.integers(bench.n_rounds), bench.rocks * x / 16, 0.0))


def _shown(bench: Bench, depth: Floats) -> Floats:
    """What the gauge shows; one with steps of 0.0005 inch is converted, to a thousandth of a millimetre."""
    if bench.is_inch:
        return np.round(np.round(depth / 25.4 / 0.0005) * 0.0005 * 25.4, 3)
    return np.asarray(np.round(np.round(depth / bench.step) * bench.step, 6))


def held(
    bench: Bench, measured: Callable[[Table], Sequence[tuple[float, float]]], n: int, seed: int = 0
) -> tuple[float, ...]:
    """How often the intervals of register and slopes, as value and half width, hold the truth of n sheets."""
    hits = []
    for i in range(n):
        sheet = written(bench, np.random.default_rng([seed, i]))
        found = measured(sheet.table)
        hits.append([abs(value - true) <= half for (value, half), true in zip(found, sheet.truth, strict=True)])
    return tuple(np.mean(hits, axis=0).tolist())
