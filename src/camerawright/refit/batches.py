"""Which parts to clean together, and which to keep out of each other's bath."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from camerawright.handbook import cleaning
from camerawright.handbook.tables import Reason
from camerawright.refit.routes import Route


@dataclass(frozen=True, slots=True)
class Batch:
    """Parts that go through the same process together.

    Parameters
    ----------
    turn
        1 for the first process of its parts, 2 for the one that follows it.
    temperature_c
        The lowest that any of its parts needs. [°C]
    minutes
        The same for all of its parts. [min]
    drying
        How its parts get dry again, each way once, with the parts where it is not that of all.
    apart
        Metals among them that must bathe alone; empty where nothing lies in shared water.
    not_with
        Parts that get the same process, but not in the same water.
    reasons
        Why they must not.
    never_wet
        Those of its parts that no liquid may touch.
    ask
        What to find out before its parts get more than this.
    last_rinse, last_rinse_of
        The liquid that takes the water out of some of its parts, and of which; `None` and empty where none needs it.
    is_likely
        It rests on guesses: nothing goes into it before somebody confirms them.
    """

    turn: int
    process: str
    chemistry: str
    temperature_c: float | None
    minutes: float | None
    rinse: str
    drying: tuple[str, ...]
    parts: tuple[str, ...]
    apart: tuple[str, ...]
    not_with: tuple[str, ...]
    reasons: tuple[Reason, ...]
    cautions: tuple[Reason, ...]
    never_wet: tuple[str, ...]
    ask: tuple[str, ...]
    last_rinse: str | None = None
    last_rinse_of: tuple[str, ...] = ()
    is_likely: bool = False

    @property
    def name(self) -> str:
        """How its process is called on pages and in the journal."""
        return self.process if self.chemistry == cleaning.DRY else f"{self.process}, {self.chemistry}"


@dataclass(frozen=True, slots=True)
class _Together:
    """What routes must have in common to be one batch."""

    turn: int
    rank: int
    name: str
    minutes: float | None
    apart: tuple[str, ...]
    is_decided: bool
    is_likely: bool


def _in_shared_water(route: Route) -> bool:
    """Whether the parts of several routes would lie in the same water."""
    process = next((process for process in cleaning.processes() if process.name == route.name), None)
    return process is not None and {"immersion", "water"} <= process.traits  # else it was decided in plain words


def bathes_apart(route: Route) -> tuple[str, ...]:
    """Name its metals that must bathe alone; none where the process has no shared water."""
    return (
        tuple(metal for metal in sorted(route.metals) if metal in cleaning.apart()) if _in_shared_water(route) else ()
    )


def _together(turn: int, route: Route) -> _Together:
    """What the route must have in common with the others of its batch."""
    apart = bathes_apart(route)
    return _Together(turn, route.rank, route.name, route.minutes, apart, route.is_decided, route.is_likely)


def batches(routes: Sequence[Route]) -> tuple[Batch, ...]:
    """Group routes into batches: same process and minutes, and no part in the water beside a metal that bathes alone.

    Parameters
    ----------
    routes
        Of single parts or of assemblies.

    Returns
    -------
    tuple of Batch
        First turns before second ones, gentle processes before strong ones. Each part stands in one batch for each turn
        of its route.
    """
    groups: dict[_Together, list[Route]] = {}
    for route in routes:
        for turn, each in enumerate(route.turns(), start=1):
            groups.setdefault(_together(turn, each), []).append(each)
    order = sorted(
        groups,
        key=lambda key: (key.turn, key.is_likely, not key.is_decided, key.rank, key.name, key.apart, key.minutes or 0),
    )
    return tuple(_batch(key, groups) for key in order)


def _rinse(members: Sequence[Route]) -> str:
    """The rinse of all, and the last one of those that rust."""
    last = next((route.last_rinse for route in members if route.last_rinse), None)
    if last is None:
        return members[0].rinse
    some = [route for route in members if route.last_rinse]
    whose = "" if len(some) == len(members) else f": {', '.join(part for route in some for part in route.parts)}"
    return f"{members[0].rinse}; then {last} to take the water out{whose}"


def _drying(members: Sequence[Route]) -> Iterator[str]:
    """Each way to get them dry, with the parts where it is not that of all: no warm air on what is wet with alcohol."""
    ways: dict[str, list[Route]] = {}
    for route in members:
        for words in route.drying.split("; ") if route.drying != "none" else ():
            ways.setdefault(words, []).append(route)
    for words, dried in ways.items():
        whose = "" if len(dried) == len(members) else f": {', '.join(part for route in dried for part in route.parts)}"
        yield words + whose


def _batch(key: _Together, groups: dict[_Together, list[Route]]) -> Batch:
    """One batch, and who must stay out of it."""
    members = groups[key]
    temperatures = [route.temperature_c for route in members if route.temperature_c is not None]
    strangers = {
        other: found
        for other, found in groups.items()
        if (other.turn, other.name) == (key.turn, key.name) and other.apart != key.apart
    }
    metals = sorted({metal for other in (key, *strangers) for metal in other.apart}) if strangers else []
    return Batch(
        turn=key.turn,
        process=members[0].process,
        chemistry=members[0].chemistry,
        temperature_c=min(temperatures, default=None),
        minutes=key.minutes,
        rinse=_rinse(members),
        drying=tuple(_drying(members)),
        parts=tuple(part for route in members for part in route.parts),
        apart=key.apart,
        not_with=tuple(part for found in strangers.values() for route in found for part in route.parts),
        reasons=tuple(cleaning.apart()[metal] for metal in metals),
        cautions=tuple(dict.fromkeys(caution for route in members for caution in route.cautions)),
        never_wet=tuple(part for route in members if route.never_wet for part in route.parts),
        ask=tuple(dict.fromkeys(question for route in members for question in route.ask)),
        last_rinse=next((route.last_rinse for route in members if route.last_rinse), None),
        last_rinse_of=tuple(part for route in members if route.last_rinse for part in route.parts),
        is_likely=key.is_likely,
    )
