"""What several strip-downs of one variant teach."""

from datetime import timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from camerawright.journal.entries import (
    Cautioned,
    Entry,
    Fastener,
    Independent,
    Loose,
    Marked,
    Ordered,
    Refitted,
    Reminded,
    Removed,
    Shim,
)
from camerawright.journal.state import fold
from camerawright.refit.learning import carried_over, learned
from camerawright.refit.lesson import PAUSE
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


ORDERS = st.lists(st.lists(st.sampled_from("abcdef"), unique=True), max_size=4)


@given(ORDERS)
def test_pairs_seen_in_both_orders_are_free_and_no_others(orders: list[list[str]]) -> None:
    """By counting."""
    lore = learned([(f"J{i}", fold(strip(*order))) for i, order in enumerate(orders)])
    seen = {(a, b) for order in orders for i, a in enumerate(order) for b in order[i + 1 :]}
    assert lore.free == {frozenset(pair) for pair in seen if pair[::-1] in seen}


def test_a_part_that_came_off_twice_counts_where_it_came_off_first() -> None:
    clock = Clock()
    twice = [*strip("dial", "plate", clock=clock), Refitted(at=clock(), part="dial"), *strip("dial", clock=clock)]
    lore = learned([("J1", fold(twice))])
    assert lore.free == frozenset()
    assert lore.order == ("dial", "plate")


def test_the_usual_hardware_shows_where_two_bodies_differ() -> None:
    three, four = (Fastener(count=n, size="M1.7", length_mm=3) for n in (3, 4))
    ball = Loose(what="ball 1.5 mm", place="detent")
    one = [Removed(at=START, part="plate", fasteners=(three,), loose=(ball,))]
    two = [Removed(at=START, part="plate", fasteners=(four,))]
    silent = [Removed(at=START, part="plate")]  # nobody wrote the screws down: no evidence of none
    lore = learned([("J1", fold(one)), ("J2", fold(two)), ("J3", fold(silent))])
    usual = {item.joint: (item.counts, item.differs) for item in lore.parts["plate"].hardware}
    assert usual == {
        ("screw", "M1.7 × 3 mm"): ((3, 4), True),
        ("loose part", "ball 1.5 mm, detent"): ((1, 0), True),
    }


def test_what_a_sister_variant_taught_is_marked_as_carried_over_and_never_certain() -> None:
    clock = Clock()
    journal: list[Entry] = [
        Marked(at=clock(), part="dial", mark="25 at the stop"),
        Cautioned(at=clock(), part="dial", hazard="ball beneath"),
        Reminded(at=clock(), part="dial", todo="hook the spring"),
        Ordered(at=clock(), first="dial", then="plate", reason="pins it"),
        Ordered(at=clock(), first="plate", then="prism", reason="covers it"),
        *strip("dial", "plate", clock=clock),
    ]
    own = learned([("J2", fold([Cautioned(at=START, part="plate", hazard="sharp"), *strip("plate", "prism")]))])
    lore = carried_over(own, learned([("J1", fold(journal))]), "first pattern")
    dial = lore.parts["dial"]
    assert dial.carried_from == "first pattern"
    assert dial.marks == ("25 at the stop (seen on first pattern)",)
    assert dial.cautions == ("ball beneath (seen on first pattern)",)
    assert dial.reminders == ("hook the spring (seen on first pattern)",)
    assert lore.parts["plate"].carried_from is None, "this one was seen here"
    assert lore.parts["plate"].cautions == ("sharp",)
    carried = [(c.first, c.then, c.certain, c.carried, c.reason) for c in lore.constraints]
    assert carried == [
        ("dial", "plate", False, True, "pins it (seen on first pattern)"),
        ("plate", "prism", False, True, "covers it (seen on first pattern)"),
    ]
    assert set(lore.order) == {"dial", "plate", "prism"}


def test_what_is_known_first_hand_stands_against_a_sister_variant() -> None:
    ours = learned([("J2", fold([Ordered(at=START, first="a", then="b", reason="covers it"), *strip("a", "b")]))])
    theirs = learned([("J1", fold([Ordered(at=START, first="b", then="a", reason="pins it"), *strip("b", "a")]))])
    lore = carried_over(ours, theirs, "first pattern")
    assert [(c.first, c.then, c.certain) for c in lore.constraints] == [("a", "b", True)]
    assert lore.order == ("a", "b")
