"""A picture of an order: boxes in rows, lines between them, each with its reason."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from textwrap import wrap
from typing import Final, Literal

from camerawright.journal.entries import part_key
from camerawright.journal.order import Constraint
from camerawright.refit.layers import Layers, layered

BOX_W: Final = 200
BOX_H: Final = 64
SLOT_W: Final = 224
ROW_H: Final = 108
MARGIN: Final = 14
NAME_CHARS: Final = 19
STATUS_CHARS: Final = 24
"""What fits on a line of a box: letters of 9.2 px in bold, of 7.2 px in plain (the widest of the usual faces)."""
SIGN_CHARS: Final = 4
"""Room for the sign of a check."""


@dataclass(frozen=True, kw_only=True)
class Bond:
    """A line of the picture, drawn with the box it leads to."""

    first: str  # a name: it stands above
    then: str
    reason: str
    is_certain: bool
    is_ring: bool = False
    is_check: bool = False
    path: str = ""  # in SVG's words
    arrow: str = ""

    @property
    def words(self) -> str:
        """The bond in a sentence's half."""
        if self.is_check:
            return self.reason
        if self.is_ring:
            return f"contradicts: {self.reason}"
        return f"{self.reason} ({'certain' if self.is_certain else 'assumed'})"


@dataclass(frozen=True, kw_only=True)
class Box:
    """A part or a check, with where it stands and why."""

    key: str
    anchor: str
    name: str
    status: str
    kind: Literal["part", "check"]
    is_stopped: bool = False  # it waits, or is held by what waits
    is_ring: bool = False
    more: tuple[str, ...] = ()  # what the list under the picture says besides
    after: tuple[Bond, ...] = ()
    before: tuple[str, ...] = ()
    lines: tuple[str, ...] = ()
    x: float = 0.0  # centre [px]
    y: float = 0.0  # top [px]

    @property
    def words(self) -> str:
        """All of it in one sentence, for hover, focus and screen readers."""
        said = [f"{self.name}: {self.status}", *self.more]
        said += [f"after {bond.first}: {bond.words}" for bond in self.after]
        return ". ".join(said)


@dataclass(frozen=True, kw_only=True)
class Picture:
    """Everything drawn, in the order of the list under it."""

    boxes: tuple[Box, ...]
    width: float
    height: float
    ring: tuple[Constraint, ...] = ()


def laid_out(boxes: list[Box], ring: tuple[Constraint, ...] = ()) -> Picture:
    """Give every box its place and every bond its line."""
    by_key = {box.key: box for box in boxes}
    by_name = {part_key(box.name): box.key for box in boxes if box.kind == "part"}
    boxes = [replace(box, after=(*box.after, *_barred(box, boxes, by_name))) for box in boxes]
    bonds: dict[tuple[str, str], Bond] = {}
    for box in boxes:
        for bond in box.after:
            first = bond.first if bond.first in by_key else by_name.get(part_key(bond.first))
            if first is not None and first != box.key:
                bonds[first, box.key] = bond
    bonds = _without_detours(bonds)
    layers = layered([box.key for box in boxes], list(bonds))
    after: dict[str, list[Bond]] = {}
    before: dict[str, list[str]] = {}
    for (first, then), bond in bonds.items():
        after.setdefault(then, []).append(_line(replace(bond, first=by_key[first].name), layers.paths[first, then]))
        before.setdefault(first, []).append(by_key[then].name)
    placed = [
        replace(
            box,
            anchor=f"n{n}",
            after=tuple(after.get(box.key, ())),
            before=tuple(before.get(box.key, ())),
            lines=_in_lines(box),
            x=MARGIN + layers.x[box.key] * SLOT_W,
            y=MARGIN + layers.row_of(box.key) * ROW_H,
        )
        for n, box in enumerate(boxes, start=1)
    ]
    return Picture(boxes=tuple(placed), ring=ring, **_size(layers))


def _barred(box: Box, boxes: Sequence[Box], by_name: dict[str, str]) -> Iterator[Bond]:
    """A line from every check that bars a box, unless a box it goes over has that line already."""
    below = {by_name.get(part_key(bond.first)) for bond in box.after}
    for check in boxes:
        if check.kind == "check" and box.key in check.before and not below.intersection(check.before):
            reason = "this check is passed first"
            yield Bond(first=check.key, then=box.name, reason=reason, is_certain=True, is_check=True)


def _without_detours(bonds: dict[tuple[str, str], Bond]) -> dict[tuple[str, str], Bond]:
    """The bonds, less those of checks that a longer way says already."""
    before: dict[str, list[str]] = {}
    for first, then in bonds:
        before.setdefault(then, []).append(first)
    kept = dict(bonds)
    for (first, then), bond in bonds.items():
        seen: set[str] = set()
        stack = [other for other in before[then] if other != first] if bond.is_check else []
        while stack:
            at = stack.pop()
            if at not in seen:
                seen.add(at)
                stack += before.get(at, ())
        if first in seen:
            del kept[first, then]
    return kept


def _size(layers: Layers) -> dict[str, float]:
    height = 2 * MARGIN + max(len(layers.rows) - 1, 0) * ROW_H + BOX_H
    return {"width": round(2 * MARGIN + layers.width * SLOT_W), "height": height}


def _in_lines(box: Box) -> tuple[str, ...]:
    """The name, in two lines at the most, and the status in one; what does not fit is in the list."""
    less = SIGN_CHARS * (box.kind == "check")
    name = wrap(box.name, NAME_CHARS - less, max_lines=2, placeholder=" …")
    return (*name, *wrap(box.status, STATUS_CHARS - less, max_lines=1, placeholder=" …"))


def _line(bond: Bond, points: Sequence[tuple[float, int]]) -> Bond:
    """A smooth line from the foot of one box to the head of the other, and the head of its arrow."""
    path, end = "", (0.0, 0.0)
    for n, ((x0, row0), (x1, row1)) in enumerate(pairwise(points)):
        down = row1 > row0
        xa, xb = MARGIN + x0 * SLOT_W, MARGIN + x1 * SLOT_W
        ya = MARGIN + row0 * ROW_H + (BOX_H if down else 0)
        yb = MARGIN + row1 * ROW_H + (0 if down else BOX_H)
        if n == 0:
            path = f"M{xa:.0f} {ya:.0f}"
        else:  # past the row between
            path += f"V{ya:.0f}"
        middle = (ya + yb) / 2
        path += f"C{xa:.0f} {middle:.0f} {xb:.0f} {middle:.0f} {xb:.0f} {yb:.0f}"
        end = (xb, yb)
    tip = 9 if points[-1][1] > points[-2][1] else -9
    arrow = f"M{end[0]:.0f} {end[1]:.0f}l-5 {-tip}h10z"
    return replace(bond, path=path, arrow=arrow)
