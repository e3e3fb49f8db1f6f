"""What the cards say that hold the hardware: what lies in the tray, a hole for each screw, each stack of shims."""

import re
from collections.abc import Sequence
from typing import Final

from camerawright.handbook.threads import nominal_diameter
from camerawright.job.now import JobNow
from camerawright.journal.entries import Fastener, Shim
from camerawright.journal.notation import written_fastener
from camerawright.journal.state import Part
from camerawright.papers import card_content
from camerawright.papers.cards import irreplaceable
from camerawright.papers.letterhead import card_head
from camerawright.refit.part_facts import PartSpec, facts_of
from camerawright.refit.routes import route_of
from camerawright.store.workshop import Workshop
from camerawright.trouble import Refused

UNKNOWN_RING_MM: Final = 3.0
"""Ring for a fastener whose diameter is not known: wider than most screws of a camera (common practice). [mm]"""

CELLS_A_ROW: Final = 4
SHIMS_DRAWN: Final = 11
"""Layers and boxes of a stack that fit on a card; one box more is for the stack."""
STACK_MM: Final = 36.0
"""Height that a stack may take on paper. [mm]"""
SCALES: Final = (50, 20, 10, 5, 2, 1)
NO_CELL: Final = "no cell noted"
_LETTERED: Final = re.compile(r"([A-Z]{1,2})(\d{1,2})")


# Tray card


def tray_card(workshop: Workshop, here: JobNow) -> card_content.TrayCard:
    """What lies in which cell."""
    lying = [part for part in here.state.parts.values() if part.status == "off" or part.out]
    if not lying:
        raise Refused(f"nothing of {here.job.id} is off", "print it while the camera is in parts", "tray card")
    cells: dict[str, list[card_content.PartInCell]] = {}
    for part in sorted(here.state.parts.values(), key=lambda part: part.n_removal):
        if part.removed and part.removed.cell:
            cells.setdefault(_cell_key(part.removed.cell), [])
    for part in sorted(lying, key=lambda part: part.n_removal):
        label = _cell_key((part.removed.cell if part.removed else None) or NO_CELL)
        cells.setdefault(label, []).append(_in_cell(here, part))
    shown = {label: card_content.Cell(label=label, parts=tuple(parts)) for label, parts in cells.items()}
    return card_content.TrayCard(**card_head(workshop, here), rows=_rows(shown))


def _cell_key(name: str) -> str:
    """One spelling of a cell."""
    squeezed = "".join(name.upper().split())
    return squeezed if _LETTERED.fullmatch(squeezed) else name


def _rows(shown: dict[str, card_content.Cell]) -> tuple[tuple[card_content.Cell, ...], ...]:
    """Cells of one letter in rows of their own, by number; what is called otherwise fills up behind them."""
    lettered: dict[str, list[tuple[int, card_content.Cell]]] = {}
    others = []
    for label, cell in shown.items():
        if found := _LETTERED.fullmatch(label):
            lettered.setdefault(found[1], []).append((int(found[2]), cell))
        else:
            others.append(cell)
    rows: list[tuple[card_content.Cell, ...]] = []
    for _, row in sorted(lettered.items(), key=lambda item: (len(item[0]), item[0])):
        cells = [cell for _, cell in sorted(row, key=lambda item: item[0])]
        rows += [tuple(cells[i : i + CELLS_A_ROW]) for i in range(0, len(cells), CELLS_A_ROW)]
    if rows:
        n_free = CELLS_A_ROW - len(rows[-1])
        rows[-1] += tuple(others[:n_free])
        others = others[n_free:]
    rows += [tuple(others[i : i + CELLS_A_ROW]) for i in range(0, len(others), CELLS_A_ROW)]
    return tuple(rows)


def _in_cell(here: JobNow, part: Part) -> card_content.PartInCell:
    """A part and the hardware of it that is still out."""

    def out(kind: str) -> dict[str, int]:
        return {what: count for (of, what), count in part.out.items() if of == kind}

    is_back = part.status != "off"
    return card_content.PartInCell(
        part=part.name,
        screws=sum(out("screw").values()),
        shims=sum(out("shim").values()),
        loose=tuple(f"{count} × {what}" for what, count in out("loose part").items()),
        route=route_of(part.removed).name if part.removed and not is_back else "",
        wet="" if is_back else _wet(part),
        irreplaceable=bool(irreplaceable(here, part.key)) and not is_back,
        is_back=is_back,
    )


def _wet(part: Part) -> str:
    """The warning that a part must not get wet, if it has one."""
    removed = part.removed
    if removed is None or not route_of(removed).never_wet:
        return ""
    doubts = facts_of((PartSpec(removed.part, removed.material, removed.finish, removed.soil),)).doubts
    return "keep dry: material or finish not known" if doubts else "never wet"


# Screw card


def screw_card(workshop: Workshop, here: JobNow) -> card_content.ScrewCard:
    """A hole for each fastener of the parts that are off."""
    parts = tuple(
        card_content.ScrewsOfPart(
            part=part.name, cell=part.removed.cell or "", screws=_like_screws(part.removed.fasteners)
        )
        for part in here.state.off
        if part.removed and part.removed.fasteners
    )
    if not parts:
        raise Refused(f"no screw of {here.job.id} is out", "enter fasteners as their part comes off", "screw card")
    return card_content.ScrewCard(**card_head(workshop, here), parts=parts)


def _like_screws(fasteners: Sequence[Fastener]) -> tuple[card_content.LikeScrews, ...]:
    """Holes with a name keep it; the others are numbered through the part."""
    n_numbered = 0
    shown = []
    for fastener in fasteners:
        if fastener.hole is None:
            holes = tuple(str(n_numbered + i) for i in range(1, fastener.count + 1))
            n_numbered += fastener.count
        elif fastener.count == 1:
            holes = (fastener.hole,)
        else:
            holes = tuple(f"{fastener.hole} {i}" for i in range(1, fastener.count + 1))
        shown.append(_like_screw(fastener, holes))
    return tuple(shown)


def _like_screw(fastener: Fastener, holes: tuple[str, ...]) -> card_content.LikeScrews:
    known = nominal_diameter(fastener.size)
    mm = known.mm if known else UNKNOWN_RING_MM
    length_mm = float(f"{fastener.length_mm:.4g}") if fastener.length_mm is not None else None
    return card_content.LikeScrews(
        words=written_fastener(fastener.model_copy(update={"hole": None, "hand": "right", "length_mm": length_mm})),
        holes=holes,
        diameter_mm=mm,
        ring=f"ring {mm:.3g} mm [{known.source}]" if known else f"ring {mm:g} mm: diameter not known",
        is_known=known is not None,
        length_mm=length_mm,
        length=f"{length_mm:g} mm" if length_mm is not None else "",
        warning="LEFT-HAND" if fastener.hand == "left" else "",
    )


# Shim card


def shim_card(workshop: Workshop, here: JobNow) -> card_content.ShimCard:
    """Every stack of the parts that are off."""
    parts = tuple(
        card_content.ShimsOfPart(
            part=part.name, cell=part.removed.cell or "", stacks=tuple(_stack(shim) for shim in part.removed.shims)
        )
        for part in here.state.off
        if part.removed and part.removed.shims
    )
    if not parts:
        raise Refused(f"no shim of {here.job.id} is out", "enter shims as their part comes off", "shim card")
    return card_content.ShimCard(**card_head(workshop, here), parts=parts)


def _millimetres(thickness_mm: float) -> str:
    """To a hundredth, as a micrometer is read, or as fine as it was given."""
    to_hundredths = f"{thickness_mm:.2f}"
    return f"{to_hundredths if abs(float(to_hundredths) - thickness_mm) < 1e-6 else f'{thickness_mm:.4g}'} mm"


def _stack(shim: Shim) -> card_content.Stack:
    n_drawn = min(shim.count, SHIMS_DRAWN)
    if shim.thickness_mm is None:
        words = f"{shim.count} × thickness not taken"
        return card_content.Stack(
            place=shim.place, words=words, count=shim.count, n_drawn=n_drawn, layer_mm=2.0,
            scale="thickness not known", is_known=False,
        )  # fmt: skip
    each, whole = _millimetres(shim.thickness_mm), _millimetres(shim.count * shim.thickness_mm)
    scale = next((scale for scale in SCALES if scale * shim.thickness_mm * n_drawn <= STACK_MM), None)
    return card_content.Stack(
        place=shim.place,
        words=f"1 × {each}" if shim.count == 1 else f"{shim.count} × {each} = {whole}",
        count=shim.count,
        n_drawn=n_drawn,
        layer_mm=scale * shim.thickness_mm if scale else STACK_MM / n_drawn,
        scale=f"drawn {scale} : 1" if scale else "not drawn to scale",
    )
