"""The tray card: what lies in which cell, row by row."""

import re
from dataclasses import dataclass
from typing import Final

from camerawright.handbook.solvents import CARE
from camerawright.job.now import JobNow
from camerawright.journal.state import Part
from camerawright.papers.paper import Paper, head
from camerawright.refit.decided_route import route_at_the_bench
from camerawright.store.workshop import Workshop
from camerawright.trouble import Refused

CELLS_A_ROW: Final = 4
NO_CELL: Final = "no cell noted"
_LETTERED: Final = re.compile(r"([A-Z]{1,2})(\d{1,2})")


@dataclass(frozen=True, kw_only=True)
class PartInCell:
    """A part in its tray cell and what lies with it; `is_back` where only its hardware is left there."""

    part: str
    screws: int = 0
    shims: int = 0
    loose: tuple[str, ...] = ()
    route: str = ""  # how it is cleaned
    notes: tuple[int, ...] = ()  # numbers of the cautions at the foot
    wet: str = ""  # a warning, if it has one
    irreplaceable: bool = False
    is_back: bool = False


@dataclass(frozen=True, kw_only=True)
class Cell:
    """A tray cell. `parts` is empty where nothing lies in it now."""

    label: str
    parts: tuple[PartInCell, ...] = ()


@dataclass(frozen=True, kw_only=True)
class TrayCard(Paper):
    """The tray as it is filled, row by row; each caution of cleaning once, numbered from 1."""

    rows: tuple[tuple[Cell, ...], ...]
    cautions: tuple[str, ...] = ()


def tray_card(workshop: Workshop, here: JobNow) -> TrayCard:
    """What lies in which cell."""
    lying = [part for part in here.state.parts.values() if part.status == "off" or part.out]
    if not lying:
        raise Refused(f"nothing of {here.job.id} is off", "print it while the camera is in parts", "tray card")
    cells: dict[str, list[PartInCell]] = {}
    cautions: list[str] = []
    for part in sorted(here.state.parts.values(), key=lambda part: part.n_removal):
        if part.removed and part.removed.cell:
            cells.setdefault(_cell_key(part.removed.cell), [])
    for part in sorted(lying, key=lambda part: part.n_removal):
        label = _cell_key((part.removed.cell if part.removed else None) or NO_CELL)
        cells.setdefault(label, []).append(_in_cell(here, part, cautions))
    shown = {label: Cell(label=label, parts=tuple(parts)) for label, parts in cells.items()}
    return TrayCard(**head(workshop, here), rows=_rows(shown), cautions=tuple(cautions))


def _cell_key(name: str) -> str:
    """One spelling of a cell."""
    squeezed = "".join(name.upper().split())
    return squeezed if _LETTERED.fullmatch(squeezed) else name


def _rows(shown: dict[str, Cell]) -> tuple[tuple[Cell, ...], ...]:
    """Cells of one letter in rows of their own, by number; what is called otherwise fills up behind them."""
    lettered: dict[str, list[tuple[int, Cell]]] = {}
    others = []
    for label, cell in shown.items():
        if found := _LETTERED.fullmatch(label):
            lettered.setdefault(found[1], []).append((int(found[2]), cell))
        else:
            others.append(cell)
    rows: list[tuple[Cell, ...]] = []
    for _, row in sorted(lettered.items(), key=lambda item: (len(item[0]), item[0])):
        cells = [cell for _, cell in sorted(row, key=lambda item: item[0])]
        rows += [tuple(cells[i : i + CELLS_A_ROW]) for i in range(0, len(cells), CELLS_A_ROW)]
    if rows:
        n_free = CELLS_A_ROW - len(rows[-1])
        rows[-1] += tuple(others[:n_free])
        others = others[n_free:]
    rows += [tuple(others[i : i + CELLS_A_ROW]) for i in range(0, len(others), CELLS_A_ROW)]
    return tuple(rows)


def _in_cell(here: JobNow, part: Part, cautions: list[str]) -> PartInCell:
    """A part and the hardware of it that is still out; what to be careful about joins the cautions at the foot."""

    def out(kind: str) -> dict[str, int]:
        return {what: count for (of, what), count in part.out.items() if of == kind}

    is_back = part.status != "off"
    made = None if is_back else route_at_the_bench(part, here.state)
    said = [str(caution) for turn in (made.turns() if made else ()) for caution in turn.cautions if caution != CARE]
    cautions += [text for text in dict.fromkeys(said) if text not in cautions]
    return PartInCell(
        part=part.name,
        screws=sum(out("screw").values()),
        shims=sum(out("shim").values()),
        loose=tuple(f"{count} × {what}" for what, count in out("loose part").items()),
        route=", then ".join(turn.name for turn in made.turns()) if made else "",
        notes=tuple(sorted({cautions.index(text) + 1 for text in said})),
        wet="never wet" if made and made.never_wet else "",
        irreplaceable=bool(here.irreplaceable(part.name)) and not is_back,
        is_back=is_back,
    )
