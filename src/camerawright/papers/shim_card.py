"""The shim card: every stack of shims that is out, with room for what is measured."""

from dataclasses import dataclass
from typing import Final

from camerawright.job.now import JobNow
from camerawright.journal.entries import Shim
from camerawright.papers.paper import Paper, head
from camerawright.store.workshop import Workshop
from camerawright.trouble import Refused

SHIMS_DRAWN: Final = 11
"""Layers and boxes of a stack that fit on a card; one box more is for the stack."""
STACK_MM: Final = 36.0
"""Height that a stack may take on paper. [mm]"""
SCALES: Final = (50, 20, 10, 5, 2, 1)


@dataclass(frozen=True, kw_only=True)
class Stack:
    """Like shims in one place: `n_drawn` layers of `layer_mm` on paper, magnified as `scale` says."""

    place: str
    words: str  # "3 × 0.10 mm = 0.30 mm"
    count: int
    n_drawn: int
    layer_mm: float
    scale: str  # "drawn 20 : 1"
    is_known: bool = True  # whether the thickness was taken


@dataclass(frozen=True, kw_only=True)
class ShimsOfPart:
    """The shims that lay under one part."""

    part: str
    stacks: tuple[Stack, ...]
    cell: str = ""


@dataclass(frozen=True, kw_only=True)
class ShimCard(Paper):
    """Every shim that is out, with room for what is measured."""

    parts: tuple[ShimsOfPart, ...]


def shim_card(workshop: Workshop, here: JobNow) -> ShimCard:
    """Every stack of the parts that are off."""
    parts = tuple(
        ShimsOfPart(
            part=part.name, cell=part.removed.cell or "", stacks=tuple(_stack(shim) for shim in part.removed.shims)
        )
        for part in here.state.off
        if part.removed and part.removed.shims
    )
    if not parts:
        raise Refused(f"no shim of {here.job.id} is out", "enter shims as their part comes off", "shim card")
    return ShimCard(**head(workshop, here), parts=parts)


def _millimetres(thickness_mm: float) -> str:
    """To a hundredth, as a micrometer is read, or as fine as it was given."""
    to_hundredths = f"{thickness_mm:.2f}"
    return f"{to_hundredths if abs(float(to_hundredths) - thickness_mm) < 1e-6 else f'{thickness_mm:.4g}'} mm"


def _stack(shim: Shim) -> Stack:
    n_drawn = min(shim.count, SHIMS_DRAWN)
    if shim.thickness_mm is None:
        words = f"{shim.count} × thickness not taken"
        return Stack(
            place=shim.place, words=words, count=shim.count, n_drawn=n_drawn, layer_mm=2.0,
            scale="thickness not known", is_known=False,
        )  # fmt: skip
    each, whole = _millimetres(shim.thickness_mm), _millimetres(shim.count * shim.thickness_mm)
    scale = next((scale for scale in SCALES if scale * shim.thickness_mm * n_drawn <= STACK_MM), None)
    return Stack(
        place=shim.place,
        words=f"1 × {each}" if shim.count == 1 else f"{shim.count} × {each} = {whole}",
        count=shim.count,
        n_drawn=n_drawn,
        layer_mm=scale * shim.thickness_mm if scale else STACK_MM / n_drawn,
        scale=f"drawn {scale} : 1" if scale else "not drawn to scale",
    )
