"""What earlier strip-downs taught about a variant."""

from dataclasses import dataclass

from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response

from camerawright.journal.order import Constraint
from camerawright.journal.state import fold
from camerawright.refit.learning import Lore, PartLore, learned
from camerawright.store.workshop import Workshop
from camerawright.web.render import page, workshop_of
from camerawright.workshop.rows import Job


@dataclass(frozen=True, kw_only=True)
class KnownPart:
    """A part in the expected order, with why it stands where it does."""

    lore: PartLore
    after: tuple[Constraint, ...]  # what comes off before it, certainly
    either_order: tuple[str, ...]  # what it may swap places with


def show_all(request: Request) -> Response:
    """Every variant that has been here."""
    cameras: dict[str, list[Job]] = {}
    for job in workshop_of(request).jobs():
        cameras.setdefault(job.camera.variant_key, []).append(job)
    return page(request, "variants.html", variants=sorted(cameras.items()))


def show(request: Request) -> Response:
    """One variant: order, reasons, hazards, marks, shims, times."""
    workshop = workshop_of(request)
    key = request.query_params.get("key", "")
    jobs = workshop.jobs_of_variant(key)
    if not jobs:
        known = sorted({job.camera.title for job in workshop.jobs()})
        raise HTTPException(
            404, f"No camera of the variant “{key}” has been here. Known are: {', '.join(known) or 'none'}."
        )
    lore = lore_of_all(workshop, key)
    return page(request, "variant.html", camera=jobs[-1].camera, jobs=jobs, lore=lore, parts=known_parts(lore))


def lore_of_all(workshop: Workshop, variant_key: str) -> Lore:
    """What all jobs of a variant taught."""
    return learned([(job.id, fold(workshop.journal(job.id))) for job in workshop.jobs_of_variant(variant_key)])


def known_parts(lore: Lore) -> tuple[KnownPart, ...]:
    """The parts in the order in which they are expected to come off."""
    return tuple(
        KnownPart(
            lore=lore.parts[key],
            after=tuple(constraint for constraint in lore.constraints if constraint.keys[1] == key),
            either_order=tuple(
                lore.parts[other].name
                for pair in lore.free
                if key in pair
                for other in pair - {key}
                if other in lore.parts
            ),
        )
        for key in lore.order
    )
