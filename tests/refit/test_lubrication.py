"""The lubrication chart: here before earlier jobs before the handbook, and what is still to be done."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from camerawright.handbook import lubrication
from camerawright.journal.entries import AccountedFor, Amount, Entry, Lubricated, Refitted, Removed
from camerawright.journal.state import fold
from camerawright.refit.learning import carried_over, learned
from camerawright.refit.lubrication import HANDBOOK, HERE, Point, chart, due, not_known
from tests.journal.makers import Clock, strip

NOTHING = learned([])


def oiled(clock: Clock, part: str, point: str, amount: Amount, lubricant: str | None = None) -> Lubricated:
    """A point that got its lubricant."""
    return Lubricated(at=clock(), part=part, point=point, amount=amount, lubricant=lubricant)


def one(points: tuple[Point, ...], part: str, point: str) -> Point:
    """The one point of that name."""
    (found,) = [item for item in points if item.part == part and item.point == point]
    return found


def test_the_handbook_proposes_what_nobody_recorded() -> None:
    points = chart(fold(strip("slow train", "top plate")), NOTHING)
    assert [(point.part, point.point, point.amount) for point in points] == [
        ("slow train", "train pivots", "touch"),
        ("slow train", "gear teeth", "dry"),
        ("slow train", "pallets", "dry"),
    ]
    assert {point.origin for point in points} == {HANDBOOK}
    assert one(points, "slow train", "train pivots").lubricant == "light synthetic oil"
    assert [point.point for point in due(points)] == ["train pivots"]


@pytest.mark.parametrize(
    ("part", "point", "origin"),
    [
        ("helicoid", "helicoid", "handbook"),
        ("slow train", "train pivots", "handbook"),
        ("shutter blade 3", "shutter blades", "handbook"),
        ("strut left", "strut joints", "handbook"),
        ("winding pawl", "wind ratchet", "handbook"),
        ("wind knob", "wind ratchet", "a guess from its name"),
        ("retard lever", "train pivots", "a guess from its name"),  # a lever at the retard is no train
    ],
)
def test_a_guessed_kind_is_never_said_to_be_the_handbooks(part: str, point: str, origin: str) -> None:
    found = {each.point: each.origin for each in chart(fold(strip(part)), NOTHING)}
    assert found[point] == origin


@pytest.mark.parametrize("part", ["cocking ring", "main lever", "setting ring", "cocking lever"])
def test_what_is_dry_in_one_shutter_and_greased_in_another_is_not_known(part: str) -> None:
    """Common practice: in a leaf shutter most cocking rings run dry."""
    state = fold(strip(part))
    assert chart(state, NOTHING) == ()
    assert not_known(state, ()) == (part,)


def test_what_was_done_here_stands_in_place_of_the_handbook() -> None:
    clock = Clock()
    entries: list[Entry] = [*strip("slow train", clock=clock), oiled(clock, "slow train", "pivots", "film", "batch 12")]
    point = one(chart(fold(entries), NOTHING), "slow train", "pivots")
    assert (point.origin, point.amount, point.lubricant, point.standing) == (HERE, "film", "batch 12", "done")
    assert not due(chart(fold(entries), NOTHING))


def test_a_part_that_comes_off_again_is_due_again() -> None:
    clock = Clock()
    entries: list[Entry] = [
        *strip("slow train", clock=clock),
        oiled(clock, "slow train", "pivots", "touch"),
        Refitted(at=clock(), part="slow train"),
        Removed(at=clock(), part="slow train"),
    ]
    assert one(chart(fold(entries), NOTHING), "slow train", "pivots").standing == "due"


def test_a_part_that_went_back_dry_is_still_due() -> None:
    clock = Clock()
    entries: list[Entry] = [*strip("slow train", clock=clock), Refitted(at=clock(), part="slow train")]
    assert [point.point for point in due(chart(fold(entries), NOTHING))] == ["train pivots"]


def test_an_earlier_job_of_the_variant_goes_before_the_handbook() -> None:
    clock = Clock()
    earlier: list[Entry] = [
        *strip("slow train", "spindle", clock=clock),
        oiled(clock, "slow train", "pivots", "touch", "thin oil"),
        oiled(clock, "spindle", "its upper end", "film", "moly"),
    ]
    lore = learned([("J1", fold(earlier))])
    points = chart(fold(strip("slow train")), lore)
    assert one(points, "slow train", "pivots").origin == "J1"
    assert one(points, "slow train", "pivots").standing == "due"
    assert one(points, "slow train", "gear teeth").origin == HANDBOOK
    spindle = one(points, "spindle", "its upper end")
    assert (spindle.standing, spindle.origin, spindle.source) == ("not off", "J1", "J1")


def test_what_was_done_here_goes_before_what_an_earlier_job_did() -> None:
    clock = Clock()
    lore = learned([("J1", fold([*strip("drum", clock=clock), oiled(clock, "drum", "ends", "touch", "thin oil")]))])
    entries: list[Entry] = [*strip("drum", clock=clock), oiled(clock, "drum", "ends", "film", "moly")]
    (point,) = chart(fold(entries), lore)
    assert (point.origin, point.amount, point.lubricant, point.standing) == (HERE, "film", "moly", "done")


def test_what_a_sister_variant_taught_is_marked_as_carried_over() -> None:
    clock = Clock()
    sister = learned([("J7", fold([*strip("drum", clock=clock), oiled(clock, "drum", "its ends", "touch")]))])
    lore = carried_over(NOTHING, sister, "first pattern")
    (point,) = chart(fold(strip("drum")), lore)
    assert point.origin == "carried over from first pattern"


def test_a_journal_that_oils_what_stays_dry_is_doubted() -> None:
    """[shutter-text]: blades are never lubricated."""
    clock = Clock()
    entries: list[Entry] = [
        *strip("shutter blades", clock=clock),
        oiled(clock, "shutter blades", "blades", "film", "oil"),
    ]
    (point,) = chart(fold(entries), NOTHING)
    assert point.doubt is not None
    assert "keep it dry" in point.doubt
    assert "shutter-text" in point.doubt


def test_the_last_part_off_leads_and_what_was_accounted_for_is_left_out() -> None:
    clock = Clock()
    entries: list[Entry] = [
        *strip("wind lever", "slow train", "helicoid", clock=clock),
        AccountedFor(at=clock(), part="helicoid", reason="to the owner"),
    ]
    parts = dict.fromkeys(point.part for point in chart(fold(entries), NOTHING))
    assert list(parts) == ["slow train", "wind lever"]


def test_a_bare_bench_has_no_chart() -> None:
    assert chart(fold([]), NOTHING) == ()


NAMES = st.sampled_from(["slow train", "wind lever", "shutter blades", "drum", "helicoid"])
LUBRICATED = st.tuples(NAMES, st.sampled_from(["pivots", "teeth", "ends"]), st.sampled_from(["dry", "film", "touch"]))


@given(st.lists(NAMES, unique=True), st.lists(LUBRICATED), st.lists(LUBRICATED))
def test_every_point_stands_once_and_nothing_dry_is_ever_due(
    off: list[str], here: list[tuple[str, str, Amount]], before: list[tuple[str, str, Amount]]
) -> None:
    clock = Clock()
    earlier: list[Entry] = [*strip("slow train", "drum", clock=clock), *(oiled(clock, *item) for item in before)]
    entries: list[Entry] = [*strip(*off, clock=clock), *(oiled(clock, *item) for item in here)]
    points = chart(fold(entries), learned([("J1", fold(earlier))]))
    keys = [(point.part, getattr(lubrication.spot_called(point.point), "name", point.point)) for point in points]
    assert len(keys) == len(set(keys))
    assert {(part, point) for part, point, _ in here} <= {
        (point.part, point.point) for point in points if point.origin == HERE
    }
    for point in points:
        assert point.why
        assert (point.standing == "stays dry") == (point.amount == "dry")
        assert point.standing != "due" or point.part in off
