"""What several strip-downs of one variant teach."""

from datetime import timedelta

import pytest

from camerawright.journal.entries import Cautioned, Entry, Independent, Marked, Ordered, Removed, Shim
from camerawright.journal.state import fold
from camerawright.refit.learning import PAUSE, learned
from tests.journal.makers import START, Clock, strip


def test_a_second_strip_down_in_another_order_loosens_only_what_it_contradicts() -> None:
    one, two = fold(strip("cap", "dial", "plate")), fold(strip("dial", "cap", "plate"))
    lore = learned([("J1", one), ("J2", two)])
    assert lore.free == {frozenset(("cap", "dial"))}
    assert lore.order[-1] == "plate"


def test_a_certain_reason_outlives_a_strip_down_in_another_order() -> None:
    said: list[Entry] = [*strip("cap", "dial"), Ordered(at=Clock()(), first="cap", then="dial", reason="covers it")]
    lore = learned([("J1", fold(said)), ("J2", fold(strip("dial", "cap")))])
    assert [(c.first, c.then) for c in lore.constraints] == [("cap", "dial")]


def test_hazards_marks_and_shims_are_carried_over_with_their_words() -> None:
    clock = Clock()
    journal: list[Entry] = [
        Marked(at=clock(), part="dial", mark="25 at the stop"),
        Cautioned(at=clock(), part="dial", hazard="ball and spring beneath", escapes=True),
        Independent(at=clock(), part="dial", other="spool", reason="different sides"),
        Removed(at=clock(), part="dial", shims=(Shim(place="beneath", count=2, thickness_mm=0.05),)),
    ]
    lore = learned([("J1", fold(journal))])
    dial = lore.parts["dial"]
    assert (dial.marks, dial.cautions, dial.escapes) == (("25 at the stop",), ("ball and spring beneath",), True)
    assert dial.shims == ("2 × 0.05 mm, beneath",)
    assert lore.free == {frozenset(("dial", "spool"))}
    assert lore.jobs == ("J1",)


def test_step_times_leave_breaks_out() -> None:
    at = START
    journal: list[Entry] = []
    for minutes, part in ((0, "cap"), (4, "dial"), (PAUSE.total_seconds() / 60 + 1, "plate"), (6, "prism")):
        at += timedelta(minutes=minutes)
        journal.append(Removed(at=at, part=part))
    lore = learned([("J1", fold(journal))])
    assert lore.parts["dial"].median_minutes == pytest.approx(4)
    assert lore.parts["plate"].median_minutes is None
    assert lore.parts["prism"].median_minutes == pytest.approx(6)


def test_what_is_expected_next_is_the_first_part_not_touched_yet() -> None:
    lore = learned([("J1", fold(strip("cap", "dial", "plate")))])
    upcoming = lore.expected_next(fold(strip("cap")))
    assert upcoming is not None
    assert upcoming.name == "dial"
    assert lore.expected_next(fold(strip("cap", "plate", "dial"))) is None


def test_nothing_is_known_of_a_variant_that_was_never_stripped() -> None:
    lore = learned([("J1", fold([]))])
    assert (lore.jobs, lore.order) == ((), ())
