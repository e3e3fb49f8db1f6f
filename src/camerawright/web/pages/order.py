"""The order as a picture: what goes back before what, why, what waits, and where the checks stand."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from textwrap import wrap
from typing import Final, Literal

from starlette.requests import Request
from starlette.responses import Response

from camerawright.journal.entries import part_key
from camerawright.journal.order import Constraint, constraints_said, contradiction, independent_pairs
from camerawright.journal.state import Part
from camerawright.refit.layers import Layers, layered
from camerawright.refit.way_back import Contradiction, Step, Waiting, WayBack, way_back
from camerawright.stages.bench import Bench
from camerawright.stages.remembered import Remembered
from camerawright.web.pages.bench import check_words
from camerawright.web.render import page
from camerawright.web.taking import here, over
from camerawright.web.words import count_of

Side = Literal["back", "strip"]

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
ZOOMS: Final = (25, 50, 75, 100, 150, 200)


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


def show(request: Request) -> Response:
    """The way back; or, before anything came off, the strip-down."""
    bench = here(request)
    asked = request.query_params.get("side", "")
    side: Side = "strip" if asked == "strip" or (asked != "back" and not bench.state.off) else "back"
    zoom = request.query_params.get("zoom", "")
    return page(
        request,
        "order.html",
        here=bench,
        tab="order",
        side=side,
        zoom=int(zoom) if zoom in map(str, ZOOMS) else 100,
        zooms=ZOOMS,
        picture=picture(bench, side),
        box_w=BOX_W,
        box_h=BOX_H,
    )


_PICTURES: Final[Remembered[Picture]] = Remembered(n_most=32)


def picture(bench: Bench, side: Side) -> Picture:
    """The picture of one side of a job; kept until something is entered or a wait ends."""
    return _PICTURES.get(
        (bench.job.id, side, over(bench.state, bench.now)), (bench.state, bench.lore), lambda: _drawn(bench, side)
    )


def _drawn(bench: Bench, side: Side) -> Picture:
    if side == "strip":
        return _strip(bench)
    ring = _ring(bench)
    if ring:
        return _laid_out(list(_clash_boxes(bench, ring)), ring)
    return _laid_out(_in_turn(list(_way_boxes(bench)), bench))


# -- the way back ------------------------------------------------------------------------------------------------------


def _way_boxes(bench: Bench) -> Iterator[Box]:
    """The parts that are off, in the order in which they go back, those that wait last."""
    held = _held_by(bench.way)
    for n, step in enumerate(bench.way.steps, start=1):
        status = f"{n}. goes back next" if n == 1 else f"{n}. goes back"
        yield _box(step.part, status, _bonds(step))
    for item in bench.way.waiting:
        if item.part.awaiting and item.reason == item.part.awaiting.awaiting:
            holds = held.get(item.part.key, ())
            box = _box(item.part, f"waits: {item.reason}", _bonds(item))
            held_words = f"held by it: {', '.join(holds)}" if holds else "nothing is held by it"
            yield replace(box, is_stopped=True, more=(*box.more, held_words))
        else:
            yield replace(_box(item.part, f"held: {item.reason}", _bonds(item)), is_stopped=True)


def _box(part: Part, status: str, after: Sequence[Bond]) -> Box:
    cell = (f"cell {part.removed.cell}",) if part.removed and part.removed.cell else ()
    return Box(
        key=part.key,
        anchor="",
        name=part.name,
        status=status,
        kind="part",
        after=tuple(after),
        more=cell if cell else (),
    )


def _bonds(step: Step | Waiting) -> list[Bond]:
    return [Bond(first=bond.then, then=bond.first, reason=bond.reason, is_certain=bond.certain) for bond in step.after]


def _held_by(way: WayBack) -> dict[str, tuple[str, ...]]:
    """What stands still because a part waits, by its key: everything that must go back after it."""
    over: dict[str, list[Part]] = {}
    for item in way.waiting:
        for bond in item.after:
            over.setdefault(bond.keys[1], []).append(item.part)
    held = {}
    for item in way.waiting:
        found: dict[str, str] = {}
        stack = [item.part.key]
        while stack:
            for part in over.get(stack.pop(), ()):
                if part.key not in found:
                    found[part.key] = part.name
                    stack.append(part.key)
        held[item.part.key] = tuple(found.values())
    return held


def _in_turn(parts: list[Box], bench: Bench) -> list[Box]:
    """The parts and the checks, each check before the part that goes back after it; those that wait at the end."""
    checks = list(zip(bench.way.checks, _check_boxes(bench), strict=True))
    boxes = []
    for part in parts:
        boxes += [box for check, box in checks if check.before and check.before.key == part.key and not box.is_stopped]
        boxes.append(part)
    return boxes + [box for check, box in checks if check.before is None or box.is_stopped]


def _check_boxes(bench: Bench) -> Iterator[Box]:
    """The open checks; the boxes they bar get a line from each."""
    off = {part.key: part.name for part in bench.state.off}
    for check in bench.way.checks:
        needs = [off[part_key(need)] for need in check.hold.needs if part_key(need) in off]
        after = [
            Bond(
                first=need, then=check.hold.check, reason="the check needs it in place", is_certain=True, is_check=True
            )
            for need in needs
        ]
        bars = tuple(part.name for part in check.bars)
        more = (
            check_words(check),
            *((f"needs in place: {', '.join(check.hold.needs)}",) if check.hold.needs else ()),
            *((f"before it: none of {', '.join(bars)} goes back",) if bars else ()),
        )
        yield Box(
            key=f"check {check.hold.id}",
            anchor="",
            name=check.hold.check,
            status=f"failure costs {count_of(check.n_off_now, 'part')}",
            kind="check",
            is_stopped=check.is_waiting,
            more=more,
            after=tuple(after),
            before=tuple(part.key for part in check.bars),
        )


# -- what contradicts itself -------------------------------------------------------------------------------------------


def _surely(bench: Bench, keys: Iterable[str]) -> list[Constraint]:
    """The certain constraints among some parts."""
    among = set(keys)
    said = (*bench.lore.constraints, *constraints_said(bench.state))
    return [each for each in said if each.certain and among.issuperset(each.keys) and each.keys[0] != each.keys[1]]


def _ring(bench: Bench) -> tuple[Constraint, ...]:
    """The shortest set of constraints that cannot all hold, if there is one."""
    return contradiction(_surely(bench, (part.key for part in bench.state.off))) if bench.known.clash else ()


def _clash_boxes(bench: Bench, ring: tuple[Constraint, ...]) -> Iterator[Box]:
    """The parts that are off with their certain bonds, the ring among them marked."""
    clashing = {each.keys for each in ring}
    in_ring = {key for keys in clashing for key in keys}
    surely = {each.keys: each for each in _surely(bench, (part.key for part in bench.state.off))}
    for part in reversed(bench.state.off):
        after = [
            Bond(first=each.then, then=each.first, reason=each.reason, is_certain=True, is_ring=keys in clashing)
            for keys, each in surely.items()
            if keys[0] == part.key
        ]
        status = "in the contradiction" if part.key in in_ring else "no order while it lasts"
        yield replace(_box(part, status, after), is_ring=part.key in in_ring, is_stopped=True)


# -- the strip-down ----------------------------------------------------------------------------------------------------


def _strip(bench: Bench) -> Picture:
    """What is still on, as it is expected to come off: the way back of these parts, read from its end."""
    untouched = [key for key in bench.lore.order if bench.state.part(key).removed is None]
    parts = [
        Part(key=key, name=bench.lore.parts[key].name, status="off", n_removal=n) for n, key in enumerate(untouched)
    ]
    constraints = (*bench.lore.constraints, *constraints_said(bench.state))
    try:
        way = way_back(parts, constraints, free=bench.lore.free | independent_pairs(bench.state))
    except Contradiction as clash:
        return _laid_out(list(_strip_boxes(bench, parts, (), clash.ring)), clash.ring)
    return _laid_out(list(_strip_boxes(bench, parts, way.steps, ())))


def _strip_boxes(
    bench: Bench, parts: Sequence[Part], steps: Sequence[Step], ring: tuple[Constraint, ...]
) -> Iterator[Box]:
    bonds: dict[str, list[Bond]] = {}
    bound = [bond for step in steps for bond in step.after] or list(ring)
    for bond in bound:
        reason = bond.reason if bond.certain else "the usual order of removal"
        bonds.setdefault(bond.keys[1], []).append(
            Bond(first=bond.first, then=bond.then, reason=reason, is_certain=bond.certain, is_ring=bool(ring))
        )
    in_ring = {key for each in ring for key in each.keys}
    for n, part in enumerate(parts, start=1):
        lore = bench.lore.parts[part.key]
        status = "comes off next" if n == 1 else "comes off"
        more = tuple(f"hazard: {hazard}" for hazard in bench.hazards(part.name))
        more += tuple(f"mark to note: {mark}" for mark in lore.marks[:1])
        more += (f"seen on {lore.carried_from}, not on this variant",) if lore.carried_from else ()
        box = _box(part, f"{n}. {status}", bonds.get(part.key, ()))
        yield replace(box, more=more, is_ring=part.key in in_ring)


# -- where everything stands -------------------------------------------------------------------------------------------


def _laid_out(boxes: list[Box], ring: tuple[Constraint, ...] = ()) -> Picture:
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
