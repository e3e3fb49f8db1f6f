"""Invented cards for the tests, of the same invented camera as the papers."""

from collections.abc import Callable
from dataclasses import fields, is_dataclass, replace
from typing import Any

from camerawright.papers.hazard_card import HazardCard, PartHazards
from camerawright.papers.lubrication_chart import LubricationChart, PointShown
from camerawright.papers.owners_card import OwnersCard, SpeedShown
from camerawright.papers.paper import Line
from camerawright.papers.refit_sheet import RefitSheet
from camerawright.papers.refit_steps import Step
from camerawright.papers.resume_card import ResumeCard
from camerawright.papers.screw_card import LikeScrews, ScrewCard, ScrewsOfPart
from camerawright.papers.shim_card import ShimCard, ShimsOfPart, Stack
from camerawright.papers.tray_card import Cell, PartInCell, TrayCard
from tests.papers.paper_examples import HEAD, PARTS

STATE = "shutter released, focus at infinity"


def part(i: int) -> str:
    """A part's name; no two are alike."""
    return f"{PARTS[i % len(PARTS)]} {i + 1}"


def step(i: int) -> Step:
    """Every third step is rich, the others short."""
    screws = Line(label="fasteners", words=f"{1 + i % 5} × M1.7 × 3.{i % 10}")
    plain = Step(n=i + 1, part=part(i), lines=(screws,), cell=f"B{i + 1}")
    if i % 3:
        return plain
    return replace(
        plain,
        cautions=("A hairpin spring is set free when this is moved.",),
        lines=(
            Line(label="only when", words="shutter released: the lug jumps its pins when cocked"),
            Line(label="mark", words="scribed line against the pillar"),
            Line(label="shims", words="1 × 0.05 mm, upper pivot"),
            Line(label="shims", words="2 × 0.10 mm, lower pivot"),
            screws,
            Line(label="check first", words="1 s fired ten times without a stall.", to_tick=True),
            Line(label="remember", words="Hook the return spring on its post.", to_tick=True),
            Line(label="loose", words="2 × ball 1.5 mm at detent"),
        ),
    )


def strip(n: int) -> RefitSheet:
    """A refit strip of `n` steps."""
    return RefitSheet(
        **HEAD,
        state=STATE,
        steps=tuple(map(step, range(n))),
        waiting=(Line(label="bellows", words="adhesive cures"),),
        owed=("test roll",),
        aids=("tape",),
    )


def tray(n: int) -> TrayCard:
    """A tray of `n` filled cells, and one that is empty again."""
    filled = [
        Cell(
            label=f"{'ABCDEFGHIJKLMNOP'[i // 4]}{i % 4 + 1}",
            parts=(
                PartInCell(
                    part=part(i),
                    screws=i % 4,
                    shims=i % 3,
                    loose=("2 × ball 1.5 mm, detent",) if i % 5 == 0 else (),
                    route="hand wash, neutral detergent",
                    wet="never wet" if i % 7 == 0 else "",
                    irreplaceable=i % 11 == 0,
                    is_back=i % 13 == 12,
                ),
            ),
        )
        for i in range(n)
    ]
    cells = [*filled, Cell(label="lid of the blue tin")]
    return TrayCard(**HEAD, rows=tuple(tuple(cells[i : i + 4]) for i in range(0, len(cells), 4)))


def crammed_tray() -> TrayCard:
    """Forty parts in one cell."""
    parts = tuple(PartInCell(part=part(i), screws=2, route="soft dry brush") for i in range(40))
    return TrayCard(**HEAD, rows=((Cell(label="A1", parts=parts), Cell(label="A2")),))


def screws(n: int) -> ScrewCard:
    """The screws of `n` parts."""
    kinds = (
        LikeScrews(
            words="3 × M1.7 × 4 cheese", holes=("1", "2", "3"), diameter_mm=1.7, ring="ring 1.7 mm [iso-261]",
            length_mm=4.0, length="4 mm",
        ),
        LikeScrews(
            words="2 × 10BA × 6 countersunk", holes=("NE corner 1", "NE corner 2"), diameter_mm=1.7,
            ring="ring 1.7 mm [bs-93]", length_mm=6.0, length="6 mm", warning="LEFT-HAND",
        ),
        LikeScrews(
            words='1 × "taper pin"', holes=("beneath the accessory shoe, left",), diameter_mm=3.0,
            ring="ring 3 mm: diameter not known", is_known=False,
        ),
    )  # fmt: skip
    return ScrewCard(
        **HEAD,
        parts=tuple(
            ScrewsOfPart(part=part(i), cell=f"B{i + 1}", screws=kinds if i % 4 == 0 else kinds[:1]) for i in range(n)
        ),
    )


def one_screw(diameter_mm: float, length_mm: float, *, count: int = 1) -> ScrewCard:
    """A card to measure."""
    kind = LikeScrews(
        words="screws", holes=tuple(str(i + 1) for i in range(count)), diameter_mm=diameter_mm, ring="ring",
        length_mm=length_mm, length=f"{length_mm:g} mm",
    )  # fmt: skip
    return ScrewCard(**HEAD, parts=(ScrewsOfPart(part="plate", screws=(kind,)),))


def stack(place: str, count: int, layer_mm: float = 5.0, *, n_drawn: int | None = None) -> Stack:
    """A stack of tenths, drawn fifty times as thick."""
    return Stack(
        place=place,
        words=f"{count} × 0.10 mm = {count / 10:.2f} mm",
        count=count,
        n_drawn=count if n_drawn is None else n_drawn,
        layer_mm=layer_mm,
        scale="drawn 50 : 1",
    )


def shims(n: int) -> ShimCard:
    """The shims of `n` parts."""
    unknown = replace(stack("under the post", 1), words="1 × thickness not taken", scale="not known", is_known=False)
    stacks = (stack("NE corner", 3), unknown, replace(stack("SW corner", 40, 3.0, n_drawn=11)))
    return ShimCard(
        **HEAD,
        parts=tuple(
            ShimsOfPart(part=part(i), cell=f"C{i + 1}", stacks=stacks if i % 5 == 0 else stacks[:1]) for i in range(n)
        ),
    )


def hazards(n: int) -> HazardCard:
    """What to mind with `n` parts."""
    return HazardCard(
        **HEAD,
        state=STATE,
        parts=tuple(
            PartHazards(
                part=part(i),
                moves=("goes back", "waits", "if it comes off")[i % 3],
                escapes="return spring, ball 1.5 mm" if i % 2 == 0 else "",
                cautions=(f"It jumps off its stud number {i + 1}: hold it with pegwood.",),
                needs=("shutter released: the lug jumps its pins when cocked",) if i % 3 == 0 else (),
                irreplaceable="no donor known" if i % 4 == 0 else "",
            )
            for i in range(n)
        ),
        held=("tape: over the blades", "main spring: 2.25 turns are owed to it"),
    )


def lubrication(n: int) -> LubricationChart:
    """A chart of `n` points, a third of them dry, and half as many of parts that were not off."""
    points = [
        PointShown(
            part=part(i),
            point=f"pivot {i + 1}, lower plate",
            amount="dry" if i % 3 == 2 else ("film", "touch", "fill")[i % 4 % 3],
            lubricant="" if i % 3 == 2 else f"synthetic clock oil, batch {i}",
            why="Excess creeps off the pivot. [common practice]" if i % 2 else "",
            doubt="The handbook says that it stays dry." if i % 5 == 4 else "",
            known_from=("this job", "earlier jobs", "seen on first pattern")[i % 3],
            is_done=i % 3 == 0,
        )
        for i in range(n)
    ]
    return LubricationChart(
        **HEAD,
        points=tuple(point for point in points if point.amount != "dry"),
        dry=tuple(point for point in points if point.amount == "dry"),
        untouched=tuple(replace(point, amount="film") for point in points[: n // 2]),
        amounts=tuple(Line(label=name, words=f"this much of it: {name}") for name in ("film", "touch")),
    )


def resume(n: int) -> ResumeCard:
    """Where the work was left, with `n` of everything."""
    return ResumeCard(
        **HEAD,
        state=STATE,
        next_step="goes back next: slow train",
        next_hazard="slow train: its return spring jumps off its stud" if n else "",
        loose=tuple(f"ball {i + 1} (free since cam ring came off)" for i in range(min(n, 8))),
        do_not_move=tuple(f"tape {i + 1}: over the blades" for i in range(n)),
        timers=tuple(
            Line(label=part(i), words=f"shellac cures, until {i + 1} March 2025, 12:00") for i in range(min(n, 28))
        ),
        out="14 screws, 2 shims" if n else "",
        last=tuple(Line(label=f"10 Mar, 10:{i:02d}", words=f"removed: {part(i)}") for i in range(min(n, 5))),
    )


def owner(n: int, *, n_apertures: int = 3) -> OwnersCard:
    """An owner's card of `n` speeds at so many apertures."""
    return OwnersCard(
        **HEAD,
        apertures=tuple(f"f/{2.0 * 1.4**i:.2g}" for i in range(n_apertures)) if n_apertures > 1 else (),
        speeds=tuple(
            SpeedShown(
                marked=f"1/{100 + i}",
                gives=f"1/{200 + i}",
                off=tuple(f"+{i / 10 + j / 10:.1f}" for j in range(n_apertures)) if n_apertures > 1
                else (f"{i / 10:.1f} fast",),
            )
            for i in range(n)
        ),
        expanded_u="0.05",
        sentence="1/500 gives about 1/310: 0.7 stop more light than the dial says.",
        note="1/60 is exactly 1/64.",
    )  # fmt: skip


HOSTILE = r"#strike[x] *a* $x$ \\ `c` <l> @r _u_ // y /* z */ = h ~ -- 'q' " + "W" * 40
"""Markup, and a word that no column was made for."""


OURS = {
    "job",
    "ring",
    "length",
    "warning",
    "scale",
    "moves",
    "speeds",
    "expanded_u",
    "apertures",
    "sentence",
    "note",
    "label",
}
"""Texts that nobody types."""


def lengthened(value: Any) -> Any:
    """The same card with `HOSTILE` behind every text that somebody typed."""
    if isinstance(value, str):
        return f"{value} {HOSTILE}"
    if isinstance(value, tuple):
        return tuple(map(lengthened, value))
    if is_dataclass(value) and not isinstance(value, type):
        longer = {f.name: lengthened(getattr(value, f.name)) for f in fields(value) if f.name not in OURS}
        return replace(value, **longer)
    return value


_MAKERS: dict[str, Callable[[int], Any]] = {
    "strip": strip,
    "tray": tray,
    "screws": screws,
    "shims": shims,
    "hazards": hazards,
    "lubrication": lubrication,
    "resume": resume,
    "owner": owner,
}

CARDS: dict[str, tuple[str, Any]] = {
    **{f"{name}, {n}": (name, make(n)) for name, make in _MAKERS.items() for n in (0, 1, 60)},
    **{f"{name}, long": (name, lengthened(make(1))) for name, make in _MAKERS.items()},
    "owner, wide open only": ("owner", owner(9, n_apertures=1)),
    "owner, nine apertures": ("owner", owner(11, n_apertures=9)),
    "tray, crammed": ("tray", crammed_tray()),
}
"""Each card empty, with one row, sixty, and one with hostile words; and a tray cell with everything in it."""
