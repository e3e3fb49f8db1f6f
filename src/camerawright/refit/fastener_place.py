"""Where a seized fastener sits: what it and its seat are made of, and what a drop, warm air or a blow could reach."""

from collections.abc import Sequence
from dataclasses import dataclass

from camerawright.handbook import cleaning, seized
from camerawright.handbook.cleaning import Limit, Subject
from camerawright.handbook.part_words import understood
from camerawright.handbook.seized import Gain, Liquid, Step
from camerawright.handbook.tables import COMMON_PRACTICE, Reason


@dataclass(frozen=True, slots=True)
class Place:
    """The screw, what it sits in, and what lies beside it, as rows of the cleaning table.

    Parameters
    ----------
    questions
        What has to be found out before anything that could reach beyond the screw.
    """

    screw: tuple[Subject, ...]
    seat: tuple[Subject, ...]
    beside: tuple[Subject, ...]
    questions: tuple[str, ...]

    @property
    def all(self) -> tuple[Subject, ...]:
        """Everything that a rung could reach."""
        return tuple(dict.fromkeys((*self.screw, *self.seat, *self.beside)))

    @property
    def liquids(self) -> tuple[Liquid, ...]:
        """What may be let in at the thread."""
        return tuple(
            liquid for liquid in seized.liquids() if not any(limit.rules_out(liquid.process) for limit in self.limits)
        )

    @property
    def limits(self) -> tuple[Limit, ...]:
        """What harms any of them; of what lies beside it, nobody says which words belong together."""
        beside = (limit for row in self.beside for limit in row.limits)
        return tuple(dict.fromkeys((*cleaning.limits_on(self.screw), *cleaning.limits_on(self.seat), *beside)))

    def against(self, step: Step) -> tuple[Reason, ...]:
        """Why a rung is not for this place; empty if nothing known speaks against it."""
        if step.name == "solvent and wait" and not self.liquids:
            return tuple(
                dict.fromkeys(
                    limit.reason
                    for limit in self.limits
                    if any(limit.rules_out(liquid.process) for liquid in seized.liquids())
                )
            )
        return seized.forbidden(step.name, self.all)


def _rows(words: Sequence[str]) -> tuple[tuple[Subject, ...], tuple[str, ...]]:
    """What the words mean, and those that mean nothing to the table."""
    read = [(text, understood(text)) for text in words]
    rows = tuple(row for _, said in read for row in (*said.materials, *said.finishes, *said.kinds))
    strange = tuple(text for text, said in read if said.unknown or not (said.materials or said.finishes or said.kinds))
    return rows, strange


def place_of(materials: Sequence[str], beside: Sequence[str]) -> Place:
    """Read what the screw and its seat are made of, and what is beside them; gather what to ask.

    Parameters
    ----------
    materials
        The screw first, then what it sits in; whatever follows lies beside it.
    beside
        What else a drop, warm air or a blow could reach; “none” is an answer, nothing at all is not.
    """
    screw, strange_screw = _rows(materials[:1])
    seat, strange_seat = _rows(materials[1:2])
    near, strange_near = _rows((*materials[2:], *beside))
    questions = [
        f"What is “{words}”? It is not in the table, and it may be more delicate than it looks."
        for words in (*strange_screw, *strange_seat, *strange_near)
    ]
    if len(materials) < 2:
        missing = "What are the screw and its seat made of?" if not materials else "What does the screw sit in?"
        questions.append(f"{missing} Try a magnet, and scratch them where nobody sees it.")
    if not beside and len(materials) < 3:
        questions.append(
            "What lies beside it that a drop, warm air or a blow could reach: glass, celluloid, a covering, paint? "
            "“None” is an answer."
        )
    return Place(screw, seat, near, tuple(dict.fromkeys(questions)))


# -- warmth ------------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Warming:
    """How to warm a place, and what its bore gains on the screw; `None` where no figure is at hand."""

    how: tuple[Reason, ...]
    both: Gain | None
    seat_only: Gain | None


_BY_EFFECT = {
    "opens": "The seat grows more than the screw: warm both, and turn the screw while it is warm.",
    "grips": "The screw grows more than its seat: warm only the seat, quickly, or let all cool and turn it cold.",
    "undecided": "Which of the two grows more depends on their alloys: warm only the seat, quickly.",
}


def warming_of(place: Place, diameter_mm: float | None) -> Warming:
    """Say how warm, what that gains, and which of the two to warm; for each mm of diameter where none is given."""
    warmth, screw, seat = seized.warmth(place.all), seized.expansion(place.screw), seized.expansion(place.seat)
    air = Reason(f"Use hot air of {warmth.max_c:g} °C at most at the part. {warmth.reason.text}", warmth.reason.source)
    if screw is None or seat is None:
        unknown = "We have no figure for how much this pair grows: warm what the screw sits in."
        return Warming((air, Reason(unknown, COMMON_PRACTICE)), None, None)
    rise_k = warmth.max_c - seized.heat().room_c
    size_mm = 1.0 if diameter_mm is None else diameter_mm
    both = seized.gain(seat, screw, diameter_mm=size_mm, bore_rise_k=rise_k, screw_rise_k=rise_k)
    seat_only = seized.gain(seat, screw, diameter_mm=size_mm, bore_rise_k=rise_k, screw_rise_k=0.0)
    size = "for each mm of diameter" if diameter_mm is None else f"on a thread of {diameter_mm:g} mm"
    gains = (
        f"Warmed by {rise_k:g} °C, the hole gains {both} {size} if both get warm, and {seat_only} while the screw is "
        f"still cold. {_BY_EFFECT[both.effect]}"
    )
    return Warming((air, Reason(gains, ", ".join(both.sources))), both, seat_only)
