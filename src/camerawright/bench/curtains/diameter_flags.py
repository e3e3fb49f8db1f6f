"""What is said once of a recording whose edges show other sensors than were told."""

from camerawright.bench.curtains.diameter import interval_mm, is_at_odds
from camerawright.bench.curtains.flags import is_blunt_everywhere
from camerawright.bench.curtains.gate import DIAMETERS, PLACES, Gate
from camerawright.bench.curtains.record import Firing
from camerawright.bench.options import quoted
from camerawright.quantity import Quantity
from camerawright.wording import numbers

_SLOW = "fire once at 1/30 or slower in the same recording: its edges show how wide the sensors are"


def diameter_flags(given: Gate, by_edges: tuple[Quantity | None, ...], firings: list[Firing]) -> tuple[str, ...]:
    """How wide the sensors seem, where that is not what was told or, untold, not what is usual; or cannot be seen."""
    at_odds = any(map(is_at_odds, by_edges, given.diameter_mm))
    if at_odds and not given.is_diameter_told:
        return (
            f"The edges look like {_sensors(by_edges)}, and that is used here. Give {quoted(DIAMETERS)}. If they are"
            f" {_list(given.diameter_mm)} wide, something blurs the light: a slow sensor or a wide pupil.",
        )
    if at_odds:
        return (
            f"The edges look like {_sensors(by_edges)}, and {_list(given.diameter_mm)} was told: check"
            f" {quoted(DIAMETERS)} and {quoted(PLACES)}. What the edges show is used here.",
        )
    if all(one is not None for one in by_edges):
        return ()
    if is_blunt_everywhere(firings):
        return (
            f"Everywhere the edges are far blunter than a sensor of {_list(given.diameter_mm)} makes them. It may be"
            f" wider than the slit. Give {quoted(DIAMETERS)}, or {_SLOW}.",
        )
    return ()


def _sensors(by_edges: tuple[Quantity | None, ...]) -> str:
    """The sensors as the edges show them."""
    seen = [one for one in by_edges if one is not None]
    best = min(seen, key=lambda one: one.u)
    if all(abs(one.value - best.value) < one.expanded_u + best.expanded_u for one in seen):
        return f"sensors of {interval_mm(best.value, best.expanded_u)} mm"
    each = "; ".join(
        f"channel {i} {interval_mm(one.value, one.expanded_u)} mm" if one else f"channel {i} not known"
        for i, one in enumerate(by_edges, start=1)
    )
    return f"unlike sensors ({each})"


def _list(diameter_mm: tuple[float, ...]) -> str:
    """What was told, once where it is the same for all."""
    told = dict.fromkeys(diameter_mm) if len(set(diameter_mm)) == 1 else diameter_mm
    return f"{', '.join(numbers.short(one) for one in told)} mm"
