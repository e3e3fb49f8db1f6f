"""The ladder's table: expansion against worked examples and print, and the table against its own words."""

import re
import tomllib
from importlib.resources import files
from pathlib import Path
from typing import Any, get_args

import pytest
from hypothesis import given
from hypothesis import strategies as st

from camerawright.handbook import cleaning, seized
from camerawright.handbook.cleaning import Subject
from camerawright.handbook.part_words import understood
from camerawright.handbook.seized import Expansion, gain
from camerawright.handbook.tables import COMMON_PRACTICE, FROM_MEMORY
from camerawright.journal.entries import Rung
from tests.published import printed

ALUMINIUM_6061 = Expansion(23.6, 23.6, "callister-b6")
FREE_CUTTING_BRASS = Expansion(20.5, 20.5, "callister-b6")
RISES = st.floats(-80, 80)
DIAMETERS = st.floats(0.3, 60)
EXPANSIONS = st.tuples(st.floats(1, 120), st.floats(1, 120)).map(lambda ab: Expansion(min(ab), max(ab), "x"))


def rows(words: str) -> tuple[Subject, ...]:
    """What the words mean."""
    said = understood(words)
    assert not said.unknown
    return (*said.materials, *said.finishes, *said.kinds)


def raw() -> dict[str, Any]:
    """The data file, read without the handbook."""
    return tomllib.loads(files("camerawright.handbook").joinpath("seized.toml").read_text(encoding="utf-8"))


# -- expansion ---------------------------------------------------------------------------------------------------------


def test_an_aluminium_ring_on_brass_gains_what_was_worked_out_by_hand() -> None:
    """30 mm, 60 K: (23.6 − 20.5) × 1.8 = 5.58 µm both warmed, 23.6 × 1.8 = 42.48 µm the ring alone [callister-b6]."""
    both = gain(ALUMINIUM_6061, FREE_CUTTING_BRASS, diameter_mm=30, bore_rise_k=60, screw_rise_k=60)
    ring = gain(ALUMINIUM_6061, FREE_CUTTING_BRASS, diameter_mm=30, bore_rise_k=60, screw_rise_k=0)
    for computed, by_hand in ((both, "5.58"), (ring, "42.48")):
        assert printed(by_hand).holds(computed.low_um)
        assert printed(by_hand).holds(computed.high_um)


@pytest.mark.parametrize(
    ("words", "low", "high"),
    [
        ("aluminium", "21.5", "23.6"),  # 356 and 6061
        ("brass", "19.9", "20.5"),  # C26000 and C36000
        ("magnesium", "26.0", "26.0"),  # AZ91D
        ("zinc", "23.0", "32.5"),
        ("steel", "11", "13"),  # [expansion-article]
        ("stainless steel", "10.1", "17.3"),  # 440C: from memory; 304: [expansion-article]
    ],
)
def test_coefficients_are_those_printed(words: str, low: str, high: str) -> None:
    """[callister-b6] where nothing else stands beside the row."""
    found = seized.expansion(rows(words))
    assert found is not None
    assert printed(low).holds(found.low_1e6_per_k)
    assert printed(high).holds(found.high_1e6_per_k)


def test_which_grade_of_stainless_it_is_decides_so_it_is_undecided() -> None:
    """440C 10.1 and 316 15.9 (from memory), 304 17.3 [expansion-article]; plain steel 11 to 13 lies between."""
    stainless, steel = seized.expansion(rows("stainless steel")), seized.expansion(rows("steel"))
    assert stainless
    assert steel
    for alpha in ("10.1", "15.9", "17.3"):
        assert stainless.low_1e6_per_k <= printed(alpha).value <= stainless.high_1e6_per_k
    assert gain(steel, stainless, diameter_mm=1.7, bore_rise_k=60, screw_rise_k=60).effect == "undecided"
    assert gain(stainless, steel, diameter_mm=1.7, bore_rise_k=60, screw_rise_k=60).effect == "undecided"


def test_a_word_for_two_metals_spans_both() -> None:
    found = seized.expansion(rows("die casting"))
    assert found is not None
    assert (found.low_1e6_per_k, found.high_1e6_per_k) == (21.5, 32.5)


@pytest.mark.parametrize("words", ["nickel silver", "leather", "bronze"])
def test_no_figure_at_hand_is_none_and_no_guess(words: str) -> None:
    assert seized.expansion(rows(words)) is None


def test_steel_in_brass_opens_and_brass_in_steel_grips() -> None:
    """Brass grows more than steel by every table; a screw that grows more than its hole jams."""
    steel, brass = seized.expansion(rows("steel")), seized.expansion(rows("brass"))
    assert steel
    assert brass
    assert gain(brass, steel, diameter_mm=1.7, bore_rise_k=40, screw_rise_k=40).effect == "opens"
    assert gain(steel, brass, diameter_mm=1.7, bore_rise_k=40, screw_rise_k=40).effect == "grips"
    assert gain(steel, steel, diameter_mm=1.7, bore_rise_k=40, screw_rise_k=40).effect == "undecided"


@given(EXPANSIONS, EXPANSIONS, DIAMETERS, RISES, RISES)
def test_the_bounds_hold_every_pair_of_alloys_within_the_names(
    bore: Expansion, screw: Expansion, d_mm: float, bore_k: float, screw_k: float
) -> None:
    """Against the lengths themselves: a circle of diameter d grows to d(1 + αΔT)."""
    found = gain(bore, screw, diameter_mm=d_mm, bore_rise_k=bore_k, screw_rise_k=screw_k)
    for alpha_bore in (bore.low_1e6_per_k, bore.high_1e6_per_k):
        for alpha_screw in (screw.low_1e6_per_k, screw.high_1e6_per_k):
            hole_mm = d_mm * (1 + alpha_bore * 1e-6 * bore_k)
            pin_mm = d_mm * (1 + alpha_screw * 1e-6 * screw_k)
            gained_um = (hole_mm - pin_mm) * 1e3
            assert found.low_um - 1e-6 <= gained_um <= found.high_um + 1e-6


@given(EXPANSIONS, DIAMETERS, RISES)
def test_warming_and_cooling_the_same_metal_gains_nothing_for_sure(
    metal: Expansion, d_mm: float, rise_k: float
) -> None:
    one = Expansion(metal.low_1e6_per_k, metal.low_1e6_per_k, "x")
    assert gain(one, one, diameter_mm=d_mm, bore_rise_k=rise_k, screw_rise_k=rise_k).high_um == 0


@pytest.mark.parametrize("diameter_mm", [0.0, -1.0, float("nan")])
def test_a_thread_without_a_diameter_is_refused(diameter_mm: float) -> None:
    with pytest.raises(ValueError, match="diameter"):
        gain(ALUMINIUM_6061, FREE_CUTTING_BRASS, diameter_mm=diameter_mm, bore_rise_k=60, screw_rise_k=0)


# -- the table hangs together ------------------------------------------------------------------------------------------


def test_the_rungs_are_those_of_the_journal_in_their_order() -> None:
    assert tuple(step.name for step in seized.ladder()) == get_args(Rung)


def test_a_blade_fits_its_slot_and_a_stub_that_stands_proud_is_walked_round_before_anything_is_drilled() -> None:
    """[iso-2380-1]: nine blades for 24 slots, so a taper blade fits few. [repair-tips]: tweezers, a left-hand bit."""
    slot = next(said.text for rung in seized.ladder() for said in rung.how if said.source == "iso-2380-1")
    assert "hollow-ground or parallel" in slot
    tips = [way.text.text for way in seized.ways() if way.text.source == "repair-tips"]
    assert ["tweezers" in tip for tip in tips] == [True, False]
    assert "left-hand" in tips[1]
    assert "consent before you drill" in tips[1]


def test_force_comes_after_everything_that_needs_none() -> None:
    """Common practice."""
    force = [step.force for step in seized.ladder()]
    assert force == sorted(force)
    assert any(force)


def test_every_source_is_listed_in_the_docs() -> None:
    listed = (Path(__file__).parents[2] / "docs" / "sources.md").read_text(encoding="utf-8")
    keys = set(re.findall(r"^- `([^`]+)`", listed, re.MULTILINE)) | {COMMON_PRACTICE, FROM_MEMORY}
    named: set[str] = set()

    def gather(thing: Any) -> None:
        if isinstance(thing, dict):
            named.update(value for key, value in thing.items() if key == "source")
            for value in thing.values():
                gather(value)
        elif isinstance(thing, list):
            for value in thing:
                gather(value)

    gather(raw())
    assert len(named) > 5
    assert named <= keys


def test_every_name_in_the_table_is_a_row_of_the_cleaning_table() -> None:
    known = {row.name for row in (*cleaning.materials(), *cleaning.finishes(), *cleaning.kinds())}
    table = raw()
    names = {name for row in table["forbid"] for name in row["subjects"]}
    names |= {row["material"] for row in table["expansion"]}
    names |= {name for row in table["way"] for name in (*row.get("screw", ()), *row.get("seat", ()))}
    assert names <= known
    metals = {row.metal for row in cleaning.materials()}
    assert {metal for row in table["way"] for metal in row.get("never", ())} <= metals
    assert {rung for row in table["forbid"] for rung in row["rungs"]} <= set(get_args(Rung))


@pytest.mark.parametrize("words", ["celluloid", "cemented glass", "leatherette"])
def test_no_heat_near_what_burns_opens_or_shrinks(words: str) -> None:
    """[jaic-30-02-003], [stereoscopy-balsam], common practice."""
    assert seized.forbidden("heat", rows(words))


def test_balsam_is_kept_below_fifty_degrees_and_steel_may_get_the_usual() -> None:
    """Balsam softens near 60 °C: common practice."""
    assert seized.warmth(rows("cemented glass")).max_c <= 50
    assert seized.warmth(rows("steel")).max_c == seized.heat().target_c
    assert seized.warmth(rows("anodised aluminium")).max_c == 60  # [solar-anodised]


# -- alum --------------------------------------------------------------------------------------------------------------


def alum(screw: str, seat: str, *beside: str) -> bool:
    """Whether the alum bath is among the ways."""
    near = tuple(row for words in beside for row in rows(words))
    return any(way.bath and way.suits(rows(screw), rows(seat), near) for way in seized.ways())


def test_alum_is_for_plain_steel_in_brass_only() -> None:
    """[alum-watchmakers]: stainless is not attacked; not in aluminium castings (common practice)."""
    assert alum("steel", "brass")
    assert not alum("stainless steel", "brass")
    assert not alum("brass", "brass")
    assert not alum("steel", "aluminium")
    assert not alum("steel", "die casting")
    assert not alum("steel", "magnesium")
    assert not alum("steel", "steel")


@pytest.mark.parametrize(
    "beside", ["steel", "spring steel", "aluminium", "leather", "celluloid", "nickel plate", "soldered"]
)
def test_alum_is_not_for_a_seat_with_anything_beside_it_that_acid_takes(beside: str) -> None:
    """[alum-watchmakers]: all wanted steel out first; acid baths pit plate and dissolve solder (from memory)."""
    assert not alum("steel", "brass", beside)
