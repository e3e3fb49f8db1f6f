"""What earlier strip-downs taught about a variant."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Final

from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response

from camerawright.job.lore import lore_of
from camerawright.journal.joints import joint_text
from camerawright.journal.order import Constraint
from camerawright.refit.learning import Lore, PartLore, Usual
from camerawright.store.workshop import Workshop
from camerawright.web.page_numbers import numbered
from camerawright.web.render import page, workshop_of
from camerawright.workshop.rows import Job

_MOST: Final = 100


@dataclass(frozen=True, kw_only=True)
class UsualShown:
    """What usually held or lay under a part."""

    words: str
    differs: str  # how the bodies disagree, in words, or nothing


@dataclass(frozen=True, kw_only=True)
class KnownPart:
    """A part in the expected order, with why it stands where it does."""

    lore: PartLore
    after: tuple[Constraint, ...]  # what comes off before it
    either_order: tuple[str, ...]  # what it may swap places with
    usual: tuple[UsualShown, ...]


def show_all(request: Request) -> Response:
    """Every variant that has been here, so many a page."""
    workshop = workshop_of(request)
    shown = numbered(request.query_params.get("page", ""), n_all=workshop.n_variants(), most=_MOST)
    return page(request, "variants.html", variants=workshop.variants(first=shown.first, most=_MOST), shown=shown)


def show(request: Request) -> Response:
    """One variant: order, reasons, hazards, marks, hardware, times."""
    workshop = workshop_of(request)
    key = request.query_params.get("key", "")
    jobs = workshop.jobs_of_variant(key)
    if not jobs:
        known = [each.camera.title for each in workshop.variants(first=0, most=_MOST)]
        raise HTTPException(
            404, f"No camera of the variant “{key}” has been here. Known are: {', '.join(known) or 'none'}."
        )
    lore = lore_of_all(workshop, jobs)
    return page(request, "variant.html", camera=jobs[-1].camera, jobs=jobs, lore=lore, parts=known_parts(lore))


def lore_of_all(workshop: Workshop, jobs: tuple[Job, ...]) -> Lore:
    """What all jobs of a variant taught, and what its sister variants carry over: as a new job of it would begin."""
    return lore_of(workshop, replace(jobs[-1], id=""))


def known_parts(lore: Lore) -> tuple[KnownPart, ...]:
    """The parts in the order in which they are expected to come off."""
    after: dict[str, list[Constraint]] = {}
    for constraint in lore.constraints:
        after.setdefault(constraint.keys[1], []).append(constraint)
    either = _either_order(lore)
    return tuple(
        KnownPart(
            lore=lore.parts[key],
            after=tuple(after.get(key, ())),
            either_order=tuple(sorted(either.get(key, ()), key=str.casefold)),
            usual=_usual(lore.parts[key]),
        )
        for key in lore.order
    )


def _either_order(lore: Lore) -> Mapping[str, list[str]]:
    """The names of the parts that each may swap places with."""
    either: dict[str, list[str]] = {}
    for pair in lore.free:
        for key in pair:
            either.setdefault(key, []).extend(lore.parts[other].name for other in pair - {key} if other in lore.parts)
    return either


def _usual(lore: PartLore) -> tuple[UsualShown, ...]:
    """Screws, shims and loose parts, each with how many bodies had how many of it; then what was only loosened."""
    out = tuple(
        UsualShown(
            words=_usual_words(usual),
            differs=_by_count(usual.counts) if usual.differs else "",
        )
        for usual in lore.hardware
    )
    return (*out, *(UsualShown(words=f"{words}, loosened and left in", differs="") for words in lore.loosened))


def _usual_words(usual: Usual) -> str:
    """How many of what; of what some bodies lack, how many the others have."""
    there = tuple(filter(None, usual.counts))
    lacks = "" if len(there) == len(usual.counts) else ", but not on every body"
    return f"{_span(there)} × {joint_text(usual.joint)}{lacks}"


def _span(counts: tuple[int, ...]) -> str:
    return f"{min(counts)}" if len(set(counts)) == 1 else f"{min(counts)} to {max(counts)}"


def _by_count(counts: tuple[int, ...]) -> str:
    """`3 in 4 bodies, none in 1`."""
    found = {count: counts.count(count) for count in sorted(set(counts), reverse=True)}
    return ", ".join(f"{count or 'none'} in {n}" for count, n in found.items())
