"""What differs between two bodies: nothing against itself, mirrored the other way round, and no more than it needs."""

from collections.abc import Sequence
from datetime import timedelta
from itertools import combinations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from camerawright.journal.entries import Cautioned, Entry, Fastener, Loose, Marked, Refitted, Removed, Shim
from camerawright.journal.state import fold
from camerawright.refit.differences import Difference, differences
from tests.journal.makers import START, journals, strip


def _between(a: Sequence[Entry], b: Sequence[Entry]) -> list[tuple[str, str, str, str]]:
    return [(d.kind, d.part, d.a, d.b) for d in differences(fold(a), fold(b))]


def _cover(**fields: object) -> list[Entry]:
    return [Removed.model_validate({"at": START, "part": "cover", **fields})]


@given(journals())
def test_a_body_does_not_differ_from_itself(journal: list[Entry]) -> None:
    assert differences(fold(journal), fold(journal)) == ()


@given(journals(), journals())
def test_all_but_the_order_is_the_same_seen_from_either_body(one: list[Entry], two: list[Entry]) -> None:
    a, b = fold(one), fold(two)
    there = {(d.kind, d.part, d.a, d.b) for d in differences(a, b) if d.kind != "order"}
    back = {(d.kind, d.part, d.b, d.a) for d in differences(b, a) if d.kind != "order"}
    assert there == back


def test_a_part_that_came_off_in_one_only_is_told() -> None:
    one = [*strip("cover", "dial"), Cautioned(at=START, part="lens", hazard="spring")]
    two = strip("cover", "lens")
    assert _between(one, two) == [
        ("part", "dial", "came off", "not in the journal"),
        ("part", "lens", "stayed on", "came off"),
    ]


def test_the_part_that_moved_is_named_and_not_all_it_passed() -> None:
    assert _between(strip("a", "b", "c", "d"), strip("d", "a", "b", "c")) == [("order", "d", "after c", "first")]


@given(st.integers(0, 6).flatmap(lambda n: st.permutations(range(n))))
def test_as_few_parts_as_possible_explain_the_order(order: list[int]) -> None:
    """Against trying every set of parts that could be left out (brute force)."""
    names = [f"part {n}" for n in range(len(order))]
    moved = {
        d.part for d in differences(fold(strip(*names)), fold(strip(*(names[n] for n in order)))) if d.kind == "order"
    }
    kept = [names[n] for n in order if names[n] not in moved]
    assert kept == sorted(kept)
    fewest = next(
        n_out
        for n_out in range(len(order) + 1)
        if any(
            sorted(left) == list(left)
            for out in combinations(order, n_out)
            for left in [[n for n in order if n not in out]]
        )
    )
    assert len(moved) == fewest


def test_screws_shims_and_loose_parts_are_counted_kind_by_kind() -> None:
    one = _cover(
        fasteners=[Fastener(count=3, size="M1.7", length_mm=4), Fastener(count=1, size="M1.4")],
        shims=[Shim(place="NE", count=1, thickness_mm=0.1)],
    )
    two = _cover(
        fasteners=[
            Fastener(count=2, size="M1.7", length_mm=4),
            Fastener(count=1, size="M1.7", length_mm=4, hole="SW"),
            Fastener(count=1, size="M1.4"),
        ],
        shims=[Shim(place="NE", count=2, thickness_mm=0.05)],
        loose=[Loose(what="ball 1.5 mm")],
    )
    assert _between(one, two) == [
        ("shim", "cover", "1 × 0.10 mm, NE", "2 × 0.05 mm, NE"),
        ("loose part", "cover", "none entered", "1 × ball 1.5 mm"),
    ]


@pytest.mark.parametrize(("looked", "told"), [(True, "looked, and none"), (None, "none entered")])
def test_that_nobody_looked_beneath_is_not_that_nothing_was_there(looked: bool | None, told: str) -> None:
    two = _cover(shims=[Shim(place="NE", count=1)])
    assert _between(_cover(looked_beneath=looked), two) == [("shim", "cover", told, "1 × thickness not taken, NE")]


def test_marks_material_and_finish_are_compared_whatever_the_case() -> None:
    one = [Marked(at=START - timedelta(minutes=1), part="cover", mark="dot at three"), *_cover(material="Brass")]
    assert _between(one, [Marked(at=START - timedelta(minutes=1), part="Cover", mark="Dot at  three"), *_cover()]) == []
    assert _between(one, _cover(material="aluminium", finish="anodised")) == [
        ("material", "cover", "Brass", "aluminium"),
        ("mark", "cover", "dot at three", "none noted"),
    ]


def test_the_first_removal_counts_because_later_ones_show_what_the_bench_put_in() -> None:
    one = _cover(fasteners=[Fastener(count=3, size="M1.7")])
    again: list[Entry] = [
        Refitted(at=START + timedelta(hours=1), part="cover"),
        Removed(at=START + timedelta(hours=2), part="cover", fasteners=(Fastener(count=2, size="M1.7"),)),
    ]
    assert _between([*one, *again], one) == []
    assert _between(one, [*one, *again]) == []


def test_a_difference_says_which_part_and_how_each_tells_it() -> None:
    (only,) = differences(fold(strip("cover")), fold([]))
    assert only == Difference(kind="part", part="cover", a="came off", b="not in the journal")
