"""What differs between two bodies, as their strip-downs show it: parts, order, hardware, shims, marks, finishes."""

from bisect import bisect_left
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from camerawright.journal.entries import Removed, part_key
from camerawright.journal.joints import Joint, hardware
from camerawright.journal.state import State

Kind = Literal["part", "order", "screw", "shim", "loose part", "mark", "material", "finish"]

HARDWARE: tuple[Kind, ...] = ("screw", "shim", "loose part")


@dataclass(frozen=True, kw_only=True)
class Difference:
    """One fact that the two journals tell differently; `a` and `b` are how each tells it, in words."""

    kind: Kind
    part: str
    a: str
    b: str


def differences(a: State, b: State) -> tuple[Difference, ...]:
    """Compare two bodies as they came apart.

    Parameters
    ----------
    a, b
        Their journals, folded. Of a part that came off more than once, the first removal counts: later ones show what
        the bench put in.

    Returns
    -------
    tuple of Difference
        Parts that came off in one only, in the order of `a` and then of `b`; then the order, with as few parts named
        as explain it; then part by part what held it, what lay beneath, material, finish and marks. A material or
        finish that one of the two does not tell is no difference.
    """
    off_a, off_b = _first_removals(a), _first_removals(b)
    common = [key for key in off_a if key in off_b]
    found = [
        Difference(kind="part", part=removed.part, a="came off", b=_not_off(b, key))
        for key, removed in off_a.items()
        if key not in off_b
    ]
    found += [
        Difference(kind="part", part=removed.part, a=_not_off(a, key), b="came off")
        for key, removed in off_b.items()
        if key not in off_a
    ]
    found += _order(common, [key for key in off_b if key in off_a], off_a, off_b)
    for key in common:
        found += _of_part(off_a[key], off_b[key])
        found += _marks(a, b, off_a[key].part)
    return tuple(found)


def _first_removals(state: State) -> dict[str, Removed]:
    """Each part's first removal, in order."""
    first: dict[str, Removed] = {}
    for entry in state.entries:
        if isinstance(entry, Removed):
            first.setdefault(part_key(entry.part), entry)
    return first


def _not_off(state: State, key: str) -> str:
    """A part that stayed on may still be there: the journal knows it by other entries, or not at all."""
    return "stayed on" if key in state.parts else "not in the journal"


def _order(
    order_a: Sequence[str], order_b: Sequence[str], off_a: Mapping[str, Removed], off_b: Mapping[str, Removed]
) -> Iterator[Difference]:
    """The fewest parts that, left out, leave both bodies with one order: all but a longest common subsequence."""
    place_b = {key: place for place, key in enumerate(order_b)}
    kept = {order_a[i] for i in _longest_rise([place_b[key] for key in order_a])}
    for key in order_a:
        if key not in kept:
            yield Difference(
                kind="order", part=off_a[key].part, a=_after(key, order_a, off_a), b=_after(key, order_b, off_b)
            )


def _after(key: str, order: Sequence[str], off: Mapping[str, Removed]) -> str:
    place = order.index(key)
    return f"after {off[order[place - 1]].part}" if place else "first"


def _longest_rise(numbers: Sequence[int]) -> list[int]:
    """Indexes of a longest increasing subsequence.

    Notes
    -----
    Patience sorting in n log n: `tops[k]` ends the lowest rise of length k + 1 so far (Knuth, The Art of Computer
    Programming 3, 5.1.4; from memory).
    """
    tops: list[int] = []
    ends: list[int] = []  # the index of each top
    before: list[int | None] = []
    for i, number in enumerate(numbers):
        pile = bisect_left(tops, number)
        before.append(ends[pile - 1] if pile else None)
        tops[pile : pile + 1] = [number]
        ends[pile : pile + 1] = [i]
    rise: list[int] = []
    i_next = ends[-1] if ends else None
    while i_next is not None:
        rise.append(i_next)
        i_next = before[i_next]
    return rise[::-1]


def _of_part(a: Removed, b: Removed) -> Iterator[Difference]:
    """What held it and what lay beneath, and what it is made of."""
    joints_a, joints_b = hardware(a), hardware(b)
    for kind in HARDWARE:
        if _of_kind(joints_a, kind) != _of_kind(joints_b, kind):
            yield Difference(kind=kind, part=a.part, a=_told(joints_a, kind, a), b=_told(joints_b, kind, b))
    if a.material and b.material and part_key(a.material) != part_key(b.material):
        yield Difference(kind="material", part=a.part, a=a.material, b=b.material)
    if a.finish and b.finish and part_key(a.finish) != part_key(b.finish):
        yield Difference(kind="finish", part=a.part, a=a.finish, b=b.finish)


def _of_kind(joints: Mapping[Joint, int], kind: str) -> dict[str, int]:
    return {what: count for (of, what), count in joints.items() if of == kind}


def _told(joints: Mapping[Joint, int], kind: str, removed: Removed) -> str:
    """The counts in words; that nobody looked beneath is not the same as that nothing was there."""
    counted = _of_kind(joints, kind)
    if counted:
        return "; ".join(f"{count} × {what}" for what, count in sorted(counted.items()))
    return "looked, and none" if kind == "shim" and removed.looked_beneath else "none entered"


def _marks(a: State, b: State, name: str) -> Iterator[Difference]:
    """Reference marks, in whatever words: a reader sees whether they mean the same."""
    told = ["; ".join(mark.mark for mark in state.part(name).marks) for state in (a, b)]
    if part_key(told[0]) != part_key(told[1]):
        yield Difference(kind="mark", part=name, a=told[0] or "none noted", b=told[1] or "none noted")
