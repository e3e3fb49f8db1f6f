"""A check that needs a part: what must be in first, and what cannot be. By hand."""

import pytest

from camerawright.journal.entries import Contains, Entry, HoldPoint, Ordered, Refitted
from camerawright.journal.known import Known
from camerawright.journal.order import constraints_said, order_facts
from camerawright.journal.state import fold
from camerawright.refit.way_back import way_back
from tests.journal.makers import Clock, against, strip


def _before_meter_cell(clock: Clock) -> HoldPoint:
    return HoldPoint(at=clock(), check="needle moves at 1/25", part="meter cell", needs=("shutter",))


@pytest.mark.parametrize("part", ["meter cell", None])
def test_a_check_whose_part_is_not_in_yet_says_what_must_be_in_first(part: str | None) -> None:
    clock = Clock()
    check = _before_meter_cell(clock).model_copy(update={"part": part})
    journal: list[Entry] = [*strip("meter cell", "shutter", clock=clock), check]
    known = Known(checks_first={"meter cell": (check,)})
    assert {trouble.mend for trouble in against(journal, Refitted(at=clock(), part="meter cell"), known)} == {
        "put shutter back first, then check it"
    }
    way = way_back(fold(journal).off, order_facts(fold(journal)), holds=[check])
    assert [step.part.name for step in way.steps] == ["shutter", "meter cell"]
    journal.append(Refitted(at=clock(), part="shutter"))
    assert all(
        "put " not in trouble.mend for trouble in against(journal, Refitted(at=clock(), part="meter cell"), known)
    )


@pytest.mark.parametrize("needed", ["front plate", "lens", "meter cell"])
def test_a_check_that_can_never_come_in_time_is_questioned_once(needed: str) -> None:
    """The lens sits on the front plate, and that over the meter cell: neither is in before the cell."""
    clock = Clock()
    said: list[Entry] = [
        *strip("lens", "front plate", "meter cell", clock=clock),
        Ordered(at=clock(), first="lens", then="front plate", reason="screwed on it"),
        Ordered(at=clock(), first="front plate", then="meter cell", reason="covers it"),
    ]
    known = Known(constraints=tuple(constraints_said(fold(said))))
    check = HoldPoint(at=clock(), check="needle moves", part="meter cell", needs=(needed,))
    (trouble,) = against(said, check, known)
    assert trouble.can_overrule
    assert f"needs {needed} in place before meter cell goes back" in trouble.what
    assert not against(said, check.model_copy(update={"part": None}), known)
    assert not against(said, check.model_copy(update={"part": "lens", "needs": ("meter cell",)}), known)


def test_what_is_in_the_part_itself_may_be_needed_too() -> None:
    clock = Clock()
    said: list[Entry] = [
        *strip("shutter", "blades", clock=clock),
        Contains(at=clock(), part="shutter", parts=("blades",)),
    ]
    check = HoldPoint(at=clock(), check="blades open", part="shutter", needs=("blades",))
    assert not against(said, check, Known(constraints=tuple(constraints_said(fold(said)))))
