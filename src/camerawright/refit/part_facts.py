"""What is known of parts that are cleaned together, and what somebody has to find out."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from camerawright.handbook import cleaning
from camerawright.handbook.cleaning import Limit, Soil, Subject
from camerawright.handbook.part_words import Understanding, understood, understood_soil


@dataclass(frozen=True, slots=True)
class PartSpec:
    """What is known of a part, in the words of whoever took it off; `None` and empty where nothing was said."""

    part: str
    material: str | None = None
    finish: str | None = None
    soil: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Doubt:
    """A question about a part, and the rows that the answer may turn out to be."""

    question: str
    rows: tuple[Subject, ...]


@dataclass(frozen=True, slots=True)
class Facts:
    """What is known, and not known, about parts that stay together."""

    parts: tuple[str, ...]
    subjects: tuple[Subject, ...]
    soils: tuple[Soil, ...]
    strange_soil: tuple[str, ...]
    metals: tuple[str, ...]
    doubts: tuple[Doubt, ...]


def _read(part: PartSpec) -> tuple[Understanding, Understanding, Understanding]:
    """Material, finish and name, each understood."""
    material, finish = understood(part.material or ""), understood(part.finish or "")
    return material, finish, understood(part.part)


def _said(unknown: Sequence[str], words: str | None, what: str) -> str:
    """What was said, as far as it was not understood."""
    strange = " ".join(unknown) or words
    return f"“{strange}” is not in the table" if strange else f"No {what} was noted"


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
        doubts.append(
            Doubt(question, _common(cleaning.materials() + (cleaning.finishes() if material.unknown else ())))
        )
    is_asked = not materials or any(row.takes_finish for row in materials)
    if finish.unknown or (is_asked and not material.finishes + finish.finishes):
        question = (
            f"How is the {part.part} finished? {_said(finish.unknown, part.finish, 'finish')}. Look for paint, "
            "lacquer, plating, dye and filled figures. “None” is an answer."
        )
        doubts.append(Doubt(question, _common(cleaning.finishes())))
    return tuple(doubts)


def _common(rows: Iterable[Subject]) -> tuple[Subject, ...]:
    """Those that any part may turn out to be."""
    return tuple(row for row in rows if not row.is_rare)


def facts_of(parts: Sequence[PartSpec]) -> Facts:
    """Gather all that is known about parts that stay together."""
    subjects: list[Subject] = []
    doubts: list[Doubt] = []
    soils: list[Soil] = []
    strange: list[str] = []
    for part in parts:
        material, finish, name = _read(part)
        subjects += material.materials + finish.materials + material.finishes + finish.finishes
        subjects += material.kinds + finish.kinds + name.kinds
        doubts += _doubts(part, material, finish)
        for words in part.soil:
            soil = understood_soil(words)
            soils += soil.soils
            strange += [words] if soil.unknown or not soil.soils else []
    return Facts(
        parts=tuple(part.part for part in parts),
        subjects=tuple(dict.fromkeys(subjects)),
        soils=tuple(dict.fromkeys(soils)),
        strange_soil=tuple(dict.fromkeys(strange)),
        metals=tuple(dict.fromkeys(subject.metal for subject in subjects if subject.metal)),
        doubts=tuple(doubts),
    )


def _company_limits(metals: Sequence[str]) -> tuple[Limit, ...]:
    """Metals that may not share a bath do not go into one together, even where they are joined."""
    if len(metals) < 2:
        return ()
    reasons = [cleaning.apart()[metal] for metal in metals if metal in cleaning.apart()]
    return tuple(Limit(reason, forbids=(frozenset({"bath", "water"}),)) for reason in reasons)


def limits_of(facts: Facts, doubts: Sequence[Doubt] = ()) -> tuple[Limit, ...]:
    """List every limit that surely holds, and those of every row that the part may turn out to be."""
    sure = cleaning.limits_on(facts.subjects)
    doubted = [row for doubt in doubts for row in doubt.rows]
    return tuple(dict.fromkeys((*sure, *_worst(facts, doubted), *_company_limits(facts.metals))))


def _worst(facts: Facts, rows: Sequence[Subject]) -> Iterator[Limit]:
    """Every limit of rows that a part may turn out to be; one for some metals, unless its metal is surely another."""
    for limit in (limit for row in dict.fromkeys(rows) for limit in row.limits):
        if not (limit.on and facts.metals) or limit.on & {*facts.metals} or any(row.metal in limit.on for row in rows):
            yield limit
