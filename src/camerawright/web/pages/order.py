"""The order page: what goes back before what, why, what waits, and when to do the checks."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from typing import Final, Literal

from starlette.requests import Request
from starlette.responses import Response

from camerawright.job.now import JobNow
from camerawright.job.refit import RefitStep, refit_steps
from camerawright.job.remembered import Remembered
from camerawright.journal.entries import part_key
from camerawright.journal.order import Constraint
from camerawright.journal.reached import reached
from camerawright.journal.sides import in_neither
from camerawright.journal.state import Part
from camerawright.refit.way_back import Contradiction, Step, Waiting, WayBack, way_back
from camerawright.web.pages.bench import check_words
from camerawright.web.picture import BOX_W, LINE_H, Bond, Box, Picture, laid_out
from camerawright.web.render import page
from camerawright.web.taking import here, over
from camerawright.wording.numbers import counted

Side = Literal["back", "strip"]

ZOOMS: Final = (25, 50, 75, 100, 150, 200)
AT_FIRST: Final = 75
"""So eight boxes stand on a tablet, and their words are still read at arm's length."""


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
        zoom=int(zoom) if zoom in map(str, ZOOMS) else AT_FIRST,
        zooms=ZOOMS,
        picture=picture(bench, side),
        in_neither=in_neither(bench.facts, bench.state) if side == "back" else {},
        box_w=BOX_W,
        line_h=LINE_H,
    )


_PICTURES: Final[Remembered[Picture]] = Remembered(n_most=32)


def picture(bench: JobNow, side: Side) -> Picture:
    """The picture of one side of a job; kept until something is entered or a wait ends."""
    return _PICTURES.get(
        (bench.job.id, side, over(bench.state, bench.now)), (bench.state, bench.lore), lambda: _drawn(bench, side)
    )


def _drawn(bench: JobNow, side: Side) -> Picture:
    if side == "strip":
        return _strip(bench)
    if bench.ring:
        return laid_out(list(_clash_boxes(bench, bench.ring)), bench.ring)
    return laid_out(_in_turn(list(_way_boxes(bench)), bench))


# -- the way back ------------------------------------------------------------------------------------------------------


def _way_boxes(bench: JobNow) -> Iterator[Box]:
    """The parts that are off, in the order in which they go back, those that wait last."""
    held = _held_by(bench.way)
    for step in refit_steps(bench):
        status = f"{step.n}. goes back next" if step.n == 1 else f"{step.n}. goes back"
        box = replace(_box(step.part, status, _bonds(step)), begins=step.begins)
        yield replace(box, more=(*box.more, f"built {step.built}")) if step.built else box
    for item in bench.way.waiting:
        if item.part.awaiting and item.reason == item.part.awaiting.awaiting:
            holds = held.get(item.part.key, ())
            box = _box(item.part, f"waits: {item.reason}", _bonds(item))
            held_words = f"holds up: {', '.join(holds)}" if holds else "holds up nothing else"
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


def _bonds(step: RefitStep | Waiting) -> list[Bond]:
    return [Bond(first=bond.then, then=bond.first, reason=bond.reason, is_certain=bond.certain) for bond in step.after]


def _held_by(way: WayBack) -> dict[str, tuple[str, ...]]:
    """What each waiting part holds up, by its key: everything that must go back after it."""
    over: dict[str, list[str]] = {}
    for item in way.waiting:
        for bond in item.after:
            over.setdefault(bond.keys[1], []).append(item.part.key)
    names = {item.part.key: item.part.name for item in way.waiting}
    held = {key: reached([key], over) for key in names}
    return {key: tuple(name for other, name in names.items() if other in held[key]) for key in names}


def _in_turn(parts: list[Box], bench: JobNow) -> list[Box]:
    """The parts and the checks, each check before the part that goes back after it; those that wait at the end."""
    checks = list(zip(bench.way.checks, _check_boxes(bench), strict=True))
    boxes = []
    for part in parts:
        boxes += [box for check, box in checks if check.before and check.before.key == part.key and not box.is_stopped]
        boxes.append(part)
    return boxes + [box for check, box in checks if check.before is None or box.is_stopped]


def _check_boxes(bench: JobNow) -> Iterator[Box]:
    """The open checks; the boxes they bar get a line from each."""
    off = {part.key: part.name for part in bench.state.off}
    for check in bench.way.checks:
        needs = [off[part_key(need)] for need in check.hold.needs if part_key(need) in off]
        after = [
            Bond(
                first=need,
                then=check.hold.check,
                reason="the check needs this part in place",
                is_certain=True,
                is_check=True,
            )
            for need in needs
        ]
        bars = tuple(part.name for part in check.bars)
        more = (
            check_words(check),
            *((f"needs in place: {', '.join(check.hold.needs)}",) if check.hold.needs else ()),
            *((f"do it before these go back: {', '.join(bars)}",) if bars else ()),
        )
        yield Box(
            key=f"check {check.hold.id}",
            anchor="",
            name=check.hold.check,
            status=f"failure costs {counted(check.n_off_now, 'part')}",
            kind="check",
            is_stopped=check.is_waiting,
            more=more,
            after=tuple(after),
            before=tuple(part.key for part in check.bars),
        )


# -- what contradicts itself -------------------------------------------------------------------------------------------


def _surely(bench: JobNow, keys: Iterable[str]) -> list[Constraint]:
    """The certain constraints among some parts."""
    among = set(keys)
    return [
        each
        for each in bench.known.constraints
        if each.certain and among.issuperset(each.keys) and each.keys[0] != each.keys[1]
    ]


def _clash_boxes(bench: JobNow, ring: tuple[Constraint, ...]) -> Iterator[Box]:
    """The parts that are off with their certain bonds, the ring among them marked."""
    clashing = {each.keys for each in ring}
    in_ring = {key for keys in clashing for key in keys}
    surely = {each.keys: each for each in (*_surely(bench, (part.key for part in bench.state.off)), *ring)}
    for part in reversed(bench.state.off):
        after = [
            Bond(first=each.then, then=each.first, reason=each.reason, is_certain=True, is_ring=keys in clashing)
            for keys, each in surely.items()
            if keys[0] == part.key
        ]
        status = "in the contradiction" if part.key in in_ring else "no order until solved"
        yield replace(_box(part, status, after), is_ring=part.key in in_ring, is_stopped=True)


# -- the strip-down ----------------------------------------------------------------------------------------------------


def _strip(bench: JobNow) -> Picture:
    """What is still on, as it is expected to come off: the way back of these parts, read from its end."""
    untouched = [key for key in bench.lore.order if bench.state.part(key).removed is None]
    parts = [
        Part(key=key, name=bench.lore.parts[key].name, status="off", n_removal=n) for n, key in enumerate(untouched)
    ]
    try:
        way = way_back(parts, replace(bench.facts, last={}))
    except Contradiction as clash:
        return laid_out(list(_strip_boxes(bench, parts, (), clash.ring)), clash.ring)
    return laid_out(list(_strip_boxes(bench, parts, way.steps, ())))


def _strip_boxes(
    bench: JobNow, parts: Sequence[Part], steps: Sequence[Step], ring: tuple[Constraint, ...]
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
