"""The cleaning table against its printed sources, and its own words against each other."""

import re
import tomllib
from importlib.resources import files
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from camerawright.handbook import cleaning, solvents
from camerawright.handbook.part_words import understood, understood_soil
from camerawright.handbook.tables import COMMON_PRACTICE, FROM_MEMORY
from tests import published

DOCS = Path(__file__).parents[2] / "docs"


def raw(name: str) -> dict[str, Any]:
    """A data file of the handbook, read without the handbook."""
    return tomllib.loads(files("camerawright.handbook").joinpath(name).read_text(encoding="utf-8"))


def fahrenheit(temperature_c: float) -> float:
    """The same temperature in degrees Fahrenheit."""
    return temperature_c * 9 / 5 + 32


def sources_in(thing: Any) -> set[str]:
    """Every source named anywhere in a data file, in its fields and in brackets in its sentences."""
    if isinstance(thing, dict):
        named = {value for key, value in thing.items() if key == "source" or key.endswith("_source")}
        return named.union(*map(sources_in, thing.values()))
    if isinstance(thing, list):
        return set[str]().union(*map(sources_in, thing))
    return set(re.findall(r"\[([a-z][a-z0-9-]+)\]", thing)) if isinstance(thing, str) else set()


# -- the table hangs together ------------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", ["cleaning.toml", "solvents.toml"])
def test_every_source_is_listed_in_the_docs_or_says_that_there_is_none(name: str) -> None:
    listed = set(re.findall(r"^- `([^`]+)`", (DOCS / "sources.md").read_text(encoding="utf-8"), re.MULTILINE))
    cited = sources_in(raw(name))
    assert len(cited) > 3
    assert cited - {COMMON_PRACTICE, FROM_MEMORY} <= listed


def test_every_row_of_the_table_carries_a_source() -> None:
    table = raw("cleaning.toml")
    for group in ("mode", "liquid", "soil", "apart"):
        assert all(row["source"] for row in table[group])
    for group in ("material", "finish", "kind"):
        for row in table[group]:
            assert all(limit["source"] and limit["why"] for limit in row["limits"]), row["name"]


def test_every_forbidden_trait_is_one_that_some_process_has() -> None:
    table = raw("cleaning.toml")
    traits = {trait for row in (*table["mode"], *table["liquid"]) for trait in row["traits"]} | {"creeps"}  # of a drop
    for group in ("material", "finish", "kind"):
        for row in table[group]:
            for limit in row["limits"]:
                forbidden = {part for conjunction in limit.get("forbids", ()) for part in conjunction.split("+")}
                assert forbidden <= traits, row["name"]
                assert limit.get("when", "bath") in traits, row["name"]


def test_every_power_that_a_soil_yields_to_is_one_that_some_process_has_together() -> None:
    for soil in cleaning.soils():
        for needed in soil.yields_to:
            assert any(needed <= process.powers for process in cleaning.processes()), (soil.name, needed)


def test_metals_that_bathe_apart_are_metals_of_the_table() -> None:
    known = {row.metal for row in (*cleaning.materials(), *cleaning.kinds())}
    assert set(cleaning.apart()) <= known


def test_no_two_rows_of_a_group_have_one_name() -> None:
    for rows in (cleaning.materials(), cleaning.finishes(), cleaning.kinds(), cleaning.soils()):
        names = [row.name for row in rows]
        assert len(names) == len(set(names))


# -- solvents ----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", ["acetone", "isopropyl alcohol", "ethanol", "heptane", "kerosene"])
def test_flash_points_and_explosive_limits_are_those_of_the_standard(name: str) -> None:
    standard, solvent = published.load("iec-60079-20-1"), solvents.solvents()[name]
    stem = name.replace(" ", "_")
    assert solvent.lower_limit_percent is not None
    assert solvent.upper_limit_percent is not None
    assert standard[f"{stem}_flash_c"].holds(solvent.flash_point_c)
    assert standard[f"{stem}_lower_percent"].holds(solvent.lower_limit_percent)
    assert standard[f"{stem}_upper_percent"].holds(solvent.upper_limit_percent)


def test_naphtha_flashes_where_the_pocket_guide_says() -> None:
    guide, naphtha = published.load("niosh-npg-0492"), solvents.solvents()["naphtha"]
    assert guide["flash_highest_f"].holds(fahrenheit(naphtha.flash_point_c))
    assert naphtha.lower_limit_percent is not None
    assert guide["lower_percent"].holds(naphtha.lower_limit_percent)
    assert naphtha.upper_limit_percent is not None
    assert guide["upper_percent"].holds(naphtha.upper_limit_percent)


def test_two_sources_agree_on_isopropyl_alcohol() -> None:
    guide, alcohol = published.load("niosh-npg-0359"), solvents.solvents()["isopropyl alcohol"]
    assert abs(fahrenheit(alcohol.flash_point_c) - guide["flash_f"].value) < 1.0  # 12 °C is printed to a degree
    assert alcohol.lower_limit_percent is not None
    assert guide["ten_percent_of_lower_limit_ppm"].holds(alcohol.lower_limit_percent / 100 * 0.10 * 1e6)


def test_white_spirit_flashes_where_the_sheet_says() -> None:
    assert published.load("osha-ch-268000")["flash_c"].holds(solvents.solvents()["white spirit"].flash_point_c)


def test_white_spirit_says_that_it_makes_explosive_mixtures_far_below_its_flash_point() -> None:
    """Its flash point alone sounds harmless on a bench at 25 °C."""
    above = published.load("osha-ch-268000")["explosive_above_c"]
    (said,) = (it for it in solvents.cautions(solvents.solvents()["white spirit"]) if "explosive" in it.text)
    assert above.holds(solvents.solvents()["white spirit"].explosive_above_c or 0)
    assert f"above {above.value:g} °C" in said.text
    assert said.source == "osha-ch-268000"


def test_rags_that_heat_themselves_are_laid_to_drying_oils_and_not_to_white_spirit() -> None:
    """From memory: linseed takes up oxygen and gets hot, white spirit evaporates."""
    assert not any("heat themselves" in it.text for it in solvents.cautions(solvents.solvents()["white spirit"]))
    (soil,) = understood_soil("linseed oil").soils
    assert any("heat themselves" in caution.text for caution in soil.cautions)


def test_the_margin_to_the_flash_point_is_the_regulations_rounded_up() -> None:
    rule = published.load("29-cfr-1910-106")
    assert rule["heated_within_c"].value <= solvents.HEATING_MARGIN_C < rule["heated_within_c"].value + 1
    assert rule["heated_within_f"].value <= solvents.HEATING_MARGIN_C * 9 / 5 < rule["heated_within_f"].value + 2


def test_what_flashes_in_the_worst_three_categories_is_kept_out_of_the_bath_whatever_its_temperature() -> None:
    """[29-cfr-1910-106] as revised, [ghs] 2.6; in category 4 a cool bath keeps its distance."""
    rule = published.load("29-cfr-1910-106")
    assert rule["category_3_up_to_c"].holds(solvents.FLASH_POINT_MIN_C)
    worst = solvents.Solvent("liquid", (), "0-00-0", rule["category_3_up_to_c"].value, FROM_MEMORY, solvents.CARE)
    fourth = solvents.Solvent("liquid", (), "0-00-0", rule["flammable_up_to_c"].value, FROM_MEMORY, solvents.CARE)
    assert solvents.unfit_for_ultrasound(worst, bath_c=5)
    assert solvents.unfit_for_ultrasound(fourth, bath_c=rule["flammable_up_to_c"].value - 16)
    assert not solvents.unfit_for_ultrasound(fourth, bath_c=20)


@pytest.mark.parametrize(
    "name", ["naphtha", "heptane", "isopropyl alcohol", "ethanol", "acetone", "white spirit", "kerosene"]
)
@pytest.mark.parametrize("bath_c", [5.0, 20.0, 50.0])
def test_no_bench_solvent_goes_into_an_ultrasonic_bath_warm_or_cold(name: str, bath_c: float) -> None:
    refusal = solvents.unfit_for_ultrasound(solvents.solvents()[name], bath_c=bath_c)
    assert refusal is not None
    assert name in refusal.text


@given(flash_c=st.floats(-60, 200), bath_c=st.floats(0, 90))
def test_a_liquid_is_refused_by_its_flash_point_or_by_its_nearness_to_the_baths_heat(
    flash_c: float, bath_c: float
) -> None:
    harm = solvents.CARE
    liquid = solvents.Solvent("liquid", (), "0-00-0", flash_c, FROM_MEMORY, harm)
    refused = solvents.unfit_for_ultrasound(liquid, bath_c=bath_c) is not None
    assert refused or (flash_c > 60 and flash_c - bath_c > 16.7)
    if flash_c > 60 and flash_c - bath_c > 17:
        assert not refused


def test_a_solvents_cautions_give_its_figures_with_sources_and_defer_to_the_data_sheet() -> None:
    said = solvents.cautions(solvents.solvents()["acetone"])
    assert any("-20 °C" in caution.text and caution.source == "iec-60079-20-1" for caution in said)
    assert any("2.5 to 14.3 %" in caution.text for caution in said)
    assert any("safety data sheet" in caution.text and "licensed" in caution.text for caution in said)


def test_a_solvent_without_sourced_explosive_limits_claims_none() -> None:
    said = solvents.cautions(solvents.solvents()["white spirit"])
    assert str(said[0]).endswith("[osha-ch-268000]")
    assert not any("explodes" in caution.text for caution in said)


def test_what_old_handbooks_list_and_nobody_should_use_is_on_no_route() -> None:
    assert {"benzene", "carbon tetrachloride"} <= set(solvents.never())
    used = {process.chemistry for process in cleaning.processes()}
    assert not used & set(solvents.never())


# -- figures of the sources --------------------------------------------------------------------------------------------


def limits_of(rows: tuple[cleaning.Subject, ...], name: str, source: str) -> list[cleaning.Limit]:
    """The limits that a row takes from a source."""
    row = next(row for row in rows if row.name == name)
    return [limit for limit in row.limits if limit.reason.source == source]


def test_aluminium_stands_the_ph_that_its_oxide_does() -> None:
    source = published.load("aluminium-oxide-ph")
    (limit,) = limits_of(cleaning.materials(), "aluminium", source.key)
    assert limit.ph is not None
    assert source["lowest_ph"].holds(limit.ph[0])
    assert source["highest_ph"].holds(limit.ph[1])


def test_aluminium_stands_the_laboratorys_heat_and_time() -> None:
    source = published.load("lab-detergent")
    limits = limits_of(cleaning.materials(), "aluminium", source.key)
    assert [limit.temperature_max_c for limit in limits if limit.temperature_max_c] == [
        source["highest_temperature_c"].value
    ]
    assert [limit.minutes_max for limit in limits if limit.minutes_max] == [60 * source["longest_h"].value]


@pytest.mark.parametrize("finish", ["anodised", "dyed anodised"])
def test_anodising_stands_the_manuals_ph_and_no_more_than_its_heat(finish: str) -> None:
    source = published.load("solar-anodised")
    limits = limits_of(cleaning.finishes(), finish, source.key)
    (ph,) = [limit.ph for limit in limits if limit.ph]
    assert source["lowest_ph"].holds(ph[0])
    assert source["highest_ph"].holds(ph[1])
    row = next(row for row in cleaning.finishes() if row.name == finish)
    heat = [limit.temperature_max_c for limit in row.limits if limit.temperature_max_c is not None]
    assert min(heat) <= source["highest_temperature_c"].value


def test_the_neutral_detergent_is_what_anodising_is_cleaned_with() -> None:
    source = published.load("profile-anodised")
    for process in cleaning.processes():
        if process.chemistry == "neutral detergent":
            assert process.ph == (source["cleaned_from_ph"].value, source["cleaned_to_ph"].value)


def test_an_ultrasonic_bath_takes_as_long_as_a_watchmakers() -> None:
    baths = [process.minutes for process in cleaning.processes() if process.mode == "ultrasonic bath"]
    assert baths
    assert set(baths) == {published.load("watch-baths")["bath_min"].value}


def test_the_fungus_mixture_is_made_of_what_the_page_says() -> None:
    """[fungus-mixture]: 94 % water, 4 % ammonia, 2 % peroxide, which is all of it."""
    (name,) = {process.chemistry for process in cleaning.processes() if "fungicide" in process.powers}
    parts = [int(figure) for figure in re.findall(r"(\d+) %", name)]
    assert parts == [94, 4, 2]


def test_the_basket_hangs_and_a_higher_frequency_is_gentler() -> None:
    """[watch-school]; [aviationpros-ultrasonic]: 40 kHz coarse, 130 kHz delicate."""
    bath = next(process for process in cleaning.processes() if process.mode == "ultrasonic bath")
    said = {caution.source: caution.text for caution in bath.cautions}
    assert "Never let it rest on the floor" in said["watch-school"]
    coarse, delicate = map(int, re.findall(r"(\d+) kHz", said["aviationpros-ultrasonic"]))
    assert (coarse, delicate) == (40, 130)


def test_zinc_meets_nothing_alkaline_and_magnesium_neither_acid_nor_weak_alkali() -> None:
    """[zinc-etch], [zinc-ph]: pH 8-9 the limit; [pf-magnesium]: alkali etches below about pH 12."""
    for name, lowest, highest in (("zinc die casting", 6.0, 9.0), ("magnesium", 12.0, 14.0)):
        row = next(row for row in cleaning.materials() if row.name == name)
        left = [
            process for process in cleaning.processes() if not any(limit.rules_out(process) for limit in row.limits)
        ]
        assert left
        assert all(process.ph is None or lowest <= process.ph[0] <= process.ph[1] <= highest for process in left), name


def test_perished_foam_comes_off_with_naphtha_or_alcohol() -> None:
    """[seal-posts]."""
    (soil,) = understood_soil("perished foam").soils
    by_swab = {process.chemistry for process in cleaning.processes() if process.mode == "swab" and soil.yields(process)}
    assert {"naphtha", "isopropyl alcohol"} <= by_swab
    assert soil.source == "seal-posts"


def test_both_opinions_on_ammonia_and_brass_are_named() -> None:
    """[cdl-1998-0032] against [horology-brass]; the safe side is taken."""
    brass = next(row for row in cleaning.materials() if row.name == "brass")
    (said,) = (limit.reason for limit in brass.limits if frozenset({"ammonia"}) in limit.forbids)
    assert said.source == "cdl-1998-0032"
    assert "[horology-brass]" in said.text


def test_the_more_careful_of_two_tables_gives_the_flash_point_of_kerosene() -> None:
    """38 °C [iec-60079-20-1] against 72 °C [nfpa-497]."""
    assert published.load("iec-60079-20-1")["kerosene_flash_c"].value < 72
    assert solvents.solvents()["kerosene"].flash_point_c == published.load("iec-60079-20-1")["kerosene_flash_c"].value


# -- words -------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("said", "material"),
    [
        ("pot metal", "zinc die casting"),
        ("Zamak", "zinc die casting"),
        ("mazak", "zinc die casting"),
        ("German silver", "nickel silver"),
        ("dural", "aluminium"),
        ("aluminum", "aluminium"),
        ("Bakelite", "phenolic"),
        ("silver steel", "steel"),
        ("Phosphor-bronze", "bronze"),
        ("calfskin", "leather"),
        ("spring brass strip", "sprung brass"),
        ("ebonite", "vulcanite"),
        ("balsam", "cemented glass"),
    ],
)
def test_the_trades_words_for_a_material_are_understood(said: str, material: str) -> None:
    found = understood(said)
    assert [row.name for row in found.materials] == [material]
    assert not found.unknown


@pytest.mark.parametrize(
    ("said", "finish"),
    [
        ("satin chrome", "chrome plate"),
        ("nickel-plated", "nickel plate"),
        ("gun-blue", "chemical blacking"),
        ("black anodized", "dyed anodised"),
        ("crackle", "black paint"),
        ("engraved, paint-filled", "paint-filled engraving"),
        ("bare", "none"),
    ],
)
def test_the_trades_words_for_a_finish_are_understood(said: str, finish: str) -> None:
    found = understood(said)
    assert [row.name for row in found.finishes] == [finish]
    assert not found.unknown


def test_material_and_finish_in_one_breath_are_told_apart() -> None:
    found = understood("nickel-plated German silver, soldered")
    assert [row.name for row in found.materials] == ["nickel silver"]
    assert [row.name for row in found.finishes] == ["nickel plate"]
    assert [row.name for row in found.kinds] == ["soft-soldered assembly"]


def test_a_word_that_may_mean_several_things_means_all_of_them() -> None:
    assert {row.name for row in understood("light alloy").materials} == {"aluminium", "magnesium"}
    assert {row.name for row in understood("glass").materials} == {"plain glass", "coated glass", "cemented glass"}


@pytest.mark.parametrize(
    ("said", "strange"),
    [
        ("unobtainium", "unobtainium"),
        ("brass?", "?"),
        ("not anodised", "not"),
        ("brass or steel", "or"),
        ("maybe zinc", "maybe"),
    ],
)
def test_doubt_and_denial_are_not_overheard(said: str, strange: str) -> None:
    assert strange in understood(said).unknown


def test_a_part_named_after_a_blade_is_not_one() -> None:
    assert understood("shutter blade 3").kinds
    assert not understood("blade ring").kinds
    assert not understood("mirror box").kinds


def test_soils_are_understood_in_the_trades_words() -> None:
    found = understood_soil("old grease and traces of green corrosion")
    assert [soil.name for soil in found.soils] == ["dried grease", "verdigris"]
    assert not found.unknown
    for words in ("finger prints", "finger grease", "skin grease", "sweat", "perspiration", "hand cream", "greasy"):
        assert [soil.name for soil in understood_soil(words).soils] == ["grime"], words
    for words, name in (
        ("cigarette smoke", "nicotine"), ("soot", "soot"), ("mould on leather", "mould"),
        ("mould on the lens", "fungus"),
        ("yellow grease", "dried grease"), ("light seal foam", "seal residue"), ("super glue", "cyanoacrylate"),
        ("nail varnish", "thread locker"), ("coffee", "dried drink"), ("mouse droppings", "droppings"),
        ("green gunk", "verdigris"), ("pet hair", "loose dust"), ("dead insects", "dust"),
        ("label residue", "adhesive"),
        ("old grease in the thread", "grease in a thread"), ("balsam separation", "cement separation"),
    ):  # fmt: skip
        found = understood_soil(words)
        assert [soil.name for soil in found.soils] == [name], words
        assert not found.unknown
    assert understood_soil("goo from space").unknown == ("goo", "from", "space")


@given(st.text(max_size=60))
def test_any_text_is_taken_and_its_unknown_words_come_from_it(text: str) -> None:
    for found in (understood(text), understood_soil(text)):
        assert all(word in text.casefold() for word in found.unknown)
