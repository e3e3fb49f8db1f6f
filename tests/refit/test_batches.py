"""Batches: who shares a bath, for how long, how warm, and how it dries."""

from hypothesis import given
from hypothesis import strategies as st

from camerawright.handbook import cleaning
from camerawright.refit.batches import Batch, batches, bathes_apart
from camerawright.refit.part_facts import PartSpec
from camerawright.refit.routes import Route, route

MATERIALS = [
    "steel",
    "brass",
    "aluminium",
    "zinc",
    "magnesium",
    "brass, soldered",
    "stainless steel",
    "leather",
    "ABS",
    None,
]
FINISHES = ["none", "chrome", "black paint", "anodised", None]
SOILS = ["old oil", "dried grease", "light rust", "dust", "verdigris"]
SPECS = st.lists(
    st.tuples(st.sampled_from(MATERIALS), st.sampled_from(FINISHES), st.lists(st.sampled_from(SOILS), max_size=2)),
    max_size=8,
)


def routes_of(drawn: list[tuple[str | None, str | None, list[str]]]) -> list[Route]:
    """Routes of parts that are numbered."""
    return [route(PartSpec(f"part {n}", made, finish, tuple(soil))) for n, (made, finish, soil) in enumerate(drawn)]


def is_shared_water(batch: Batch) -> bool:
    """Whether its parts lie in the same water, by the table itself."""
    traits = next((process.traits for process in cleaning.processes() if process.name == batch.name), frozenset())
    return {"immersion", "water"} <= traits


@given(SPECS)
def test_every_part_stands_in_one_batch_for_each_turn(drawn: list[tuple[str | None, str | None, list[str]]]) -> None:
    routes = routes_of(drawn)
    wanted = [(n, part) for each in routes for n, turn in enumerate(each.turns(), 1) for part in turn.parts]
    assert sorted((batch.turn, part) for batch in batches(routes) for part in batch.parts) == sorted(wanted)


@given(SPECS)
def test_no_metal_that_bathes_alone_shares_water_with_another(
    drawn: list[tuple[str | None, str | None, list[str]]],
) -> None:
    """[lab-detergent], [clock-solder], common practice."""
    routes = routes_of(drawn)
    metals = {part: set(each.metals) for each in routes for part in each.parts}
    for batch in batches(routes):
        if is_shared_water(batch):
            alone = [metals[part] & {"aluminium", "zinc", "magnesium", "soft solder"} for part in batch.parts]
            assert all(each == alone[0] for each in alone)
            assert set(batch.apart) == alone[0]
        else:
            assert batch.apart == ()


@given(SPECS)
def test_no_part_is_warmer_or_longer_in_it_than_its_route_allows(
    drawn: list[tuple[str | None, str | None, list[str]]],
) -> None:
    routes = routes_of(drawn)
    turns = {(n, part): turn for each in routes for n, turn in enumerate(each.turns(), 1) for part in turn.parts}
    for batch in batches(routes):
        for part in batch.parts:
            turn = turns[batch.turn, part]
            assert turn.minutes == batch.minutes
            assert (batch.temperature_c or 0) <= (turn.temperature_c or 0)
            ways = {way.partition(": part ")[0]: way for way in batch.drying}  # with parts, where it is not for all
            assert turn.drying == "none" or set(turn.drying.split("; ")) <= {*batch.drying, *ways}


@given(SPECS)
def test_first_turns_come_first_and_what_is_decided_before_what_is_asked(
    drawn: list[tuple[str | None, str | None, list[str]]],
) -> None:
    planned = batches(routes_of(drawn))
    assert [(batch.turn, bool(batch.ask)) for batch in planned] == sorted(
        (batch.turn, bool(batch.ask)) for batch in planned
    )


def test_a_batch_is_as_cool_as_its_most_delicate_part() -> None:
    """Plastics warp in heat, plate gets two minutes [ultrasonic-manual]: 40 °C for both, common practice."""
    plated = route(PartSpec("lever", "brass", "chrome", ("dried grease",)))
    plastic = route(PartSpec("knob", "ABS", "none", ("dried grease",)))
    (together,) = batches([plated, plastic])
    assert (plated.temperature_c, plastic.temperature_c) == (50, 40)
    assert together.temperature_c == 40


def test_steel_says_that_it_dries_at_once_and_brass_does_not() -> None:
    """Common practice."""
    steel, brass = (route(PartSpec("part", metal, "none", ("dried grease",))) for metal in ("steel", "brass"))
    (batch,) = batches([brass])
    assert not any("rusts" in way for way in batch.drying)
    (batch,) = batches([steel])
    assert any("rusts" in way for way in batch.drying)


def test_a_swab_has_no_shared_water() -> None:
    painted = route(PartSpec("plate", "aluminium", "printed", ("dust",)))
    assert bathes_apart(painted) == ()
