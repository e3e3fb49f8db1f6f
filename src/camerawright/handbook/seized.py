"""The ladder for a seized fastener, and how much a warm bore gains on its screw; read from seized.toml."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from typing import Any, Literal

from camerawright.handbook import cleaning
from camerawright.handbook.cleaning import Limit, Process, Subject
from camerawright.handbook.tables import COMMON_PRACTICE, Reason, reasons, table

Effect = Literal["opens", "grips", "undecided"]


@dataclass(frozen=True, slots=True)
class Step:
    """One rung of the ladder.

    Parameters
    ----------
    tries
        How often it is tried before the next; of liquids, one try each.
    force
        Whether it loads the thread beyond fingers on a driver.
    stop
        When to stop at once.
    """

    name: str
    why: Reason
    how: tuple[Reason, ...]
    cautions: tuple[Reason, ...]
    stop: str
    tries: int
    force: bool


@dataclass(frozen=True, slots=True, eq=False)
class Liquid:
    """A liquid that loosens what holds a thread, put on by the drop. `minutes` is the wait after each drop. [min]"""

    process: Process
    loosens: str
    drops: int
    minutes: float
    source: str

    @property
    def soak_minutes(self) -> float:
        """All drops together. [min]"""
        return self.drops * self.minutes


@dataclass(frozen=True, slots=True)
class Heat:
    """How warm, and how long a solvent and warmth keep apart. [°C], [min]"""

    target_c: float
    lowest_c: float
    room_c: float
    gone_minutes: float


@dataclass(frozen=True, slots=True)
class Warmth:
    """How warm the air may be at most, and why. [°C]"""

    max_c: float
    reason: Reason


@dataclass(frozen=True, slots=True, eq=False)
class Way:
    """One way of taking a fastener out in pieces; a bath names the pairs it is for, and what must not be near."""

    text: Reason
    cautions: tuple[Reason, ...] = ()
    screw: frozenset[str] = frozenset()
    seat: frozenset[str] = frozenset()
    never: frozenset[str] = frozenset()
    bath: Process | None = None

    def suits(self, screw: Sequence[Subject], seat: Sequence[Subject], beside: Sequence[Subject]) -> bool:
        """Whether it may be used on this pair, with this beside it."""
        if self.bath is None:
            return True
        is_pair = (
            bool(screw)
            and bool(seat)
            and {row.name for row in screw} <= self.screw
            and {row.name for row in seat if row.metal} <= self.seat
            and any(row.metal for row in seat)
        )
        limits = [*cleaning.limits_on(seat), *(limit for row in beside for limit in row.limits)]
        stands = not any(limit.rules_out(self.bath) or _too_warm(self.bath, limit) for limit in limits)
        return is_pair and stands and not any(row.metal in self.never for row in beside)


def _too_warm(bath: Process, limit: Limit) -> bool:
    """Whether the bath is warmer than the limit allows."""
    if bath.temperature_c is None or limit.temperature_max_c is None:
        return False
    return bath.temperature_c > limit.temperature_max_c


@dataclass(frozen=True, slots=True)
class Expansion:
    """Linear expansion of a material: the least and the most of the alloys that its name may mean. [1e-6/K]"""

    low_1e6_per_k: float
    high_1e6_per_k: float
    source: str


@dataclass(frozen=True, slots=True)
class Gain:
    """How much wider a bore gets than its screw: bounds, negative where it grips. [µm]"""

    low_um: float
    high_um: float
    sources: tuple[str, ...]

    @property
    def effect(self) -> Effect:
        """Whether the bore opens for sure, grips for sure, or the alloys decide."""
        if self.low_um > 0:
            return "opens"
        return "grips" if self.high_um < 0 else "undecided"

    def __str__(self) -> str:
        low, high = f"{self.low_um:.2f}", f"{self.high_um:.2f}"
        return f"{low} µm" if low == high else f"{low} to {high} µm"


def gain(bore: Expansion, screw: Expansion, *, diameter_mm: float, bore_rise_k: float, screw_rise_k: float) -> Gain:
    """Compute how much a warmed bore gains on its screw.

    Parameters
    ----------
    bore, screw
        Expansion of either.
    diameter_mm
        Of the thread. [mm]
    bore_rise_k, screw_rise_k
        How much warmer each gets; both the same when the whole is warmed, the screw's 0 when only the ring is. [K]

    Returns
    -------
    Gain
        α_bore·d·ΔT_bore − α_screw·d·ΔT_screw, from the least to the most that the names of the materials allow. A hole
        grows as the material that would fill it.

    Raises
    ------
    ValueError
        The diameter is not positive.
    """
    if not diameter_mm > 0:
        raise ValueError(f"a thread cannot have a diameter of {diameter_mm:g} mm: give it in mm")
    per_k = diameter_mm * 1e-3  # mm × 1e-6 is 1e-3 µm
    grows = [per_k * bore_rise_k * alpha for alpha in (bore.low_1e6_per_k, bore.high_1e6_per_k)]
    swells = [per_k * screw_rise_k * alpha for alpha in (screw.low_1e6_per_k, screw.high_1e6_per_k)]
    return Gain(
        low_um=min(grows) - max(swells),
        high_um=max(grows) - min(swells),
        sources=tuple(dict.fromkeys((bore.source, screw.source))),
    )


# -- the table ---------------------------------------------------------------------------------------------------------


@cache
def ladder() -> tuple[Step, ...]:
    """Every rung, gentlest first."""
    return tuple(
        Step(
            name=row["name"],
            why=Reason(row["why"], row["source"]),
            how=reasons(row["how"]),
            cautions=reasons(row["cautions"]),
            stop=row["stop"],
            tries=row["tries"],
            force=row["force"],
        )
        for row in table("seized")["rung"]
    )


@cache
def liquids() -> tuple[Liquid, ...]:
    """The liquids in the order to try them; unlike a swab, a drop does not rub, and it creeps."""
    swabs = {process.chemistry: process for process in cleaning.processes() if process.mode == "swab"}
    return tuple(
        Liquid(
            process=_drop(swabs[row["chemistry"]]),
            loosens=row["loosens"],
            drops=row["drops"],
            minutes=row["minutes"],
            source=row["source"],
        )
        for row in table("seized")["liquid"]
    )


def _drop(swab: Process) -> Process:
    """The liquid of a swab, let in at the thread."""
    return Process(
        mode="drop",
        chemistry=swab.chemistry,
        rank=swab.rank,
        traits=(swab.traits - {"touch", "rub"}) | {"creeps"},
        powers=swab.powers,
        ph=swab.ph,
        temperature_c=swab.temperature_c,
        minutes=None,
        solvent=swab.solvent,
        rinse=swab.rinse,
        cautions=(),
    )


@cache
def heat() -> Heat:
    """How warm, and how long apart from solvent. Common practice."""
    row = table("seized")["heat"]
    return Heat(row["target_c"], row["lowest_c"], row["room_c"], row["gone_minutes"])


@cache
def ways() -> tuple[Way, ...]:
    """The ways of taking a fastener out in pieces, gentlest first."""
    return tuple(_way(row) for row in table("seized")["way"])


def _way(row: dict[str, Any]) -> Way:
    """One way from its row."""
    text = Reason(row["text"], row["source"])
    if "traits" not in row:
        return Way(text)
    bath = Process(
        mode="alum bath",
        chemistry="alum",
        rank=0,
        traits=frozenset(row["traits"]),
        powers=frozenset(),
        ph=(row["ph"][0], row["ph"][1]),
        temperature_c=row["temperature_c"],
        minutes=None,
        solvent=None,
        rinse="none",
        cautions=(),
    )
    return Way(
        text,
        reasons(row["cautions"]),
        screw=frozenset(row["screw"]),
        seat=frozenset(row["seat"]),
        never=frozenset(row["never"]),
        bath=bath,
    )


def forbidden(rung: str, subjects: Sequence[Subject]) -> tuple[Reason, ...]:
    """Say why not to try a rung on, or near, any of these; empty if nothing speaks against it."""
    names = {row.name for row in subjects}
    said = [
        Reason(row["why"], row["source"])
        for row in table("seized")["forbid"]
        if rung in row["rungs"] and names & set(row["subjects"])
    ]
    return (*said, *(_too_cool(subjects) if rung == "heat" else ()))


def _limits_of_warmth(subjects: Sequence[Subject]) -> list[tuple[float, Limit]]:
    """How warm each of them may get, the most delicate first. [°C]"""
    bounds = [
        (limit.temperature_max_c, limit)
        for row in subjects
        for limit in row.limits
        if limit.temperature_max_c is not None
    ]
    return sorted(bounds, key=lambda bound: bound[0])


def _too_cool(subjects: Sequence[Subject]) -> tuple[Reason, ...]:
    """What is harmed by even the least warmth that helps."""
    return tuple(limit.reason for bound_c, limit in _limits_of_warmth(subjects) if bound_c < heat().lowest_c)


def warmth(subjects: Sequence[Subject]) -> Warmth:
    """Say how warm the air may be: the usual, or less for the most delicate part."""
    usual = heat().target_c
    bounds = _limits_of_warmth(subjects)
    if bounds and bounds[0][0] < usual:
        bound_c, limit = bounds[0]
        return Warmth(bound_c, limit.reason)
    return Warmth(usual, Reason("That is enough for lacquer and old oil.", COMMON_PRACTICE))


def expansion(subjects: Sequence[Subject]) -> Expansion | None:
    """Give the expansion of what the words may mean, the range over all of it; `None` if any has no figure at hand."""
    metals = [row for row in subjects if row.metal]
    known = {row["material"]: row for row in table("seized")["expansion"]}
    if not metals or any(row.name not in known for row in metals):
        return None
    rows = [known[row.name] for row in metals]
    return Expansion(
        low_1e6_per_k=min(row["low_1e6_per_k"] for row in rows),
        high_1e6_per_k=max(row["high_1e6_per_k"] for row in rows),
        source=", ".join(dict.fromkeys(row["source"] for row in rows)),
    )
