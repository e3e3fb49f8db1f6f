"""Sides of a camera that are freed of each other: what nobody has put in one is said. By hand."""

from camerawright.journal.entries import Contains, Entry, Independent
from camerawright.journal.order import order_facts
from camerawright.journal.sides import in_neither
from camerawright.journal.state import fold
from tests.journal.makers import Clock, against, refused, strip

OFF = ("top cover", "meter cell", "meter needle", "shutter", "rangefinder cam")


def _sides(*meter: str) -> list[Entry]:
    clock = Clock()
    sides = {"meter side": meter, "shutter side": ("shutter",)}
    said = [Contains(at=clock(), part=side, parts=parts) for side, parts in sides.items() if parts]
    return [*strip(*OFF, clock=clock), *said]


def _free(clock: Clock, part: str = "meter side", other: str = "shutter side") -> Independent:
    return Independent(at=clock(), part=part, other=other, reason="one above, one in front")


def test_a_side_of_no_parts_is_asked_for_with_those_named_like_it() -> None:
    (trouble,) = against(_sides(), _free(Clock()))
    assert trouble.what == "nobody has said which parts are in the meter side, so this frees none"
    assert trouble.mend == "enter first what it contains, perhaps meter cell and meter needle"
    assert trouble.can_overrule


def test_a_part_named_like_a_side_that_is_in_none_is_asked_about() -> None:
    assert refused(_sides("meter cell"), _free(Clock())) == [
        "this does not free meter needle: nobody has put that in the meter side"
    ]
    assert not refused(_sides("meter cell", "meter needle"), _free(Clock()))


def test_two_parts_are_freed_without_a_question() -> None:
    assert not refused(_sides(), _free(Clock(), "top cover", "shutter"))
    assert not refused([], _free(Clock(), "front cell", "back cover")), "they may come off later"


def test_what_is_in_neither_side_is_told() -> None:
    journal = [*_sides("meter cell", "meter needle"), _free(Clock())]
    state = fold(journal)
    assert in_neither(order_facts(state), state) == {
        "meter side and the shutter side": ("top cover", "rangefinder cam")
    }
