"""The order as a picture: boxes in rows, lines between them, each with its reason.

graphlay computes where they stand [sugiyama-1981].
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from math import atan2, degrees, hypot
from textwrap import wrap
from typing import Any, Final, Literal

import graphlay

from camerawright.journal.entries import part_key
from camerawright.journal.order import Constraint
from camerawright.journal.reached import reached

BOX_W: Final = 224
LINE_H: Final = 21
MARGIN: Final = 14
NAME_CHARS: Final = 19
STATUS_CHARS: Final = 24
"""What fits on a line of a box: letters of 10.4 px in bold, of 8.3 px in plain (the widest of the usual faces)."""
MOST_LINES: Final = 6
"""The most lines of a name, and of a status, in a box. What is longer stands in the list."""
SIGN_CHARS: Final = 4
"""Room for the sign of a check."""
ROUNDING: Final = 8
"""How much of a line's corner is cut off. [px]"""

_LAYOUT: Final = {
    "direction": "topbottom",
    "effort": "fast",
    "routing": {"style": "orthogonal", "bundle_parallel": False, "port_sides": "facing_only"},
    "spacing": {"layer_gap": 26, "node_gap": 24, "dummy_gap": 16, "port_gap": 16, "isolated_gap": 24},
    # Without these the picture of 400 parts takes nine seconds instead of one and a half.
    "tuning": {"coords": {"simplex_max_nodes": 2500, "snap_rounds": 0, "branch_rounds": 0, "flatten_room": 0}},
}

Point = tuple[float, float]


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
    arrow: str = ""  # where its head goes, as an SVG transformation

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
    begins: str = ""  # the sub-assembly that begins with it
    x: float = 0.0  # centre [px]
    y: float = 0.0  # top [px]

    @cached_property
    def lines(self) -> tuple[tuple[str, str], ...]:
        """The words in it, line by line, each with its kind: "name" or "status"."""
        less = SIGN_CHARS * (self.kind == "check")
        name = wrap(self.name, NAME_CHARS - less, max_lines=MOST_LINES, placeholder=" …")
        status = wrap(self.status, STATUS_CHARS - less, max_lines=MOST_LINES, placeholder=" …")
        return (*(("name", line) for line in name), *(("status", line) for line in status))

    @property
    def height(self) -> int:
        """Room for its lines. [px]"""
        return LINE_H * len(self.lines) + 10

    @property
    def words(self) -> str:
        """All of it in one sentence, for hover, focus and screen readers."""
        said = [f"{self.name}: {self.status}", *self.more]
        said += [f"after {bond.first}: {bond.words}" for bond in self.after]
        return ". ".join(said)


@dataclass(frozen=True, kw_only=True)
class Picture:
    """Everything drawn, in the order of the list under it. [px]"""

    boxes: tuple[Box, ...]
    width: float
    height: float
    ring: tuple[Constraint, ...] = ()


def laid_out(boxes: Sequence[Box], ring: tuple[Constraint, ...] = ()) -> Picture:
    """Give every box its place and every bond its line."""
    bonds = _bonds(boxes)
    drawing = _drawing(boxes, list(bonds))
    (left, right), (top, bottom) = ([drawing.bounds[end][axis] for end in ("min", "max")] for axis in ("x", "y"))
    x0, y0 = left - MARGIN, top - MARGIN
    names = {box.key: box.name for box in boxes}
    after: dict[str, list[Bond]] = {}
    before: dict[str, list[str]] = {}
    for ((first, then), bond), edge in zip(bonds.items(), drawing.edges, strict=True):
        line = [(point["x"] - x0, point["y"] - y0) for point in edge["points"]]
        drawn = replace(bond, first=names[first], path=_rounded(line), arrow=_arrow(*line[-2:]))
        after.setdefault(then, []).append(drawn)
        before.setdefault(first, []).append(names[then])
    placed = tuple(
        replace(
            box,
            anchor=f"n{n}",
            after=tuple(after.get(box.key, ())),
            before=tuple(before.get(box.key, ())),
            x=x - x0,
            y=y - y0 - box.height / 2,
        )
        for n, (box, (x, y)) in enumerate(zip(boxes, drawing.positions().values(), strict=True), start=1)
    )
    return Picture(
        boxes=placed, ring=ring, width=round(right - left + 2 * MARGIN), height=round(bottom - top + 2 * MARGIN)
    )


def _drawing(boxes: Sequence[Box], edges: Sequence[tuple[str, str]]) -> graphlay.Layout:
    """Where the boxes stand and the lines run; what waits for nothing stands in the top row."""
    follows = {then for _, then in edges}
    graph = graphlay.Graph()
    for box in boxes:
        rank: dict[str, Any] = {} if box.key in follows else {"rank": {"fixed": 0}}
        graph.node(box.key, width=BOX_W, height=box.height, **rank)
    for first, then in edges:
        graph.edge(first, then)
    return graphlay.layout(graph, options=_LAYOUT)


# -- the bonds ---------------------------------------------------------------------------------------------------------


def _bonds(boxes: Sequence[Box]) -> dict[tuple[str, str], Bond]:
    """Every bond by the keys of the boxes it joins."""
    keys = {box.key for box in boxes}
    by_name = {part_key(box.name): box.key for box in boxes if box.kind == "part"}
    bonds: dict[tuple[str, str], Bond] = {}
    for box in boxes:
        for bond in (*box.after, *_barred(box, boxes, by_name)):
            first = bond.first if bond.first in keys else by_name.get(part_key(bond.first))
            if first is not None and first != box.key:
                bonds[first, box.key] = bond
    return _without_detours(bonds)


def _barred(box: Box, boxes: Sequence[Box], by_name: Mapping[str, str]) -> Iterator[Bond]:
    """A line from every check that bars a box, unless a box it goes over has that line already."""
    below = {by_name.get(part_key(bond.first)) for bond in box.after}
    for check in boxes:
        if check.kind == "check" and box.key in check.before and not below.intersection(check.before):
            reason = "do this check first"
            yield Bond(first=check.key, then=box.name, reason=reason, is_certain=True, is_check=True)


def _without_detours(bonds: dict[tuple[str, str], Bond]) -> dict[tuple[str, str], Bond]:
    """The bonds, less those of checks that a longer way says already."""
    before: dict[str, list[str]] = {}
    for first, then in bonds:
        before.setdefault(then, []).append(first)
    return {
        (first, then): bond
        for (first, then), bond in bonds.items()
        if not (bond.is_check and first in reached([other for other in before[then] if other != first], before))
    }


# -- how it is drawn ---------------------------------------------------------------------------------------------------


def _rounded(line: Sequence[Point]) -> str:
    """A line with its corners rounded off."""
    path = "M{:.0f} {:.0f}".format(*line[0])
    for before, corner, after in zip(line, line[1:], line[2:], strict=False):
        path += "L{:.0f} {:.0f}".format(*_toward(corner, before))
        path += "Q{:.0f} {:.0f} {:.0f} {:.0f}".format(*corner, *_toward(corner, after))
    return path + "L{:.0f} {:.0f}".format(*line[-1])


def _toward(corner: Point, other: Point) -> Point:
    """The point of a line a little away from its corner, at most half way to the other end."""
    length = hypot(other[0] - corner[0], other[1] - corner[1])
    share = min(0.5, ROUNDING / length) if length else 0.0
    return corner[0] + share * (other[0] - corner[0]), corner[1] + share * (other[1] - corner[1])


def _arrow(before: Point, end: Point) -> str:
    """The head of an arrow that points down at 0, 0, moved to the end of a line and turned its way."""
    turn = degrees(atan2(end[1] - before[1], end[0] - before[0])) - 90
    return f"translate({end[0]:.0f} {end[1]:.0f}) rotate({turn:.0f})"
