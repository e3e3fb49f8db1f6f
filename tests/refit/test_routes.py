"""Cleaning routes: what the trade and the sources forbid is on no route, and the gentlest that does the work wins."""

import tomllib
from datetime import UTC, datetime
from importlib.resources import files
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from camerawright.handbook.cleaning import Process, processes
from camerawright.journal.entries import CleaningDecided, Removed
from camerawright.journal.state import fold
from camerawright.refit.batches import batches
from camerawright.refit.decided_route import decided_route
from camerawright.refit.part_facts import PartSpec
from camerawright.refit.routes import Route, assembly_route, permitted, route, route_of

TABLE: dict[str, Any] = tomllib.loads(
    files("camerawright.handbook").joinpath("cleaning.toml").read_text(encoding="utf-8")
)
FLASH_C: dict[str, float] = {
    row["name"]: row["flash_point_c"]
    for row in tomllib.loads(files("camerawright.handbook").joinpath("solvents.toml").read_text(encoding="utf-8"))[
        "solvent"
    ]
}
ROWS = {group: {row["name"]: row for row in TABLE[group]} for group in ("material", "finish", "kind", "soil")}
MODES = {row["name"]: row for row in TABLE["mode"]}
LIQUIDS = {row["name"]: row for row in TABLE["liquid"]}
NOON = datetime(2024, 3, 1, 12, tzinfo=UTC)
ALUMINIUM = PartSpec("mount", "aluminium", "none", ("dried grease",))
BRASS = PartSpec("plate", "brass", "none", ("dried grease",))
STEEL = PartSpec("pinion", "steel", "none", ("dried grease",))

materials, finishes, kinds, soils = (
    st.sampled_from(sorted(name for name, row in ROWS[group].items() if "question" not in row))
    for group in ("material", "finish", "kind", "soil")
)
known_parts = st.builds(
    PartSpec,
    part=st.one_of(st.just("part"), kinds),
    material=materials,
    finish=finishes,
    soil=st.lists(soils, min_size=1, max_size=3, unique=True).map(tuple),
)
any_words = st.one_of(st.none(), materials, finishes, kinds, st.text(max_size=20), st.just("unobtainium"))
any_parts = st.builds(
    PartSpec,
    part=st.one_of(st.just("part"), kinds),
    material=any_words,
    finish=any_words,
    soil=st.lists(st.one_of(soils, st.text(min_size=1, max_size=12)), max_size=3).map(tuple),
)
quick = settings(max_examples=60, deadline=None)


# -- a judge that shares only the data file ----------------------------------------------------------------------------


def traits_of(mode: str, chemistry: str) -> set[str]:
    """What a process does to a part, straight from the data file; nothing, before somebody knows what it is."""
    if mode == "not known yet":
        return set()
    return {*MODES[mode]["traits"], *(LIQUIDS[chemistry]["traits"] if chemistry != "dry" else ())}


def forbidden(limit: dict[str, Any], mode: str, chemistry: str) -> bool:
    """Whether a limit of the data file forbids a process."""
    traits = traits_of(mode, chemistry)
    if traits & {*limit.get("kept_off", ())}:
        return False
    for conjunction in limit.get("forbids", ()):
        if all(trait in traits for trait in conjunction.split("+")):
            return True
    ph = LIQUIDS[chemistry].get("ph") if chemistry != "dry" else None
    return "ph" in limit and ph is not None and not limit["ph"][0] <= ph[0] <= ph[1] <= limit["ph"][1]


def limits_on(part: PartSpec) -> list[dict[str, Any]]:
    """The limits of the rows whose very names the part uses; those for some metals only on these."""
    names = (("material", part.material), ("finish", part.finish), ("kind", part.part))
    rows = [ROWS[group][name] for group, name in names if name in ROWS[group]]
    metals = {row["metal"] for row in rows if "metal" in row}
    limits = [limit for row in rows for limit in row["limits"]]
    return [limit for limit in limits if "on" not in limit or not metals or metals & {*limit["on"]}]


def yields_to(soil: dict[str, Any], part: PartSpec) -> list[list[str]]:
    """What removes a soil from a part: wiping, too, where nothing else that does is safe for it."""
    safe = [process.powers for process in permitted((part,))]
    if any(set(needed) <= powers for needed in soil["yields_to"] for powers in safe):
        return list(soil["yields_to"])
    return [needed for needed in soil.get("wiped", ()) if any(set(needed) <= powers for powers in safe)][:1]


def chemistries(cleaned: Route) -> set[str]:
    """Every liquid on the way."""
    return {turn.chemistry for turn in cleaned.turns()}


LENS_CELLS = [
    PartSpec("front cell", f"{metal}, {glass} glass", finish, ("old grease in the thread",))
    for metal in ("brass", "aluminium")
    for glass in ("plain", "coated", "cemented")
    for finish in ("black paint", "lacquer", "none", "chemical blacking")
]


# Everyday work (common practice): what never goes into a bath is wiped on its thread, and on nothing else.
@pytest.mark.parametrize("cell", LENS_CELLS, ids=lambda cell: f"{cell.material}, {cell.finish}")
def test_old_grease_in_the_thread_of_a_lens_cell_is_wiped_on_the_thread_only(cell: PartSpec) -> None:
    wiped = route(cell)
    assert "grease in a thread" in wiped.removes
    if "cemented" in (cell.material or ""):
        (turn,) = wiped.turns()
        assert turn.name == "damp cloth on the thread only, naphtha"
        assert any("never dripping" in caution.text for caution in turn.cautions)
        assert "away from anything that could light it" in turn.drying


@pytest.mark.parametrize(
    ("part", "material", "finish", "soil"),
    [
        ("front cell", "brass, cemented glass", "black paint", "old grease"),  # it may be anywhere on it
        ("front cell", "brass, thoriated glass", "none", "old grease in the thread"),
        ("front cell", "aluminium, coated glass", "black anodised", "old grease in the thread"),  # in the thread, too
        ("front cell", "brass, coated glass", "glued", "old grease in the thread"),
        ("front cell", "brass, coated glass", "engraved, paint-filled", "old grease in the thread"),
        ("rear group", "cemented glass", "none", "old grease in the thread"),  # no cell, no thread
        ("shutter blades", "steel", "none", "old grease in the thread"),
        ("mirror", "brass, glass", "none", "old grease in the thread"),
    ],
)
def test_no_cloth_on_the_thread_where_it_is_not_surely_only_there(
    part: str, material: str, finish: str, soil: str
) -> None:
    cleaned = route(PartSpec(part, material, finish, (soil,)))
    assert all("thread" not in turn.process for turn in cleaned.turns())
    if soil == "old grease" and "cemented" in material:
        assert any("only in a thread" in question for question in cleaned.ask)


# -- properties --------------------------------------------------------------------------------------------------------


@quick
@given(known_parts)
def test_a_route_holds_nothing_that_material_finish_or_kind_forbid(part: PartSpec) -> None:
    for turn in route(part).turns():
        for limit in limits_on(part):
            assert not forbidden(limit, turn.process, turn.chemistry), limit["why"]
            if turn.temperature_c is not None:
                assert turn.temperature_c <= limit.get("temperature_max_c", 100)
            if turn.minutes is not None and limit.get("when", "bath") in traits_of(turn.process, turn.chemistry):
                assert turn.minutes <= limit.get("minutes_max", 999)


@quick
@given(known_parts)
def test_no_allowed_process_that_is_gentler_lifts_as_much(part: PartSpec) -> None:
    cleaned = route(part)

    def lifted(mode: str, chemistry: str) -> tuple[int, int]:
        """How much of the soil that was named, and of the dust that is on everything."""
        powers = {*MODES[mode]["powers"], *(LIQUIDS[chemistry]["powers"] if chemistry != "dry" else ())}
        off = {
            name for name, row in ROWS["soil"].items() if any(set(needed) <= powers for needed in yields_to(row, part))
        }
        return len(off & {*part.soil}), len(off & {"loose dust", "dust"})

    most = max(cleaned.turns(), key=lambda turn: (lifted(turn.process, turn.chemistry), -turn.rank))
    here = lifted(most.process, most.chemistry)
    rust_stays = {"light rust", "deep rust"} & {*part.soil} & {*cleaned.left_on}
    for other in permitted((part,)):
        if rust_stays and "water" in other.traits:
            continue  # it would feed the rust
        there = lifted(other.mode, other.chemistry)
        assert there < here if other.rank < most.rank else there <= here


@quick
@given(known_parts, finishes)
def test_another_finish_on_the_part_never_allows_more(part: PartSpec, finish: str) -> None:
    more = PartSpec(part.part, part.material, f"{part.finish}, {finish}", part.soil)
    assert set(permitted((more,))) <= set(permitted((part,)))


@quick
@given(known_parts, soils)
def test_another_soil_on_the_part_never_allows_more(part: PartSpec, soil: str) -> None:
    dirtier = PartSpec(part.part, part.material, part.finish, (*part.soil, soil))
    allowed, before = set(permitted((dirtier,))), set(permitted((part,)))
    assert allowed <= before
    assert allowed == before or ROWS["soil"][soil].get("limits"), "only what is dangerous to remove allows less"
    names = {process.name for process in permitted((part,))}
    assert {turn.name for turn in route(dirtier).turns()} <= names


@quick
@given(st.lists(known_parts, min_size=1, max_size=4))
def test_what_one_part_of_an_assembly_does_not_stand_the_whole_is_spared(parts: list[PartSpec]) -> None:
    together = assembly_route(parts)
    assert together.parts == tuple(part.part for part in parts)
    for part in parts:
        names = {process.name for process in permitted((part,))}
        for turn in together.turns():
            if {"thread only", "glass only"} & traits_of(turn.process, turn.chemistry):  # it does not get to the others
                assert not any(forbidden(limit, turn.process, turn.chemistry) for limit in limits_on(part))
            else:
                assert turn.name in names


@quick
@given(any_parts)
def test_every_part_has_a_route_and_what_no_one_knows_stays_dry(part: PartSpec) -> None:
    cleaned = route(part)
    assert cleaned.reasons
    assert all(reason.text and reason.source for reason in (*cleaned.reasons, *cleaned.cautions))
    if part.material == "unobtainium" or part.finish == "unobtainium":
        assert chemistries(cleaned) == {"dry"}


def test_nothing_that_flashes_goes_into_an_ultrasonic_bath_whatever_the_part_stands() -> None:
    """[ctg-2012]; [29-cfr-1910-106]."""
    bathed = 0
    for material in ROWS["material"]:
        for finish in ROWS["finish"]:
            liquids = {
                p.chemistry for p in permitted((PartSpec("part", material, finish),)) if "cavitation" in p.traits
            }
            assert not liquids & set(FLASH_C), (material, finish)
            bathed += bool(liquids)
    assert bathed > 20  # else this had nothing to look at


@quick
@given(known_parts)
def test_a_flammable_liquid_comes_with_its_caution(part: PartSpec) -> None:
    for turn in route(part).turns():
        if turn.chemistry in FLASH_C:
            assert any("Flammable" in caution.text for caution in turn.cautions)
            assert any("safety data sheet" in caution.text for caution in turn.cautions)


@quick
@given(known_parts)
def test_soil_is_lifted_or_said_to_stay_on(part: PartSpec) -> None:
    cleaned = route(part)
    assert {*cleaned.removes, *cleaned.left_on} == set(part.soil)
    assert not {*cleaned.removes} & {*cleaned.left_on}
    assert bool(cleaned.left_on) <= bool(cleaned.ask)


@quick
@given(st.lists(any_parts, max_size=12))
def test_each_turn_of_each_route_is_in_one_batch(parts: list[PartSpec]) -> None:
    named = [PartSpec(f"{part.part} {i}", part.material, part.finish, part.soil) for i, part in enumerate(parts)]
    routes = [route(part) for part in named]
    turns = sorted((turn, part) for each in routes for turn, _ in enumerate(each.turns(), 1) for part in each.parts)
    assert sorted((batch.turn, part) for batch in batches(routes) for part in batch.parts) == turns
    for batch in batches(routes):
        mine = [
            turn
            for each in routes
            for turn in each.turns()
            if turn.name == batch.name and set(turn.parts) <= {*batch.parts}
        ]
        assert {turn.minutes for turn in mine} == {batch.minutes}
        assert batch.temperature_c == min((turn.temperature_c for turn in mine if turn.temperature_c), default=None)


# -- what the trade and the sources say --------------------------------------------------------------------------------


def test_plain_steel_and_plain_brass_go_into_the_ultrasonic_bath_for_eight_minutes() -> None:
    """Routine of a horology journal [watch-baths]; gentle detergent: common practice."""
    for part in (STEEL, BRASS):
        cleaned = route(part)
        assert (cleaned.process, cleaned.chemistry, cleaned.minutes) == ("ultrasonic bath", "neutral detergent", 8)
        assert 40 <= (cleaned.temperature_c or 0) <= 60
        assert cleaned.is_decided


@pytest.mark.parametrize("soil", sorted(ROWS["soil"]))
def test_no_ammonia_comes_near_brass(soil: str) -> None:
    """[cdl-1998-0032]: over 15 % zinc, traces of moist ammonia."""
    for material in ("brass", "sprung brass", "nickel silver"):
        part = PartSpec("contact", material, "none", (soil,))
        assert not any("ammonia" in traits_of(turn.process, turn.chemistry) for turn in route(part).turns())
        assert not any("ammonia" in process.traits for process in permitted((part,)))


@pytest.mark.parametrize("soil", sorted(ROWS["soil"]))
def test_nothing_outside_its_oxides_ph_comes_near_aluminium(soil: str) -> None:
    """[aluminium-oxide-ph]: pH 4.0 to 8.5."""
    for process in permitted((PartSpec("mount", "aluminium", "none", (soil,)),)):
        assert process.ph is None or (process.ph[0] >= 4.0 and process.ph[1] <= 8.5)


@pytest.mark.parametrize("finish", ["anodised", "dyed anodised"])
@pytest.mark.parametrize("soil", sorted(ROWS["soil"]))
def test_anodising_keeps_to_its_ph_and_temperature_and_out_of_ultrasound(finish: str, soil: str) -> None:
    """[solar-anodised]: pH 4.5 to 8.5, at most 60 °C; by hand: common practice."""
    part = PartSpec("ring", "aluminium", finish, (soil,))
    assert all(turn.temperature_c is None or turn.temperature_c <= 60 for turn in route(part).turns())
    for process in permitted((part,)):
        assert process.ph is None or (process.ph[0] >= 4.5 and process.ph[1] <= 8.5)
        assert process.mode != "ultrasonic bath"


@pytest.mark.parametrize("soil", sorted(ROWS["soil"]))
def test_a_balsamed_group_meets_no_bath_no_acetone_and_no_heat(soil: str) -> None:
    """[lf-balsam]: acetone and many light solvents; [stereoscopy-balsam]: a hair-dryer's heat; below 50 °C."""
    part = PartSpec("rear group", "cemented glass", None, (soil,))
    assert not any({"immersion", "cavitation", "ketone", "hydrocarbon"} & p.traits for p in permitted((part,)))
    assert all(turn.temperature_c is None or turn.temperature_c < 50 for turn in route(part).turns())


def test_coated_glass_is_never_in_ultrasound() -> None:
    """[tianya-coated], [ultrasonic-manual]."""
    assert not any("cavitation" in p.traits for p in permitted((PartSpec("front element", "coated glass"),)))


def test_spring_steel_meets_no_acid_even_when_it_is_rusty() -> None:
    """[mf-embrittlement]: hydrogen."""
    part = PartSpec("drive spring", "spring steel", "none", ("light rust", "deep rust"))
    assert not any("acid" in p.traits for p in permitted((part,)))
    assert route(part).left_on == ("deep rust",)


def test_magnesium_meets_no_water_and_celluloid_no_solvent() -> None:
    """[pf-magnesium]; celluloid dissolves in ketones, esters and alcohol mixtures: from memory."""
    assert not any("water" in p.traits for p in permitted((PartSpec("frame", "magnesium", "none"),)))
    celluloid = PartSpec("window", "celluloid", "none", ("grime",))
    assert not any("solvent" in p.traits for p in permitted((celluloid,)))
    assert any("burns" in caution.text for caution in route(celluloid).cautions)


def test_polished_aluminium_stays_out_of_cavitation() -> None:
    """[zenith-cavitation]."""
    part = PartSpec("ring", "aluminium", "polished", ("dried grease",))
    assert "ultrasonic bath" not in {process.mode for process in permitted((part,))}


def test_sound_plate_has_two_minutes_and_lifting_plate_none() -> None:
    """Common practice; lifting: [ultrasonic-manual]."""
    sound = route(PartSpec("lever", "brass", "chrome", ("dried grease",)))
    assert (sound.process, sound.minutes) == ("ultrasonic bath", 2)
    lifting = route(PartSpec("lever", "brass", "flaking chrome", ("dried grease",)))
    assert lifting.process != "ultrasonic bath"


def test_painted_figures_never_meet_bath_or_solvent() -> None:
    """Common practice."""
    for finish in ("black paint", "lacquer", "engraved, paint-filled", "dyed anodised"):
        part = PartSpec("speed ring", "brass", finish, ("old oil", "grime"))
        assert not any({"cavitation", "solvent"} & process.traits for process in permitted((part,)))
        assert route(part).removes == ("old oil", "grime")


def test_blades_are_washed_in_solvent_one_at_a_time_and_never_lubricated() -> None:
    """Common practice; [shutter-text]."""
    cleaned = route(PartSpec("shutter blade 2", "steel", "blackened", ("old oil",)))
    assert (cleaned.process, cleaned.chemistry, cleaned.temperature_c) == ("lidded jar", "naphtha", 20)
    assert any("One at a time" in caution.text for caution in cleaned.cautions)
    assert any("Never lubricate" in caution.text for caution in cleaned.cautions)


@pytest.mark.parametrize("part", ["hairspring", "meter movement", "front-surface mirror"])
def test_what_a_brush_would_ruin_is_only_blown(part: str) -> None:
    """Common practice."""
    cleaned = route(PartSpec(part, "brass", "none", ("old oil", "dust")))
    assert cleaned.process == "hand blower"
    assert cleaned.never_wet
    assert set(cleaned.left_on) == {"old oil", "dust"}


def test_radium_is_left_alone() -> None:
    """Common practice."""
    cleaned = route(PartSpec("dial", "brass", "paint, radium", ("dust",)))
    assert cleaned.process == "left as it is"
    assert any("licen" in caution.text for caution in cleaned.cautions)


@pytest.mark.parametrize("material", ["wood", "card", "felt", "silk"])
def test_what_soaks_up_is_never_wetted(material: str) -> None:
    """Common practice."""
    cleaned = route(PartSpec("part", material, None, ("grime",)))
    assert cleaned.never_wet
    assert chemistries(cleaned) == {"dry"}


def test_leather_bellows_are_not_wetted_and_leather_is_damp_at_most() -> None:
    """[bellows-blog]; common practice."""
    assert route(PartSpec("bellows", "leather", None, ("grime",))).never_wet
    covering = route(PartSpec("covering", "leather", None, ("grime",)))
    assert (covering.process, covering.chemistry) == ("swab", "neutral detergent")


# -- what is not known -------------------------------------------------------------------------------------------------


def test_of_an_unknown_part_the_route_is_not_known_and_it_asks_what_is_missing() -> None:
    cleaned = route(PartSpec("thing", None, None, ("dried grease",)))
    assert cleaned.name == "not known yet"
    assert not cleaned.is_known
    assert not cleaned.never_wet  # nobody knows that
    assert cleaned.left_on == ("dried grease",)
    assert len(cleaned.ask) == 2
    assert "made of" in cleaned.ask[0]
    assert "finished" in cleaned.ask[1]


def test_a_strange_word_is_quoted_in_the_question() -> None:
    (question,) = route(PartSpec("lever", "unobtainium", "none", ("dried grease",))).ask
    assert "“unobtainium”" in question


def test_a_question_whose_answer_changes_nothing_is_not_asked() -> None:
    assert route(PartSpec("bellows", "leather", None, ("dust",))).is_decided
    assert route(PartSpec("lever", None, None, ("dust",))).is_decided
    assert not route(PartSpec("lever", "brass", None, ("dried grease",))).is_decided


def test_dirt_that_nobody_noted_is_asked_about_once_with_the_rest() -> None:
    """One look at the part answers all of it."""
    bare = route(PartSpec("lever"))
    assert [question.split()[0] for question in bare.ask] == ["What", "How", "What"]
    assert "“Dust” is an answer" in bare.ask[-1]
    (dirt,) = route(PartSpec("lever", "brass", "none")).ask
    assert "stuck to the lever" in dirt


@pytest.mark.parametrize("said", ["dust", "nothing", "none", "clean"])
def test_nothing_but_dust_is_an_answer(said: str) -> None:
    cleaned = route(PartSpec("lever", "brass", "none", (said,)))
    assert cleaned.is_decided
    assert cleaned.process == "soft dry brush"


def test_where_no_liquid_is_allowed_nobody_has_to_say_what_dirt_it_is() -> None:
    for part in (PartSpec("front-surface mirror"), PartSpec("bellows", "leather"), PartSpec("hairspring")):
        assert route(part).is_decided, part
        assert route(part).never_wet


def test_a_doubted_material_counts_as_unknown() -> None:
    assert chemistries(route(PartSpec("lever", "brass?", "none", ("dried grease",)))) == {"dry"}


def test_unknown_soil_is_asked_about_and_the_rest_is_lifted() -> None:
    cleaned = route(PartSpec("lever", "brass", "none", ("old oil", "gloop")))
    assert cleaned.removes == ("old oil",)
    assert cleaned.left_on == ("gloop",)
    assert "“gloop”" in cleaned.ask[0]


def test_soil_that_nothing_allowed_lifts_sends_to_a_test_spot_and_what_is_hazardous_to_a_specialist() -> None:
    cleaned = route(PartSpec("front plate", "brass", "black paint", ("adhesive",)))
    assert cleaned.left_on == ("adhesive",)
    assert "does not show" in cleaned.ask[0]
    assert "licensed specialist" not in cleaned.ask[0]
    hazard = route(PartSpec("dial", "brass", "radium", ("grime",)))
    assert "licensed specialist" in hazard.ask[0]
    assert "spot" not in hazard.ask[0]


def test_dirt_is_called_what_the_person_called_it() -> None:
    said = " ".join(reason.text for reason in route(PartSpec("pinion", "steel", "none", ("old grease",))).reasons)
    assert "removes old grease" in said
    assert "dried grease" not in said


def test_two_soils_that_no_one_process_lifts_take_two_turns() -> None:
    cleaned = route(PartSpec("lever", "steel", "none", ("light rust", "dried grease")))
    assert [turn.name for turn in cleaned.turns()] == ["swab, light mineral oil", "ultrasonic bath, neutral detergent"]
    assert not cleaned.left_on
    assert "rusts" in cleaned.turns()[-1].drying


def test_the_route_says_why_and_why_not_stronger() -> None:
    cleaned = route(PartSpec("ring", "brass", "engraved", ("old oil",)))
    assert cleaned.reasons[0].text.startswith(
        "Hand wash, neutral detergent: the gentlest cleaning that removes old oil."
    )
    said = {reason.text: reason.source for reason in cleaned.reasons}
    assert "The paint in engraved figures falls out in a bath." in said
    assert "cdl-1998-0032" in said.values()


def test_fire_is_the_reason_where_nothing_else_keeps_solvent_out_of_the_bath() -> None:
    cleaned = route(STEEL)
    assert any("No naphtha in an ultrasonic bath" in reason.text for reason in cleaned.reasons)


def test_a_route_needs_a_part() -> None:
    with pytest.raises(ValueError, match="at least one part"):
        assembly_route(())


def test_the_journals_words_make_the_route() -> None:
    removed = Removed(
        at=datetime(2024, 3, 1, 9, tzinfo=UTC),
        part="aperture blade 4",
        material="spring steel",
        finish="blued",
        soil=("oil",),
    )
    cleaned = route_of(fold([removed]).off[0])
    assert cleaned.parts == ("aperture blade 4",)
    assert cleaned.name == "lidded jar, naphtha"


# -- together ----------------------------------------------------------------------------------------------------------


def test_the_gentlest_of_an_assembly_wins() -> None:
    alone = route(BRASS)
    together = assembly_route((BRASS, PartSpec("scale", "brass", "lacquer", ("grime",))))
    assert together.rank < alone.rank
    assert not {"bath", "solvent"} & traits_of(together.process, together.chemistry)
    assert any("lacquer" in reason.text for reason in together.reasons)


def test_aluminium_riveted_to_brass_stays_out_of_the_bath() -> None:
    """[lab-detergent]: not with other metals."""
    together = assembly_route((ALUMINIUM, BRASS))
    assert not {"bath", "water"} <= traits_of(together.process, together.chemistry)
    assert any("never shares a bath" in reason.text for reason in together.reasons)


def test_aluminium_bathes_without_brass_and_both_batches_say_so() -> None:
    """[lab-detergent]."""
    first, second = batches([route(ALUMINIUM), route(BRASS), route(STEEL)])
    assert {first.parts, second.parts} == {("mount",), ("plate", "pinion")}
    for batch in (first, second):
        assert not {*batch.parts} & {*batch.not_with}
        assert {*batch.parts} | {*batch.not_with} == {"mount", "plate", "pinion"}
        assert [reason.source for reason in batch.reasons] == ["lab-detergent"]


def test_soft_solder_is_not_washed_with_brass() -> None:
    """[clock-solder]: the brass turns dark."""
    plain = PartSpec("plate", "brass", "none", ("old oil",))
    soldered = PartSpec("lug", "brass, soldered", "none", ("old oil",))
    washed = batches([route(plain), route(soldered)])
    assert [batch.parts for batch in washed] == [("plate",), ("lug",)]
    assert washed[0].not_with == ("lug",)


def test_a_batch_is_as_short_as_its_parts_and_as_cool_as_the_coolest() -> None:
    plated = PartSpec("lever", "brass", "chrome", ("dried grease",))
    plastic = PartSpec("knob", "ABS", "none", ("dried grease",))
    by_minutes = {batch.minutes: batch for batch in batches([route(BRASS), route(plated), route(plastic)])}
    assert by_minutes[8].parts == ("plate",)
    assert by_minutes[2].parts == ("lever", "knob")
    assert by_minutes[2].temperature_c == 40


def test_parts_that_wait_for_an_answer_are_a_batch_of_their_own() -> None:
    dusty = PartSpec("cover", "brass", "none", ("dust",))
    unknown = PartSpec("thing", None, None, ("dried grease",))
    decided, waiting = batches([route(unknown), route(dusty)])
    assert (decided.parts, decided.ask) == (("cover",), ())
    assert (waiting.parts, waiting.never_wet) == (("thing",), ())
    assert waiting.ask


def test_nothing_to_clean_is_no_batch() -> None:
    assert batches([]) == ()


def test_processes_stand_gentlest_first() -> None:
    ranks = [process.rank for process in processes()]
    assert ranks == sorted(ranks)
    assert isinstance(processes()[0], Process)
    assert processes()[0].mode == "left as it is"


# -- harm that was advised once ----------------------------------------------------------------------------------------


@pytest.mark.parametrize("soil", sorted(ROWS["soil"]))
@pytest.mark.parametrize("finish", ["lacquer", "black paint", "paint-filled engraving"])
def test_no_acid_comes_near_lacquer_and_paint(finish: str, soil: str) -> None:
    """Common practice: citrate spots lacquered brass for good."""
    part = PartSpec("ring", "brass", finish, (soil,))
    assert not any("acid" in process.traits for process in permitted((part,)))


@pytest.mark.parametrize("soil", ["old oil", "dried grease", "grime", "water marks"])
def test_blued_steel_is_degreased_in_naphtha_and_meets_no_water(soil: str) -> None:
    """Common practice: water gets under the black and rusts the steel. On blackened brass it does no harm."""
    for finish in ("blued", "gun blue", "blackened"):
        for material in ("steel", "spring steel", None):
            part = PartSpec("arm", material, finish, (soil, "old oil"))
            assert not any("water" in process.traits for process in permitted((part,)))
    oily = route(PartSpec("arm", "steel", "blued", ("old oil", "dried grease")))
    assert {turn.chemistry for turn in oily.turns()} == {"naphtha"}
    assert any("water" in process.traits for process in permitted((PartSpec("arm", "brass", "blackened"),)))


@quick
@given(known_parts)
def test_grease_comes_off_before_water_and_acid_comes_last(part: PartSpec) -> None:
    """Common practice: water runs off grease, and acid works on clean metal only."""

    def place(turn: Route) -> int:
        traits = traits_of(turn.process, turn.chemistry)
        if "oil" in traits:  # it goes off with the grease
            return 0
        return 3 if "acid" in traits else 2 if "water" in traits else 1 if "liquid" in traits else 0

    places = [place(turn) for turn in route(part).turns()]
    assert places == sorted(places)


def test_the_last_rinse_takes_the_water_out_of_steel_pivots_in_a_brass_train() -> None:
    """Common practice of watchmakers; alcohol flashes at 12 °C [iec-60079-20-1], so no warm air after it."""
    for part in (
        PartSpec("gear train", "riveted brass", "none", ("dried grease",)),
        PartSpec("plate", "brass, steel pivots", "none", ("dried grease",)),
        PartSpec("pinion", "steel", "none", ("dried grease",)),
    ):
        washed = route(part)
        assert washed.process == "ultrasonic bath"
        assert washed.last_rinse == "isopropyl alcohol"
        assert "away from anything that could light it" in washed.drying
        assert "°C" not in washed.drying
        assert "rust" in washed.drying
        assert any("isopropyl alcohol flashes at 12 °C" in caution.text for caution in washed.cautions)
    assert route(BRASS).last_rinse is None


def test_a_batch_says_which_of_its_parts_get_the_last_rinse() -> None:
    (both,) = batches([route(BRASS), route(STEEL)])
    assert both.rinse == "distilled water, two changes; then isopropyl alcohol to take the water out: pinion"
    (warm,) = (words for words in both.drying if "°C" in words)
    assert warm.endswith(": plate")  # alcohol flashes at 12 °C [iec-60079-20-1]
    (alone,) = batches([route(STEEL)])
    assert alone.rinse == "distilled water, two changes; then isopropyl alcohol to take the water out"


@quick
@given(st.lists(known_parts, min_size=1, max_size=3))
def test_no_last_rinse_that_a_part_of_the_assembly_does_not_stand(parts: list[PartSpec]) -> None:
    for turn in assembly_route(parts).turns():
        if turn.last_rinse:
            for limit in (limit for part in parts for limit in limits_on(part)):
                assert not forbidden(limit, "lidded jar", turn.last_rinse), limit["why"]


@pytest.mark.parametrize("said", ["battery acid", "battery leakage", "battery leak", "leaky battery"])
def test_battery_acid_may_be_alkali_and_the_route_asks_which(said: str) -> None:
    """Common practice: alkaline cells leak alkali, zinc-carbon cells leak acid, mercury cells mercury too."""
    cleaned = route(PartSpec("contact", "brass", "none", (said,)))
    assert chemistries(cleaned) == {"dry"}
    assert any("Which cell leaked" in question for question in cleaned.ask)


def test_alkali_is_not_met_with_alkali_nor_acid_with_acid() -> None:
    """Chemistry: an acid neutralises alkali, and a base acid."""
    for said in ("alkaline leakage", "alkaline leak", "alkaline battery leak"):
        alkali = route(PartSpec("contact", "brass", "none", (said,)))
        assert {turn.chemistry for turn in alkali.turns()} == {"buffered citrate"}
    for material in ROWS["material"]:
        acid = route(PartSpec("contact", material, "none", ("zinc-carbon leakage",)))
        assert not any("acid" in traits_of(turn.process, turn.chemistry) for turn in acid.turns())
    mercury = route(PartSpec("contact", "brass", "none", ("mercury cell leakage",)))
    assert mercury.left_on == ("mercury cell leakage",)
    assert any("hazardous waste" in caution.text for caution in mercury.cautions)


@pytest.mark.parametrize("said", ["focusing screen", "acrylic", "perspex", "Fresnel screen", "screen"])
def test_a_screen_that_may_be_acrylic_meets_no_solvent(said: str) -> None:
    """Solvent crazes acrylic: from memory. Ground glass stands it."""
    for part in (PartSpec("screen", said, None, ("fungus",)), PartSpec("focusing screen", "glass", None, ("grime",))):
        assert not any({"solvent", "ammonia", "cavitation"} & process.traits for process in permitted((part,)))
    assert any("solvent" in process.traits for process in permitted((PartSpec("pane", "ground glass"),)))


def test_casein_is_barely_damped() -> None:
    """From memory: casein swells in water and cracks in alcohol."""
    for said in ("casein", "galalith", "milk plastic"):
        names = {process.name for process in permitted((PartSpec("knob", said),))}
        assert "swab, neutral detergent" in names
        assert not any(name.startswith(("hand wash", "lidded jar, d", "ultrasonic")) for name in names)


@pytest.mark.parametrize("soil", sorted(ROWS["soil"]))
def test_fungus_on_a_celluloid_window_is_no_reason_for_ammonia(soil: str) -> None:
    """From memory."""
    part = PartSpec("window", "celluloid", None, (soil,))
    assert not any({"ammonia", "alkali", "acid"} & process.traits for process in permitted((part,)))


def test_nothing_poisonous_is_rubbed_dry() -> None:
    """Beryllium, cadmium, lead: common practice. The green on beryllium copper came off with dry pegwood once."""
    for part in (
        PartSpec("spring", "beryllium copper", "none", ("verdigris",)),
        PartSpec("nut", "steel", "cadmium plate", ("tarnish", "dust")),
        PartSpec("box", "wood", "lead paint", ("dust",)),
    ):
        for process in permitted((part,)):
            assert not {"dry", "rub"} <= process.traits, (part, process.name)


def test_hide_glue_is_kept_out_of_water() -> None:
    """Common practice."""
    part = PartSpec("panel", "aluminium, glued", "none", ("grime",))
    assert not any("immersion" in process.traits for process in permitted((part,)))


def test_old_polished_brass_may_be_lacquered() -> None:
    """Common practice; polished steel has no lacquer to lose."""
    brass = permitted((PartSpec("ring", "brass", "polished"),))
    assert not any({"ketone", "alcohol"} & process.traits for process in brass)
    assert any("ketone" in process.traits for process in permitted((PartSpec("ring", "steel", "polished"),)))


@pytest.mark.parametrize(
    ("part", "words"),
    [
        (PartSpec("flash capacitor"), "can kill"),
        (PartSpec("front element", "thoriated glass"), "never grind, polish or sand"),
        (PartSpec("mercury cell"), "hazardous waste"),
        (PartSpec("heat shield", "asbestos"), "causes cancer"),
        (PartSpec("body", "wood", "lead paint"), "Lead paint is poisonous"),
        (PartSpec("nitrate film"), "burns fiercely"),
        (PartSpec("box", "wood", "none", ("linseed oil",)), "Rags wet with linseed"),
    ],
)
def test_what_is_dangerous_is_a_word_it_knows_with_its_caution(part: PartSpec, words: str) -> None:
    """Common practice; [10-cfr-40-13], [jaic-30-02-003]."""
    cleaned = route(part)
    assert any(words in caution.text for caution in cleaned.cautions)
    if part.part in {"flash capacitor", "mercury cell", "nitrate film", "heat shield"}:
        assert cleaned.never_wet


def test_screws_are_a_class_of_their_own() -> None:
    """Common practice: kept apart by part; a plain brass screw may be washed, a blued one not in water."""
    plain = route(PartSpec("top cover screws", "brass screws", "none", ("old oil",)))
    assert plain.is_decided
    assert not plain.never_wet
    assert any("screws of each part together" in caution.text for caution in plain.cautions)
    blued = permitted((PartSpec("screws", "steel", "blued heads"),))
    assert not any("water" in process.traits for process in blued)


@pytest.mark.parametrize("soil", sorted(ROWS["soil"]))
@pytest.mark.parametrize("material", ["plain glass", "coated glass", "cemented glass", "thoriated glass"])
def test_glass_is_never_rubbed_dry(material: str, soil: str) -> None:
    """Common practice: verdigris from the mount came off a lens with dry pegwood once."""
    part = PartSpec("element", material, None, (soil,))
    assert not any({"dry", "rub"} <= process.traits for process in permitted((part,)))
    if material != "thoriated glass":  # mercury is not blown at
        is_touched = any("touch" in process.traits for process in permitted((part,)))
        assert is_touched == any("Blow the dust off" in caution.text for caution in route(part).cautions)


@pytest.mark.parametrize("material", ["leather", "casein", "celluloid", "coated glass", "cemented glass"])
def test_not_even_mild_alkali_where_alkali_harms(material: str) -> None:
    """Common practice for leather and coatings; casein and celluloid from memory."""
    part = PartSpec("part", material, None, ("zinc-carbon leakage",))
    assert not any("mild alkali" in process.traits for process in permitted((part,)))


def test_cadmium_meets_nothing_that_takes_it_off() -> None:
    """Common practice: it is poisonous, dissolved or as a fog."""
    for process in permitted((PartSpec("nut", "steel", "cadmium plate"),)):
        assert not {"acid", "alkali", "ammonia", "cavitation", "rub"} & process.traits, process.name


def test_no_peroxide_on_steel() -> None:
    """From memory."""
    for material in ("steel", "spring steel"):
        assert not any("peroxide" in process.traits for process in permitted((PartSpec("part", material, "none"),)))


# -- what fits the way it is cleaned -----------------------------------------------------------------------------------


@quick
@given(known_parts)
def test_what_is_only_wiped_is_rinsed_and_dried_by_hand_not_in_a_bath(part: PartSpec) -> None:
    """Common practice: beside a cemented group the word of a bath is enough for somebody to dip it."""
    for turn in route(part).turns():
        said = f"{turn.rinse}; {turn.drying}"
        if "immersion" not in traits_of(turn.process, turn.chemistry):
            assert not any(word in said for word in ("changes", "blot", "°C")), (turn.name, said)
        if turn.chemistry == "dry":
            assert (turn.rinse, turn.drying, turn.last_rinse) == ("none", "none", None)


@pytest.mark.parametrize("material", ["cemented glass, brass", "coated glass, brass", "leather"])
def test_a_swab_with_detergent_is_wiped_off_with_a_swab_damp_with_water(material: str) -> None:
    """Common practice."""
    for turn in route(PartSpec("part", material, "none", ("haze", "grime"))).turns():
        assert turn.name == "swab, neutral detergent"
        assert "swab damp with distilled water" in turn.rinse
        assert "soft cloth" in turn.drying


@pytest.mark.parametrize("decision", ["soft dry brush", "brushed with a secret paste"])
def test_what_was_decided_is_not_rinsed_and_dried_as_what_was_worked_out(decision: str) -> None:
    """A dry brush leaves no water to take out with alcohol: from memory of a plan that said so."""
    spec = PartSpec("pinion", "steel", "none", ("dried grease",))
    decided = decided_route((spec,), route(spec), CleaningDecided(at=NOON, part="pinion", route=decision, reason="x"))
    assert (decided.last_rinse, decided.drying) == (None, "none")


# -- a word that means something else on another material --------------------------------------------------------------


@pytest.mark.parametrize("material", ["leather", "dyed calf", "leatherette", "cloth", "wood", "ABS", "bakelite"])
def test_dye_on_what_is_no_metal_is_no_anodising(material: str) -> None:
    """Only aluminium and magnesium are anodised: from memory."""
    cleaned = route(PartSpec("part", material, "dyed", ("grime",)))
    said = " ".join(each.text for turn in cleaned.turns() for each in (*turn.reasons, *turn.cautions))
    assert cleaned.is_known
    assert "nodis" not in said
    assert {turn.name for turn in cleaned.turns()} <= {
        *("soft dry brush", "dry cotton and pegwood", "swab, neutral detergent", "hand wash, neutral detergent")
    }


def test_dyed_leather_is_never_washed_and_first_tried_where_nobody_sees_it() -> None:
    """Common practice: water hardens leather and lifts its dye."""
    covering = PartSpec("covering", "leather", "dyed", ("grime",))
    assert not any("immersion" in process.traits for process in permitted((covering,)))
    said = " ".join(each.text for each in (*route(covering).reasons, *route(covering).cautions))
    assert "hardly damp cloth" in said
    assert "does not show" in said


def test_dye_on_aluminium_is_still_anodising_and_on_brass_it_is_the_worst_that_it_may_be() -> None:
    """[solar-anodised]."""
    said = " ".join(reason.text for reason in route(PartSpec("ring", "aluminium", "dyed", ("grime",))).reasons)
    assert "Anodising is safe from pH 4.5 to 8.5." in said
    assert not any("solvent" in process.traits for process in permitted((PartSpec("ring", "brass", "dyed"),)))


@pytest.mark.parametrize(
    "finish",
    ["black anodised, painted figures", "black paint, white figures", "chrome, filled engraving", "engraved numerals"],
)
def test_figures_are_filled_engraving_however_they_are_called(finish: str) -> None:
    """Trade words: common practice."""
    cleaned = route(PartSpec("ring", "aluminium", finish, ("grime",)))
    assert cleaned.is_known
    assert not {"cavitation", "bath", "solvent"} & traits_of(cleaned.process, cleaned.chemistry)
    assert not any(
        {"cavitation", "bath", "solvent"} & each.traits for each in permitted((PartSpec("r", "brass", finish),))
    )


@pytest.mark.parametrize("material", ["brass", "steel", "plain glass", "leather", "cloth", "acrylic"])
@pytest.mark.parametrize("soil", ["mercury", "mercury cell leak", "red rot"])
def test_what_is_to_be_left_alone_is_left_as_it_is(material: str, soil: str) -> None:
    """Common practice: the card said “soft dry brush” above “do not wipe, brush or vacuum” once."""
    cleaned = route(PartSpec("contact", material, "none", (soil, "dust")))
    assert cleaned.process in {"left as it is", "not known yet"}
    assert {process.name for process in permitted((PartSpec("contact", material, "none", (soil,)),))} == {
        "left as it is"
    }


@pytest.mark.parametrize(
    "part",
    [
        PartSpec("element", "thoriated glass", None, ("dust",)),
        PartSpec("counterweight", "lead", None, ("white bloom", "dust")),
        PartSpec("counterweight", "brass", "none", ("lead carbonate",)),
        PartSpec("bellows", "leather", None, ("mouse droppings",)),
        PartSpec("curtain", "cloth", None, ("mouse droppings",)),
    ],
)
def test_no_brush_goes_over_poisonous_dust(part: PartSpec) -> None:
    """Common practice."""
    assert not any({"dry", "touch"} <= process.traits for process in permitted((part,)))
    assert route(part).process != "soft dry brush"


def test_the_white_bloom_of_lead_is_poisonous() -> None:
    """Common practice: lead carbonate."""
    cleaned = route(PartSpec("counterweight", "lead", None, ("white bloom",)))
    assert any("Lead is poisonous" in caution.text for caution in cleaned.cautions)
    damp = route(PartSpec("counterweight", "lead", None, ("lead carbonate",)))
    assert damp.process == "swab"
    assert damp.is_decided


@pytest.mark.parametrize(
    "part",
    [
        PartSpec("pellicle", "pellicle", None, ("dust",)),
        PartSpec("pellicle mirror", "plastic film", None, ("grime",)),
        PartSpec("yellow filter", "gelatine filter", None, ("dust",)),
    ],
)
def test_what_tears_meets_the_blower_only(part: PartSpec) -> None:
    """Common practice."""
    assert {process.name for process in permitted((part,))} <= {"left as it is", "hand blower"}
    assert any("tear" in str(each) for each in route(part).cautions) or "gelatine" in str(part.material)


@pytest.mark.parametrize("rust", ["rust", "deep rust"])
def test_rust_that_stays_on_is_kept_dry(rust: str) -> None:
    """Chemistry: water feeds rust. Cadmium plate forbids what would remove it."""
    nut = PartSpec("nut", "steel", "cadmium plate", (rust,))
    assert route(nut).left_on
    assert not any("water" in traits_of(turn.process, turn.chemistry) for turn in route(nut).turns())
    oily = PartSpec("nut", "steel", "cadmium plate", (rust, "old oil"))
    assert {turn.chemistry for turn in route(oily).turns()} & {"naphtha", "white spirit"}
    plain = route(PartSpec("nut", "steel", "none", ("rust", "old oil")))
    assert not plain.left_on, "rust that comes off meets what it met before"


# -- whole assemblies --------------------------------------------------------------------------------------------------

WHOLE = [
    *("shutter", "leaf shutter", "focal-plane shutter", "Shutter 2", "lens and shutter", "iris", "slow train"),
    *("self-timer", "escapement", "rangefinder", "viewfinder", "meter", "exposure meter", "lens", "front cell"),
    *("rear group", "focusing unit", "focusing mount", "wind mechanism", "shutter assembly", "top cover assembly"),
    *("camera", "mirror box", "film transport", "shutter (leaf)", "shutter with blades", "Shutter, complete"),
]


@pytest.mark.parametrize("soil", ["gummed oil", "old oil", "dried grease", "grime"])
@pytest.mark.parametrize("part", WHOLE)
def test_a_whole_assembly_meets_no_bath_and_is_stripped_first(part: str, soil: str) -> None:
    """Common practice: a bath or a flush carries old oil to blades and pivots, and it sticks again."""
    spec = PartSpec(part, "brass, steel", "none", (soil,))
    assert not any({"immersion", "bath", "cavitation"} & process.traits for process in permitted((spec,)))
    cleaned = route(spec)
    assert any("strip it first" in reason.text.casefold() or "riveted" in reason.text for reason in cleaned.reasons)
    if cleaned.left_on:
        assert any(f"Strip the {part} first" in question for question in cleaned.ask)
    if "hutter" in part or part in {"rangefinder", "meter", "iris"}:
        assert cleaned.never_wet


@pytest.mark.parametrize("part", ["shutter speed ring", "shutter plate", "lens board", "meter window", "train plate"])
def test_a_part_named_after_an_assembly_is_none(part: str) -> None:
    """A plain brass part with gummed oil goes into the ultrasonic bath [watch-baths]."""
    assert route(PartSpec(part, "brass", "none", ("gummed oil",))).process == "ultrasonic bath"


def test_an_empty_assembly_is_a_part_again_and_a_doubt_is_not_enough() -> None:
    """Common practice; a riveted train is bathed whole."""
    for spec in (
        PartSpec("shutter", "brass, empty", "none", ("gummed oil",)),
        PartSpec("shutter", "brass", "none, gutted", ("gummed oil",)),
        PartSpec("slow train", "riveted brass, steel pivots", "none", ("gummed oil",)),
    ):
        assert route(spec).process == "ultrasonic bath"
    for material in ("brass, empty?", "brass, not empty", "brass, riveted"):
        assert not any("bath" in process.traits for process in permitted((PartSpec("shutter", material, "none"),)))


def test_of_a_shutter_of_which_nothing_was_noted_it_says_strip_it_first() -> None:
    """Common practice."""
    (question,) = route(PartSpec("shutter")).ask
    assert question.startswith("Strip the shutter first")


# -- by hand, where nothing else is safe -------------------------------------------------------------------------------


@pytest.mark.parametrize("soil", ["old grease", "dried grease", "gummed oil"])
def test_bakelite_with_old_grease_is_wiped_with_naphtha_and_soaked_in_nothing(soil: str) -> None:
    """Everyday work: common practice."""
    cleaned = route(PartSpec("knob", "bakelite", "none", (soil,)))
    assert cleaned.name == "swab, naphtha"
    assert not cleaned.left_on
    assert cleaned.is_decided
    said = " ".join(caution.text for caution in cleaned.cautions)
    assert "where nobody sees it" in said
    assert "barely damp cloth" in said
    assert not any("bath" in process.traits for process in permitted((PartSpec("knob", "bakelite", "none"),)))


@pytest.mark.parametrize("material", ["ebonite", "rubber", "acrylic", "ABS", "leatherette", "leather"])
def test_old_grease_on_what_takes_no_solvent_is_wiped_with_a_barely_damp_swab(material: str) -> None:
    """Common practice."""
    for soil in ("old grease", "old oil"):
        cleaned = route(PartSpec("part", material, "none", (soil,)))
        assert not cleaned.left_on
        assert "solvent" not in traits_of(cleaned.process, cleaned.chemistry)


@pytest.mark.parametrize("part", ["hairspring", "mirror", "bellows"])
def test_what_is_never_wet_is_not_wiped_for_its_grease(part: str) -> None:
    """Common practice."""
    (question,) = route(PartSpec(part, "brass", "none", ("old grease",))).ask
    assert question.endswith("removes old grease: leave it as it is.")


# -- glass apart from its rim ------------------------------------------------------------------------------------------


@pytest.mark.parametrize("finish", ["black paint", "lacquer", "black paint, white figures", "black anodised"])
@pytest.mark.parametrize("glass", ["glass", "plain glass", "coated glass", "cemented glass"])
def test_fungus_on_a_painted_cell_is_wiped_on_the_glass_only(glass: str, finish: str) -> None:
    """What a repairer does (common practice): alcohol on the glass, kept off the paint of the rim."""
    cleaned = route(PartSpec("front cell", f"brass, {glass}", finish, ("fungus", "grime")))
    fungus = next(turn for turn in cleaned.turns() if turn.chemistry == "isopropyl alcohol")
    assert fungus.process == "swab on the glass only"
    assert any("Keep off the rim" in caution.text for caution in fungus.cautions)
    assert all(turn.chemistry == "neutral detergent" for turn in cleaned.turns() if turn is not fungus)
    assert not cleaned.left_on


@pytest.mark.parametrize(
    "part",
    [
        PartSpec("ring", "brass", "black paint", ("fungus",)),
        PartSpec("front element", "thoriated glass", "black paint", ("fungus",)),
        PartSpec("front cell", "brass, glass", "glued", ("fungus",)),
        PartSpec("front cell", "acrylic, glass", "none", ("fungus",)),
        PartSpec("mirror", "glass", "black paint", ("fungus",)),
        PartSpec("front cell", "brass, glass", "lead paint", ("fungus",)),
    ],
)
def test_no_alcohol_on_the_glass_alone_where_it_may_do_harm(part: PartSpec) -> None:
    """Common practice; acrylic and glue take no alcohol."""
    assert all(turn.process != "swab on the glass only" for turn in route(part).turns())


# -- one answer, and about the part itself -----------------------------------------------------------------------------


@pytest.mark.parametrize("material", ["glass", "coated glass", "plain glass", "cemented glass", None])
@pytest.mark.parametrize("part", ["rangefinder mirror", "beam splitter", "reflex mirror"])
def test_a_mirror_is_blown_and_nothing_is_said_of_balsam_or_swabs(part: str, material: str | None) -> None:
    """Common practice: the film comes off at the first wipe, even of a damp swab."""
    cleaned = route(PartSpec(part, material, None, ("grime", "dust")))
    said = " ".join(each.text for each in (*cleaned.reasons, *cleaned.cautions))
    assert cleaned.name == "hand blower"
    assert "metal film" in said
    for word in ("cement", "balsam", "swab", "coating", "rubs", "blackened"):
        assert word not in said


@pytest.mark.parametrize("material", ["ground glass", "acrylic", None])
def test_a_focusing_screen_is_not_rubbed_but_held_in_a_flow(material: str | None) -> None:
    """Common practice: a matt face polishes where it is rubbed. The plan said “swab”, and “do not rub it”."""
    cleaned = route(PartSpec("focusing screen", material or "focusing screen", None, ("grime",)))
    assert cleaned.name == "gentle flow, neutral detergent"
    assert not any("rub" in process.traits for process in permitted((PartSpec("focusing screen", material),)))


def test_an_unknown_word_is_named_with_the_nearest_known_ones() -> None:
    (question,) = route(PartSpec("ring", "brass", "black paint, engravd", ("dried grease",))).ask
    assert "“engravd” is not in the table; near it are “engraved”" in question
    assert "black paint" not in question


def test_a_word_that_means_several_materials_is_said_where_dirt_stays_on() -> None:
    """Magnesium takes no water [pf-magnesium], and a painted die casting of aluminium is washed: common practice."""
    first, second = route(PartSpec("body", "die casting", "crackle paint", ("grime",))).ask
    assert "specialist" not in first
    assert second.startswith("“die casting” may be aluminium, zinc die casting and magnesium: say which")
    washed = route(PartSpec("body", "aluminium die casting", "crackle paint", ("grime",)))
    assert (washed.name, washed.ask) == ("swab, neutral detergent", ())
    assert not any("water" in each.traits for each in permitted((PartSpec("body", "magnesium die casting", "none"),)))


def test_nothing_is_tried_on_a_hidden_spot_against_what_no_cleaning_removes() -> None:
    """Common practice."""
    (question,) = route(PartSpec("rear doublet", "cemented glass", None, ("cement separation",))).ask
    assert question.endswith("leave it as it is.")


@pytest.mark.parametrize("words", [("red-rotted leather", None), ("leather", "red rot")])
def test_red_rot_is_left_alone_wherever_it_is_noted(words: tuple[str, str | None]) -> None:
    """Common practice: it powders away under the brush."""
    assert route(PartSpec("covering", *words, ("dust",))).process == "left as it is"


def test_printed_figures_meet_no_water_that_soaks_them_off() -> None:
    """Common practice: water takes transfers off."""
    assert route(PartSpec("disc", "brass", "printed", ("grime",))).chemistry == "dry"
