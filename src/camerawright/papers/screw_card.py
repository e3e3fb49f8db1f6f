"""The screw card: a ring for each screw that is out, to push it through."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from camerawright.handbook.solvents import CARE
from camerawright.handbook.threads import nominal_diameter
from camerawright.job.now import JobNow
from camerawright.journal.entries import Fastener
from camerawright.journal.notation import written_fastener
from camerawright.journal.state import Part
from camerawright.papers.paper import Paper, head
from camerawright.refit.part_facts import PartSpec
from camerawright.refit.routes import Route, route
from camerawright.store.workshop import Workshop
from camerawright.trouble import Refused

UNKNOWN_RING_MM: Final = 3.0
"""Ring for a fastener whose diameter is not known: wider than most screws of a camera (common practice). [mm]"""


@dataclass(frozen=True, kw_only=True)
class LikeScrews:
    """Like fasteners of a part. `diameter_mm` and `length_mm` are drawn at true size."""

    words: str  # "3 × M1.4 × 1.6 grub"
    holes: tuple[str, ...]  # a label for each screw
    diameter_mm: float
    ring: str  # what the ring is: "ring 1.4 mm [iso-261]"
    is_known: bool = True  # whether the thread's diameter is
    is_taken: bool = True  # whether somebody took the thread; else there is a box to write it in
    length_mm: float | None = None
    length: str = ""  # "1.6 mm"
    warning: str = ""  # "LEFT-HAND"


@dataclass(frozen=True, kw_only=True)
class ScrewsOfPart:
    """The screws of one part that is off."""

    part: str
    screws: tuple[LikeScrews, ...]
    cell: str = ""
    route: str = ""  # how they are cleaned
    hazards: tuple[str, ...] = ()  # of the part that they hold


@dataclass(frozen=True, kw_only=True)
class ScrewCard(Paper):
    """A hole for each screw that is out, to push it through; what to be careful about when they are cleaned."""

    parts: tuple[ScrewsOfPart, ...]
    cautions: tuple[str, ...] = ()


def screw_card(workshop: Workshop, here: JobNow) -> ScrewCard:
    """A hole for each fastener of the parts that are off."""
    holding = [(part, part.removed) for part in here.state.off if part.removed and part.removed.fasteners]
    routes = {part.key: _route(here, part) for part, _ in holding}
    parts = tuple(
        ScrewsOfPart(
            part=part.name,
            cell=removed.cell or "",
            screws=_like_screws(removed.fasteners),
            route=", then ".join(turn.name for turn in routes[part.key].turns()),
            hazards=here.hazards(part.name),
        )
        for part, removed in holding
    )
    if not parts:
        raise Refused(f"no screw of {here.job.id} is out", "enter fasteners as their part comes off", "screw card")
    turns = (turn for made in routes.values() for turn in made.turns())
    cautions = dict.fromkeys(str(caution) for turn in turns for caution in turn.cautions if caution != CARE)
    return ScrewCard(**head(workshop, here), parts=parts, cautions=tuple(cautions))


def _route(here: JobNow, part: Part) -> Route:
    """How the screws of a part are cleaned; they are described under the name "top cover screws"."""
    screws = here.state.part(f"{part.name} screws")
    return route(PartSpec("screws", screws.material, screws.finish, screws.soil))


def _like_screws(fasteners: Sequence[Fastener]) -> tuple[LikeScrews, ...]:
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


def _like_screw(fastener: Fastener, holes: tuple[str, ...]) -> LikeScrews:
    known = nominal_diameter(fastener.size) if fastener.size else None
    mm = known.mm if known else UNKNOWN_RING_MM
    length_mm = float(f"{fastener.length_mm:.4g}") if fastener.length_mm is not None else None
    return LikeScrews(
        words=written_fastener(fastener.model_copy(update={"hole": None, "hand": "right", "length_mm": length_mm})),
        holes=holes,
        diameter_mm=mm,
        ring=f"ring {mm:.3g} mm [{known.source}]" if known else f"ring {mm:g} mm: diameter not known",
        is_known=known is not None,
        is_taken=fastener.size is not None,
        length_mm=length_mm,
        length=f"{length_mm:g} mm" if length_mm is not None else "",
        warning="LEFT-HAND" if fastener.hand == "left" else "",
    )
