"""Ways of cleaning, and what each material, finish and kind of part must be spared; read from cleaning.toml."""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from functools import cache
from typing import Any

from camerawright.handbook.tables import Reason, reasons, table

DRY = "dry"
"""The chemistry of a process without a liquid."""
THREAD_ONLY, GLASS_ONLY = "thread only", "glass only"
"""Traits of a process that stays on the thread of a cell, or on its glass."""
PLACES = frozenset({THREAD_ONLY, GLASS_ONLY})
"""Every such trait."""


# Each row is read once, so it is equal only to itself: comparing rows field by field took most of a route's time.


@dataclass(frozen=True, slots=True, eq=False)
class Process:
    """One way of cleaning: a mode with a liquid, or dry.

    Parameters
    ----------
    mode, chemistry
        "ultrasonic bath", "neutral detergent"; the chemistry of a dry process is `DRY`.
    rank
        How hard it is on the part and on the person: the smaller, the gentler. Common practice, put in order.
    traits
        What it does to a part; what a limit may forbid.
    powers
        What it removes soil with.
    ph
        Range that the liquid in use may have, or `None` where pH says nothing. [pH]
    temperature_c, minutes
        Usual ones; `None` for dry work, minutes also for work by swab. [°C], [min]
    solvent
        Its name in the table of solvents, if it is flammable.
    """

    mode: str
    chemistry: str
    rank: int
    traits: frozenset[str]
    powers: frozenset[str]
    ph: tuple[float, float] | None
    temperature_c: float | None
    minutes: float | None
    solvent: str | None
    rinse: str
    cautions: tuple[Reason, ...]

    @property
    def name(self) -> str:
        """How it is called on pages and in the journal."""
        return self.mode if self.chemistry == DRY else f"{self.mode}, {self.chemistry}"

    @property
    def is_wet(self) -> bool:
        """Whether a liquid touches the part."""
        return "liquid" in self.traits

    @property
    def is_bath(self) -> bool:
        """Whether the part lies in the liquid, and so is rinsed in one; else it is only wiped."""
        return "immersion" in self.traits


@dataclass(frozen=True, slots=True, eq=False)
class Limit:
    """One thing that harms a material, a finish or a kind of part, with its reason.

    Parameters
    ----------
    forbids
        Sets of traits; a process that has all of a set is forbidden.
    ph
        Liquids whose range leaves this one are forbidden. [pH]
    temperature_max_c, minutes_max
        A process is cooled or shortened to these; minutes apply to processes with the trait `when`. [°C], [min]
    on
        Metals on which it holds; empty where it holds on everything.
    kept_off
        Places: a process that stays on one of them does not get there.
    """

    reason: Reason
    forbids: tuple[frozenset[str], ...] = ()
    ph: tuple[float, float] | None = None
    temperature_max_c: float | None = None
    minutes_max: float | None = None
    when: str | None = None
    on: frozenset[str] = frozenset()
    kept_off: frozenset[str] = frozenset()

    def rules_out(self, process: Process) -> bool:
        """Whether the process is forbidden, not merely cooled or shortened."""
        if self.kept_off & process.traits:
            return False
        if any(traits <= process.traits for traits in self.forbids):
            return True
        if self.ph is None or process.ph is None:
            return False
        return process.ph[0] < self.ph[0] or process.ph[1] > self.ph[1]


@dataclass(frozen=True, slots=True, eq=False)
class Subject:
    """A material, a finish or a kind of part, with what harms it.

    Parameters
    ----------
    rusts
        The last rinse has to take the water out of it.
    is_rare
        A part that nobody described is not suspected of it.
    is_danger
        Its cautions are for whoever handles the part, not only for whoever cleans it.
    is_in_a_cell
        Glass that sits in a metal cell with a thread.
    only_on
        Materials on which a finish is meant, where its word means another finish on others.
    unless
        Words that say that it is no whole assembly any more.
    until
        Kinds and materials of the parts that come out last: once they are out, it is none either.
    """

    name: str
    also: tuple[str, ...]
    limits: tuple[Limit, ...]
    cautions: tuple[Reason, ...] = ()
    metal: str | None = None
    drying: str | None = None
    takes_finish: bool = True
    rusts: bool = False
    is_rare: bool = False
    is_danger: bool = False
    is_in_a_cell: bool = False
    only_on: frozenset[str] = frozenset()
    unless: tuple[str, ...] = ()
    until: frozenset[str] = frozenset()


@dataclass(frozen=True, slots=True, eq=False)
class Soil:
    """What is stuck to a part, and the sets of powers that remove it; any one set is enough.

    `question` is what to find out first, where the words mean things that are cleaned in opposite ways; `limits` is
    what harms whoever cleans it off, and `grows_wet` says that water feeds what stays on. `wiped` is for where none of
    these sets is safe: the first one that is takes off by hand what it reaches, with `wiped_cautions`.
    """

    name: str
    also: tuple[str, ...]
    yields_to: tuple[frozenset[str], ...]
    source: str
    cautions: tuple[Reason, ...] = ()
    question: str | None = None
    limits: tuple[Limit, ...] = ()
    grows_wet: bool = False
    wiped: tuple[frozenset[str], ...] = ()
    wiped_cautions: tuple[Reason, ...] = ()

    def yields(self, process: Process) -> bool:
        """Whether the process removes it."""
        return any(needed <= process.powers for needed in self.yields_to)

    def among(self, allowed: Iterable[Process]) -> "Soil":
        """The same soil, as it yields to what is allowed: to wiping, where nothing else that removes it is."""
        allowed = tuple(allowed)
        if any(map(self.yields, allowed)):
            return self
        wiped = (needed for needed in self.wiped if any(needed <= process.powers for process in allowed))
        needed = next(wiped, None)
        if needed is None:
            return self
        return replace(self, yields_to=(needed,), cautions=self.cautions + self.wiped_cautions)


def limits_on(rows: Iterable[Subject]) -> tuple[Limit, ...]:
    """List every limit on a part that these rows describe; one for some metals holds there, or if no metal is named."""
    rows = tuple(dict.fromkeys(rows))
    metals = {row.metal for row in rows if row.metal}
    return tuple(limit for row in rows for limit in row.limits if not (limit.on and metals) or limit.on & metals)


# -- the table ---------------------------------------------------------------------------------------------------------


@cache
def silent_phrases() -> tuple[str, ...]:
    """Phrases that say nothing about how to clean a part."""
    words = table("cleaning")["words"]
    unless = (phrase for row in assemblies() for phrase in row.unless)
    return (*words["silent"], *words["other_parts"], *unless)


def _range(row: dict[str, Any]) -> tuple[float, float] | None:
    """The pH range of a row, if it gives one."""
    return (row["ph"][0], row["ph"][1]) if "ph" in row else None


def _limit(row: dict[str, Any]) -> Limit:
    """One limit from its row."""
    return Limit(
        reason=Reason(row["why"], row["source"]),
        forbids=tuple(frozenset(traits.split("+")) for traits in row.get("forbids", ())),
        ph=_range(row),
        temperature_max_c=row.get("temperature_max_c"),
        minutes_max=row.get("minutes_max"),
        when=row.get("when"),
        on=frozenset(row.get("on", ())),
        kept_off=frozenset(row.get("kept_off", ())),
    )


def _subjects(group: str) -> tuple[Subject, ...]:
    """The rows of one group."""
    return tuple(
        Subject(
            name=row["name"],
            also=tuple(row["also"]),
            limits=tuple(_limit(limit) for limit in row["limits"]),
            cautions=reasons(row.get("cautions", ())),
            metal=row.get("metal"),
            drying=row.get("drying"),
            takes_finish=row.get("takes_finish", True),
            rusts=row.get("rusts", False),
            is_rare=row.get("rare", False),
            is_danger=row.get("danger", False),
            is_in_a_cell=row.get("in_a_cell", False),
            only_on=frozenset(row.get("only_on", ())),
            unless=tuple(row.get("unless", ())),
            until=frozenset(row.get("until", ())),
        )
        for row in table("cleaning")[group]
    )


@cache
def materials() -> tuple[Subject, ...]:
    """Every material of the table."""
    return _subjects("material")


@cache
def finishes() -> tuple[Subject, ...]:
    """Every finish of the table; the first is "none"."""
    return _subjects("finish")


@cache
def kinds() -> tuple[Subject, ...]:
    """Every kind of part that is more delicate than its material."""
    return _subjects("kind")


@cache
def assemblies() -> tuple[Subject, ...]:
    """Every whole assembly that is stripped before it is cleaned."""
    return _subjects("assembly")


@cache
def soils() -> tuple[Soil, ...]:
    """Everything that may be stuck to a part."""
    return tuple(
        Soil(
            name=row["name"],
            also=tuple(row["also"]),
            yields_to=tuple(map(frozenset, row["yields_to"])),
            source=row["source"],
            cautions=reasons(row.get("cautions", ())),
            question=row.get("question"),
            limits=tuple(_limit(limit) for limit in row.get("limits", ())),
            grows_wet=row.get("grows_wet", False),
            wiped=tuple(map(frozenset, row.get("wiped", ()))),
            wiped_cautions=reasons(row.get("wiped_cautions", ())),
        )
        for row in table("cleaning")["soil"]
    )


@cache
def apart() -> dict[str, Reason]:
    """Metals that share a bath with no other metal, with the reason."""
    return {row["metal"]: Reason(row["why"], row["source"]) for row in table("cleaning")["apart"]}


def _dry(mode: dict[str, Any]) -> Process:
    """A mode that needs no liquid."""
    return Process(
        mode=mode["name"],
        chemistry=DRY,
        rank=mode["force"],
        traits=frozenset(mode["traits"]),
        powers=frozenset(mode["powers"]),
        ph=None,
        temperature_c=None,
        minutes=None,
        solvent=None,
        rinse="none",
        cautions=reasons(mode.get("cautions", ())),
    )


def _wet(mode: dict[str, Any], liquid: dict[str, Any]) -> Process:
    """A mode with a liquid."""
    return Process(
        mode=mode["name"],
        chemistry=liquid["name"],
        rank=mode["force"] + liquid["bite"],
        traits=frozenset(mode["traits"]) | frozenset(liquid["traits"]),
        powers=frozenset(mode["powers"]) | frozenset(liquid["powers"]),
        ph=_range(liquid),
        temperature_c=mode["temperature_c"],
        minutes=mode.get("minutes"),
        solvent=liquid.get("solvent"),
        rinse=mode.get("rinse") or liquid["rinse" if "immersion" in mode["traits"] else "wiped_off"],
        cautions=reasons(mode.get("cautions", ())) + reasons(liquid.get("cautions", ())),
    )


def _go_together(mode: dict[str, Any], liquid: dict[str, Any]) -> bool:
    """Whether anyone would use this liquid in this mode; whether it is safe is asked elsewhere."""
    suits = mode["liquids"] in {"any", liquid["name"]} or (mode["liquids"] == "aqueous" and "water" in liquid["traits"])
    return suits and mode["name"] in liquid.get("modes", (mode["name"],))


@cache
def processes() -> tuple[Process, ...]:
    """Every way of cleaning, gentlest first; of two alike in rank, the one with the gentler mode."""
    modes, liquids = table("cleaning")["mode"], table("cleaning")["liquid"]
    dry = [_dry(mode) for mode in modes if mode["liquids"] == "none"]
    wet = [_wet(mode, liquid) for mode in modes for liquid in liquids if _go_together(mode, liquid)]
    return tuple(sorted(dry + wet, key=lambda process: process.rank))  # stable: modes stand in order of force
