"""The way back, reach, the fold and learning: how fast, how they grow, and what the best order gains."""

import gc
import random
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from functools import partial
from itertools import pairwise
from time import process_time

from camerawright.journal.entries import (
    Cautioned,
    Entry,
    Fastener,
    HoldPoint,
    Independent,
    Lubricated,
    Marked,
    NeedsState,
    Noted,
    Refitted,
    Reminded,
    Removed,
    Shim,
)
from camerawright.journal.order import order_facts
from camerawright.journal.state import State, fold
from camerawright.refit.learning import learned
from camerawright.refit.reach import reach
from camerawright.refit.sequence import changes
from camerawright.refit.way_back import WayBack, traits, way_back

START = datetime(2026, 3, 2, 9, tzinfo=UTC)
SIZES = (100, 200, 400, 1000, 2000, 4000)
BOUNDS_MS = {
    "way back, 400 parts": 50,
    "way back, 4000 parts": 1000,
    "reach, 4000 parts": 50,
    "fold, 10000 entries": 100,
    "200 journals of 300 entries": 2000,
}
"""What was asked for, on two cores. [ms]"""
STACK = 12
"""How many parts of a sub-assembly, about, lie over each other."""


@dataclass(frozen=True)
class Camera:
    """An invented camera: sub-assemblies beside each other, each a stack of parts that cover each other."""

    assembly: tuple[str, ...]
    tool: tuple[str, ...]
    state: tuple[str | None, ...]
    grease: tuple[str | None, ...]
    covered_by: tuple[tuple[int, ...], ...]

    def part(self, i: int) -> str:
        """The name of a part."""
        return f"{self.assembly[i]} part {i}"


def camera(n: int, rng: random.Random) -> Camera:
    """Invent one. Parts are numbered so that a cover has a smaller number than what it covers."""
    n_assemblies = max(3, n // STACK)
    home = [i % n_assemblies for i in range(n)]
    rng.shuffle(home)
    last: dict[int, list[int]] = {}
    covered_by: list[tuple[int, ...]] = []
    for i, assembly in enumerate(home):
        earlier = last.setdefault(assembly, [])
        covers = {rng.choice(earlier[-3:])} if earlier else set()
        if i and rng.random() < 0.1:
            covers.add(rng.randrange(max(0, i - 40), i))  # a lever or a lead from elsewhere lies over it
        covered_by.append(tuple(sorted(covers)))
        earlier.append(i)
    return Camera(
        assembly=tuple(f"assembly {a}" for a in home),
        tool=tuple(rng.choice(("1.2 mm", "1.5 mm", "2.0 mm", "pin spanner")) for _ in home),
        state=tuple("released" if rng.random() < 0.08 else "cocked" if rng.random() < 0.08 else None for _ in home),
        grease=tuple(rng.choice(("light oil", "grease")) if rng.random() < 0.2 else None for _ in home),
        covered_by=tuple(covered_by),
    )


def strip_down(made: Camera, rng: random.Random, freedom: float, n_checks: int = 0) -> list[Entry]:
    """A journal of a strip-down: any order that the covers allow, staying near where the last part came off.

    `freedom` is the share of the parts of different sub-assemblies, within 60 removals, that were seen to be
    independent.
    """
    n = len(made.assembly)
    clock = (START + timedelta(seconds=30 * k) for k in range(40 * n + 1000))
    journal: list[Entry] = []
    order: list[int] = []
    done: set[int] = set()
    pool = list(range(min(n, 24)))
    upcoming = len(pool)
    while pool:
        ready = [i for i in pool if done.issuperset(made.covered_by[i])]
        near = [i for i in ready if order and made.assembly[i] == made.assembly[order[-1]]]
        i = rng.choice(near if near and rng.random() < 0.6 else ready)
        pool.remove(i)
        done.add(i)
        order.append(i)
        if upcoming < n:
            pool.append(upcoming)
            upcoming += 1
        name = made.part(i)
        state = made.state[i]
        if state:
            journal.append(
                NeedsState(at=next(clock), part=name, settings={"shutter": state}, moves="refit", reason="meets")
            )
        grease = made.grease[i]
        if grease:
            journal.append(Lubricated(at=next(clock), part=name, point="pivot", amount="touch", lubricant=grease))
        journal.append(
            Removed(
                at=next(clock),
                part=name,
                assembly=made.assembly[i],
                tool=made.tool[i],
                fasteners=(Fastener(count=rng.randint(1, 4), size="M1.7", length_mm=3.2),),
                under=tuple(made.part(cover) for cover in made.covered_by[i]),
                cell=f"A{i % 12}",
            )
        )
    journal += [
        Independent(at=START, part=made.part(i), other=made.part(j), reason="beside each other")
        for k, i in enumerate(order)
        for j in order[k + 1 : k + 60]
        if made.assembly[i] != made.assembly[j] and rng.random() < freedom
    ]
    journal += [
        HoldPoint(at=next(clock), check=f"check {k}", needs=tuple(made.part(i) for i in rng.sample(range(n), 2)))
        for k in range(n_checks)
    ]
    return journal


def _took_ms(action: Callable[[], object], repeats: int = 5) -> float:
    """Processor time of one thread, the least of some runs: on an idle machine the time on the clock. [ms]"""
    times = []
    for _ in range(repeats):
        gc.collect()
        begun = process_time()
        action()
        times.append(1e3 * (process_time() - begun))
    return min(times)


def _way(state: State) -> Callable[[], WayBack]:
    """The way back of a state, its reasons gathered beforehand."""
    facts = order_facts(state)
    holds = [promise for promise in state.open_promises if isinstance(promise, HoldPoint)]
    return lambda: way_back(state.off, facts, holds=holds)


def _verdict(name: str, took_ms: float) -> str:
    bound = BOUNDS_MS[name]
    return f"| {name} | {took_ms:.1f} | {bound} | {'met' if took_ms <= bound else 'MISSED'} |"


def growth() -> dict[str, float]:
    """Times over the number of parts, for cameras nothing is known of and for well-known ones. [ms]"""
    print("| parts | way back, order of removal only | half known to be free, 10 checks | nearly all free | reach |")
    print("|---|---|---|---|---|")
    named = {}
    for n in SIZES:
        rng = random.Random(n)
        made = camera(n, rng)
        columns = []
        for freedom, n_checks in ((0.0, 0), (0.5, 10), (0.95, 10)):
            state = fold(strip_down(made, rng, freedom, n_checks))
            columns.append(_took_ms(_way(state)))
        lore = learned([(f"J{k}", fold(strip_down(made, rng, 0.5))) for k in range(3)])
        untouched = fold([])
        targets = [lore.order[round(share * (n - 1))] for share in (0.25, 0.5, 0.75, 1)]
        reach(targets[0], lore, untouched)  # what is computed once for the variant
        slowest = max(_took_ms(partial(reach, key, lore, untouched), 3) for key in targets)
        print(f"| {n} | {columns[0]:.1f} | {columns[1]:.1f} | {columns[2]:.1f} | {slowest:.1f} |", flush=True)
        named[f"way back, {n} parts"] = max(columns)
        named[f"reach, {n} parts"] = slowest
    return named


def long_journal(n: int) -> list[Entry]:
    """As a long job has them: a sixth each of removals, marks, cautions, reminders, notes and refits."""
    rng = random.Random(n)
    journal: list[Entry] = []
    for i in range(n // 6):
        at, part = START + timedelta(minutes=i), f"part {i}"
        screws = (Fastener(count=rng.randint(1, 4), size="M1.7", length_mm=3.2, head="slotted"),)
        shims = (Shim(place="NE corner", count=1, thickness_mm=0.05),)
        journal += [
            Marked(at=at, part=part, mark="dot at twelve"),
            Cautioned(at=at + timedelta(seconds=1), part=part, hazard="spring beneath"),
            Removed(at=at + timedelta(seconds=2), part=part, fasteners=screws, shims=shims, cell="A1"),
            Reminded(at=at + timedelta(seconds=3), part=part, todo="hook the spring"),
            Noted(at=at + timedelta(seconds=4), note="tea"),
            Refitted(at=at + timedelta(days=9), part=part, fasteners=screws, shims=shims),
        ]
    journal += [Noted(at=START, note="tea") for _ in range(n - len(journal))]
    return journal


def many_journals(n_journals: int, n_entries: int) -> list[list[Entry]]:
    """One invented camera stripped many times, with marks and cautions."""
    made = camera(n_entries * 3 // 5, random.Random(1))
    journals = []
    for seed in range(n_journals):
        journal = strip_down(made, random.Random(seed), 0.0)
        parts = [entry.part for entry in journal if isinstance(entry, Removed)]
        for i in range(n_entries - len(journal)):
            at, part = START + timedelta(hours=40, seconds=i), parts[i % len(parts)]
            journal.append(Marked(at=at, part=part, mark="flush") if i % 2 else Cautioned(at=at, part=part, hazard="x"))
        journals.append(journal[:n_entries])
    return journals


@dataclass
class Gain:
    """What one order of refit costs, summed over journals."""

    counts: dict[str, int]
    n_reopened: int = 0

    def add(self, counts: dict[str, int], n_reopened: int) -> None:
        """One more journal."""
        for kind, n in counts.items():
            self.counts[kind] = self.counts.get(kind, 0) + n
        self.n_reopened += n_reopened


def gain(n_journals: int = 30, n: int = 60, freedom: float = 0.7, n_checks: int = 5) -> None:
    """Set the best order beside the way out reversed with its checks at the end, as a bench without a plan has them."""
    trivial, best = Gain({}), Gain({})
    n_moved = n_proven = n_broken = 0
    for seed in range(n_journals):
        rng = random.Random(seed)
        state = fold(strip_down(camera(n, rng), rng, freedom, n_checks))
        way = _way(state)()
        parts = list(reversed(state.off))
        index = {part.key: i for i, part in enumerate(parts)}
        order = [index[step.part.key] for step in way.steps]
        asked = [traits(part) for part in parts]
        trivial.add(changes(range(n), asked), sum(check.n_off_last for check in way.checks))
        best.add(changes(order, asked), sum(check.n_off_now for check in way.checks))
        n_moved += sum(a != b for a, b in pairwise([-1, *order]) if b != a + 1)
        n_proven += way.is_proven
        place = {i: k for k, i in enumerate(order)}
        n_broken += any(
            place[index[bond.keys[1]]] > place[index[key]] for key, bonds in way.back_first.items() for bond in bonds
        )
    print(f"{n_journals} invented strip-downs of {n} parts, {n_checks} checks each; sums over all of them\n")
    print("| | way out reversed | best order |")
    print("|---|---|---|")
    for kind in ("assembly", "state", "lubricant", "tool"):
        print(f"| changes of {kind} | {trivial.counts[kind]} | {best.counts[kind]} |")
    print(f"| parts off again, if each check failed once | {trivial.n_reopened} | {best.n_reopened} |")
    print(f"\nSteps that no longer follow the one before them: {n_moved} of {n_journals * n}.")
    print(f"Orders proven best: {n_proven} of {n_journals}; orders that break a bond: {n_broken}.", flush=True)


def main() -> None:
    """All tables."""
    took = growth()
    journal = long_journal(10_000)
    took["fold, 10000 entries"] = _took_ms(lambda: fold(journal))
    journals = many_journals(200, 300)
    states = [(f"J{k}", fold(entries)) for k, entries in enumerate(journals)]
    fold_ms = _took_ms(lambda: [fold(entries) for entries in journals], 3)
    learn_ms = _took_ms(lambda: learned(states), 3)
    took["200 journals of 300 entries"] = fold_ms + learn_ms
    print("\n| | ms | bound | |\n|---|---|---|---|")
    for name in BOUNDS_MS:
        print(_verdict(name, took[name]))
    print(f"\nOf the last: folding {fold_ms:.0f} ms, learning {learn_ms:.0f} ms.\n")
    for freedom in (0.3, 0.7, 1.0):
        print(f"\nIndependent pairs known: {100 * freedom:.0f} %\n")
        gain(freedom=freedom)


if __name__ == "__main__":
    main()
