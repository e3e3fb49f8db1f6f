"""A guess for a part that nobody described: like the last one of its variant, or like most parts of that name."""

from collections.abc import Iterable
from dataclasses import dataclass, replace

from camerawright.handbook.likely import likely
from camerawright.refit.learning import PartLore
from camerawright.refit.part_facts import PartSpec
from camerawright.refit.routes import Route, assembly_route


@dataclass(frozen=True, slots=True)
class Guess:
    """What is proposed for a part, and what that rests on. A guess is shown as one, and somebody confirms it.

    Parameters
    ----------
    spec
        What is known of the part, with the guess where nothing is.
    origin
        "as on the last one of this variant", "usual for parts of that name".
    """

    spec: PartSpec
    origin: str


def guess(known: PartSpec, lore: PartLore | None) -> Guess | None:
    """Fill what is not known of a part; `None` if nothing is missing, or nobody has any idea.

    Parameters
    ----------
    known
        What was said of the part; it stays as it is.
    lore
        What earlier jobs of the variant know of it. Its material and finish come before the usual ones; dirt is never
        taken from another camera.
    """
    usual = likely(known.part)
    seen = known
    if lore:
        seen = replace(known, material=known.material or lore.material, finish=known.finish or lore.finish)
    filled = seen
    if usual:
        finish = seen.finish or (None if seen.material else usual.finish)  # it goes with the usual material
        filled = replace(seen, material=seen.material or usual.material, finish=finish, soil=seen.soil or usual.soil)
    if filled == known:
        return None
    origins = []
    if seen != known and lore:
        origins.append(f"as on {lore.carried_from or 'the last one of this variant'}")
    if filled != seen and usual:
        origins.append("usual for parts of that name")
    return Guess(filled, ", ".join(origins))


def likely_route(own: Guess, inside: Iterable[PartSpec]) -> Route | None:
    """Choose the route that the part would get if the guess is right; `None` if that is still not enough."""
    made = assembly_route((own.spec, *inside))
    return made if made.is_known else None


def as_likely(route: Route) -> Route:
    """The same route, marked as resting on a guess in each of its turns."""
    return replace(route, is_likely=True, then=as_likely(route.then) if route.then else None)
