"""Register by depth readings, on the second simulator (tests/bench/depth_sheets.py): honesty, told and untold."""

import numpy as np
from tests.bench.depth_sheets import Bench, written
from tests.bench.test_register import plane_of

from camerawright.bench import register

FINE = 0.001
CELLS: tuple[tuple[str, Bench, dict[str, str]], ...] = (
    ("5 places, 3 rounds, hand 3 µm, steps of 0.01 mm", Bench(), {}),
    ("the same with a hand of 10 µm", Bench(hand=0.01), {}),
    ("3 places, 3 rounds", Bench(n_places=3), {}),
    ("4 places, 3 rounds", Bench(n_places=4), {}),
    ("4 places, 3 rounds, hand 20 µm", Bench(n_places=4, hand=0.02), {}),
    ("9 places, 1 round", Bench(n_places=9, n_rounds=1), {}),
    ("9 places, 3 rounds, steps of 0.001 mm", Bench(n_places=9, step=FINE), {}),
    ("a gauge in inches, steps of 0.0005 in", Bench(is_inch=True), {}),
    ("gauge 0.3 mm beside its place, slope 5 mrad", Bench(beside_sd=0.3, slope=5, step=FINE), {}),
    ("pressure ± 10 µm, told", Bench(press=0.01, step=FINE), {"pressure_mm": "0.01"}),
    ("rails ± 10 µm, told", Bench(rails=0.01, step=FINE), {"rails_mm": "0.01"}),
    ("rails ± 10 µm, not told", Bench(rails=0.01, step=FINE), {}),
    ("places off the plane by 5 µm (k = 1), hand 1 µm, not told", Bench(places_sd=0.005, hand=0.001, step=FINE), {}),
    ("the same, told as rails of ± 9 µm", Bench(places_sd=0.005, hand=0.001, step=FINE), {"rails_mm": "0.009"}),
    ("zero moves by 5 µm between rounds (k = 1), not told", Bench(rounds_sd=0.005, step=FINE), {}),
    ("zero moves by 15 µm, not told", Bench(rounds_sd=0.015, step=FINE), {}),
    ("the first round copied three times, hand 10 µm", Bench(is_copied=True, hand=0.01), {}),
)


def main(n: int = 500) -> None:
    """Print the table of the second simulator in docs/accuracy/register.md."""
    print("| sheet | held: register, slope x, slope y | half width of the register, µm | flagged | unflagged held |")
    print("|---|---|---|---|---|")
    for words, bench, told in CELLS:
        held, half_mm, is_flagged = [], [], []
        for i in range(n):
            sheet = written(bench, np.random.default_rng([7, i]))
            record = register.run(sheet.table, **told)
            plane = plane_of(record)
            held.append([abs(one.value - true) <= one.expanded_u for one, true in zip(plane, sheet.truth, strict=True)])
            half_mm.append(plane[0].expanded_u)
            is_flagged.append(bool(record.flags))
        parts = ", ".join(f"{100 * part:.1f}" for part in np.mean(held, axis=0))
        plain = np.array(held)[~np.array(is_flagged), 0]
        print(
            f"| {words} | {parts} % | {1e3 * np.median(half_mm):.1f} | {np.mean(is_flagged):.0%} |"
            f" {f'{plain.mean():.0%} of {len(plain)}' if len(plain) else ''} |",
            flush=True,
        )


if __name__ == "__main__":
    main()
