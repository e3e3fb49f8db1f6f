"""What is known of parts that are cleaned together, and what somebody has to find out."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cache

from camerawright.handbook import cleaning
from camerawright.handbook.cleaning import Limit, Soil, Subject
from camerawright.handbook.part_words import Understanding, nearest, understood, understood_soil, whole_assembly


@dataclass(frozen=True, slots=True)
class PartSpec:
    """What is known of a part, in the words of whoever took it off; `None` and empty where nothing was said.

    `is_stripped` says that it is no whole assembly any more: what makes it one came out.
    """

    part: str
    material: str | None = None
    finish: str | None = None
    soil: tuple[str, ...] = ()
    is_stripped: bool = False


@dataclass(frozen=True, slots=True)
class Doubt:
    """A question about a part, and the limits of all that the answer may turn out to be."""

    question: str
    limits: tuple[Limit, ...]


@dataclass(frozen=True, slots=True)
class Facts:
    """What is known, and not known, about parts that stay together; `soil_words` is how each soil was called here.

    `wholes` are the names of those that are whole assemblies, which are stripped first. `vague` are words that mean
    several materials.
    """

    parts: tuple[str, ...]
    subjects: tuple[Subject, ...]
    limits: tuple[Limit, ...]
    soils: tuple[Soil, ...]
    strange_soil: tuple[str, ...]
    metals: tuple[str, ...]
    doubts: tuple[Doubt, ...]
    soil_words: Mapping[str, str]
    wholes: tuple[str, ...] = ()
    vague: tuple[str, ...] = ()

    def called(self, soils: Iterable[Soil]) -> list[str]:
        """Soils as whoever looked at the parts called them."""
        return [self.soil_words.get(soil.name, soil.name) for soil in soils]


def _read(part: PartSpec) -> tuple[Understanding, Understanding, Understanding]:
    """Material, finish and name, each understood."""
    material, finish = understood(part.material or ""), understood(part.finish or "")
    return material, finish, understood(part.part)


def _said(unknown: Sequence[str], words: str | None, what: str) -> str:
    """What was said, as far as it was not understood."""
    strange = " ".join(unknown) or words
    if not strange:
        return f"No {what} was noted"
    near = [f"“{phrase}”" for word in unknown for phrase in nearest(word, what)]
    return f"“{strange}” is not in the table" + (f"; near it are {', '.join(dict.fromkeys(near))}" if near else "")


def strange_words(part: PartSpec) -> tuple[str, ...]:
    """Say which words about a part are not in the table, and which known ones are nearest."""
    material, finish, _ = _read(part)
    said = [_said(material.unknown, part.material, "material")] if material.unknown else []
    said += [_said(finish.unknown, part.finish, "finish")] if finish.unknown else []
    return (*said, *(_said(soil.unknown, None, "soil") for soil in map(understood_soil, part.soil) if soil.unknown))


def _doubts(part: PartSpec, material: Understanding, finish: Understanding) -> tuple[Doubt, ...]:
    """What to find out about one part."""
    doubts = []
    materials = material.materials + finish.materials
    if not materials or material.unknown:
        question = (
            f"What is the {part.part} made of? {_said(material.unknown, part.material, 'material')}. Try a magnet, "
            "feel its weight, and scratch it where nobody sees it."
        )
        # A strange word beside the material may name a finish.
        rows = cleaning.materials() + (cleaning.finishes() if material.unknown else ())
        doubts.append(Doubt(question, _worst(rows, ())))
    is_asked = not materials or any(row.takes_finish for row in materials)
    if finish.unknown or (is_asked and not material.finishes + finish.finishes):
        question = (
            f"How is the {part.part} finished? {_said(finish.unknown, part.finish, 'finish')}. Look for paint, "
            "lacquer, plating, dye and filled figures. “None” is an answer."
        )
        doubts.append(Doubt(question, _worst(cleaning.finishes(), materials)))
    return tuple(doubts)


def _worst(rows: Iterable[Subject], materials: Sequence[Subject]) -> tuple[Limit, ...]:
    """All limits of what a part of these materials may turn out to be; of any metal, where none is known."""
    metals = {row.metal for row in materials if row.metal}
    names = {row.name for row in materials}
    rows = (row for row in rows if not row.is_rare and not (row.only_on and names and not row.only_on & names))
    limits = (limit for row in rows for limit in row.limits)
    return tuple(limit for limit in limits if not (limit.on and metals) or limit.on & metals)


def dirt_question(facts: Facts) -> str | None:
    """Ask what is stuck to them, where nobody said anything of any."""
    if facts.soils or facts.strange_soil:
        return None
    return (
        f"What is stuck to the {facts.parts[0]}? No dirt was noted. Look for oil, grease, grime, rust "
        "and glue. “Dust” is an answer."
    )


def facts_of(parts: Sequence[PartSpec]) -> Facts:
    """Gather all that is known about parts that stay together."""
    subjects: list[Subject] = []
    limits: list[Limit] = []
    doubts: list[Doubt] = []
    soils: list[Soil] = []
    strange: list[str] = []
    soil_words: dict[str, str] = {}
    wholes: list[str] = []
    vague: list[str] = []
    for part in parts:
        material, finish, name = _read(part)
        vague += material.vague
        rows = material.materials + finish.materials
        rows += _meant(material.finishes + finish.finishes, rows)
        rows += material.kinds + finish.kinds + name.kinds
        whole = None if part.is_stripped else whole_assembly(part.part, part.material, part.finish)
        if whole:
            rows = (whole, *rows)
            wholes.append(part.part)
        subjects += rows
        limits += cleaning.limits_on(rows)
        doubts += _doubts(part, material, finish)
        for words in part.soil:
            soil = understood_soil(words)
            soils += soil.soils
            limits += (limit for each in soil.soils for limit in each.limits)
            if len(soil.soils) == 1:
                soil_words.setdefault(soil.soils[0].name, words)
            strange += [words] if soil.unknown or not soil.soils else []
    return Facts(
        parts=tuple(part.part for part in parts),
        subjects=tuple(dict.fromkeys(subjects)),
        limits=tuple(dict.fromkeys(limits)),
        soils=tuple(dict.fromkeys(soils)),
        strange_soil=tuple(dict.fromkeys(strange)),
        metals=tuple(dict.fromkeys(subject.metal for subject in subjects if subject.metal)),
        doubts=tuple(doubts),
        soil_words=soil_words,
        wholes=tuple(wholes),
        vague=tuple(dict.fromkeys(vague)),
    )


def _meant(finishes: Sequence[Subject], materials: Sequence[Subject]) -> tuple[Subject, ...]:
    """The finishes that the words mean on these materials; all of them, where none is surely meant."""
    names = {row.name for row in materials}
    is_sure = any(row.only_on & names for row in finishes)
    return tuple(row for row in finishes if not (is_sure and row.only_on) or row.only_on & names)


@cache
def _company_limits(metals: tuple[str, ...]) -> tuple[Limit, ...]:
    """Metals that may not share a bath do not go into one together, even where they are joined."""
    if len(metals) < 2:
        return ()
    reasons = [cleaning.apart()[metal] for metal in metals if metal in cleaning.apart()]
    return tuple(Limit(reason, forbids=(frozenset({"bath", "water"}),)) for reason in reasons)


def limits_of(facts: Facts, doubts: Sequence[Doubt] = ()) -> tuple[Limit, ...]:
    """List every limit that surely holds, and those of every row that a part may turn out to be."""
    doubted = (limit for doubt in doubts for limit in doubt.limits)
    return tuple(dict.fromkeys((*facts.limits, *doubted, *_company_limits(facts.metals))))
