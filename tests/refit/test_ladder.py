"""The ladder on a seized fastener: never a forbidden rung, never force after it got worse, every wait kept."""

import random
from collections.abc import Sequence
from datetime import UTC, datetime, timedelta
from typing import Literal, get_args

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from camerawright.handbook import cleaning
from camerawright.journal.dangers import InUse
from camerawright.journal.entries import Removed, Rung, Tried
from camerawright.journal.state import fold
from camerawright.refit.ladder import Advice, Hand, next_rung, stuck

START = datetime(2026, 3, 2, 9, 0, tzinfo=UTC)
LATER = START + timedelta(days=30)
RUNGS: tuple[Rung, ...] = get_args(Rung)
WORDS = st.sampled_from([row.name for row in (*cleaning.materials(), *cleaning.finishes(), *cleaning.kinds())])
METALS = st.sampled_from(["steel", "brass", "aluminium", "stainless steel", "zinc", "nickel silver", "die casting"])
Outcome = Literal["moved", "no change", "worse"]
NONE = ("none",)  # somebody looked, and nothing lies beside it


def tried(
    rung: Rung,
    outcome: Outcome = "no change",
    *,
    minute: float = 0,
    wait: float | None = None,
    fastener: str = "screw 1",
) -> Tried:
    """A try, minutes after the start, with a wait of minutes."""
    at = START + timedelta(minutes=minute)
    until = at + timedelta(minutes=wait) if wait is not None else None
    return Tried(at=at, part="ring", fastener=fastener, rung=rung, outcome=outcome, wait_until=until)


TRIES = st.lists(
    st.builds(
        tried,
        st.sampled_from(RUNGS),
        st.sampled_from(["no change"] * 5 + ["moved", "worse"]),
        minute=st.floats(0, 2000),
        wait=st.none() | st.floats(1, 3000),
    ),
    max_size=12,
)


def climb(
    materials: Sequence[str], beside: Sequence[str] = NONE, *, hand: Hand | None = "right", patient: bool = True
) -> list[tuple[datetime, Advice]]:
    """Do what is advised, nothing moving, until there is no more advice."""
    now, done, said = START, list[Tried](), list[tuple[datetime, Advice]]()
    for _ in range(60):
        advice = next_rung(done, materials, beside=beside, hand=hand, now=now)
        said.append((now, advice))
        if advice.verdict == "wait":
            assert advice.until is not None
            assert advice.until > now
            now = advice.until
        elif advice.rung is not None:
            wait = advice.wait_minutes if patient else None
            done.append(tried(advice.rung, minute=(now - START).total_seconds() / 60, wait=wait))
            now += timedelta(minutes=1)
        else:
            return said
    raise AssertionError("the ladder has no end")


def rungs(materials: Sequence[str], beside: Sequence[str] = NONE) -> list[str]:
    """The rungs advised, in order, each once."""
    return list(dict.fromkeys(advice.rung for _, advice in climb(materials, beside) if advice.rung))


# -- the order ---------------------------------------------------------------------------------------------------------


def test_steel_in_brass_gets_the_whole_ladder_and_then_the_word_to_think() -> None:
    """Common practice: slot, driver, solvent, heat, shock, extract; drilling is for a jig and consent."""
    said = [advice for _, advice in climb(("steel", "brass"))]
    assert list(dict.fromkeys(advice.rung for advice in said if advice.rung)) == list(RUNGS)
    assert said[-1].verdict == "stop"
    assert "jig" in said[-1].stop
    assert "consent" in said[-1].stop


def test_acetone_goes_on_three_times_before_the_driver_is_tried_again() -> None:
    """[lens-repair-page]: a drop of acetone, wait, three times, then a fitted driver."""
    before = [tried("clean the slot"), tried("right driver", minute=1), tried("right driver", minute=2)]
    soak = next_rung(before, ("steel", "brass", "none"), hand="right", now=START + timedelta(minutes=3))
    assert soak.rung == "solvent and wait"
    assert "one drop of acetone on the thread, 3 times" in soak.how[0].text
    assert soak.wait_minutes
    put_on = tried("solvent and wait", minute=3, wait=soak.wait_minutes)
    after = START + timedelta(minutes=3 + soak.wait_minutes)
    assert next_rung([*before, put_on], ("steel", "brass", "none"), hand="right", now=after).rung == "right driver"


def test_paint_beside_it_keeps_every_solvent_but_oil_away() -> None:
    """Solvents soften old paint: common practice."""
    liquids = [
        advice.how[0].text for _, advice in climb(("steel", "brass"), ("black paint",)) if advice.rung == RUNGS[2]
    ]
    assert len(liquids) == 1
    assert "light mineral oil" in liquids[0]


def test_materials_of_the_tries_stand_in_where_none_are_given() -> None:
    entry = tried("clean the slot").model_copy(update={"materials": ("steel", "celluloid", "none")})
    tries = [entry, *(tried(rung, minute=n) for n, rung in enumerate((RUNGS[1], RUNGS[1], RUNGS[2]), start=1))]
    advice = next_rung(tries, (), now=LATER, hand="right")
    assert {out.rung for out in advice.left_out} == {"heat", "shock"}
    assert advice.rung == "extract"


def test_heat_says_what_the_bore_gains() -> None:
    """(19.9 − 13) to (20.5 − 11) × 1.7 mm × 60 K = 0.70 to 0.97 µm, by hand [callister-b6], [expansion-article]."""
    tries = [tried("clean the slot")] + [tried("right driver", minute=n) for n in (1, 2)]
    tries += [tried("solvent and wait", minute=n) for n in (3, 4, 5, 6)]
    advice = next_rung(tries, ("steel", "brass"), beside=NONE, hand="right", diameter_mm=1.7, now=LATER)
    assert advice.rung == "heat"
    assert advice.warm_all is not None
    assert advice.warm_all.low_um == pytest.approx((19.9 - 13) * 1.7 * 60e-3)
    assert advice.warm_all.high_um == pytest.approx((20.5 - 11) * 1.7 * 60e-3)
    assert any("0.70 to 0.97 µm" in how.text for how in advice.how)
    assert {"callister-b6", "expansion-article"} <= set(advice.sources)


def test_a_brass_screw_in_steel_is_turned_cold() -> None:
    """It grows more than its hole."""
    heats = [advice for _, advice in climb(("brass", "steel")) if advice.rung == "heat"]
    assert all(any("turn it cold" in how.text for how in advice.how) for advice in heats)
    assert heats


# -- what must not be done ---------------------------------------------------------------------------------------------


@settings(deadline=None)
@given(
    METALS, METALS, st.sampled_from(["celluloid", "cemented glass", "leatherette", "leather", "bellows", "selenium"])
)
def test_no_heat_near_what_burns_opens_or_shrinks(screw: str, seat: str, beside: str) -> None:
    """[jaic-30-02-003], [stereoscopy-balsam], common practice."""
    assert "heat" not in rungs((screw, seat), (beside,))


@settings(deadline=None)
@given(METALS, METALS, st.sampled_from(["plain glass", "coated glass", "mirror", "hairspring", "zinc"]))
def test_no_blow_near_glass_movements_and_old_zinc(screw: str, seat: str, beside: str) -> None:
    """[die-casting-zinc], common practice."""
    assert "shock" not in rungs((screw, seat), (beside,))


@pytest.mark.parametrize("beside", ["cemented glass", "doublet", "glass", "lens", "thoriated glass"])
def test_no_drop_of_solvent_at_a_thread_beside_a_cemented_element(beside: str) -> None:
    """[lf-balsam]: many light solvents dissolve a balsam joint, and a drop creeps into it."""
    for _, advice in climb(("brass", "brass"), (beside,)):
        assert advice.rung != "solvent and wait", advice.how


def test_no_drop_creeps_on_to_blades() -> None:
    """Common practice: what is diluted comes back as oil on the blades."""
    assert "solvent and wait" not in rungs(("steel", "brass"), ("shutter blade",))


@pytest.mark.parametrize("beside", ["asbestos", "flash capacitor"])
def test_nothing_beyond_the_driver_beside_asbestos_or_a_charged_capacitor(beside: str) -> None:
    """Common practice."""
    assert set(rungs(("steel", "brass"), (beside,))) == {"clean the slot", "right driver"}


@pytest.mark.parametrize("beside", ["cloth", "foam", "wood", "lead paint", "mercury cell", "nitrate film", "acrylic"])
def test_no_heat_near_what_melts_cracks_burns_or_gives_off_poison(beside: str) -> None:
    """Common practice."""
    assert "heat" not in rungs(("steel", "brass"), (beside,))


def test_boiling_alum_scalds_and_what_melts_keeps_it_cold() -> None:
    """[alum-watchmakers] for the minutes near the boil; scalding: common practice."""

    def extracting(beside: str) -> Advice:
        return next(advice for _, advice in climb(("steel", "brass"), (beside,)) if advice.rung == "extract")

    free, plastic = extracting("none"), extracting("ABS")
    assert any("near the boil" in how.text.casefold() for how in free.how)
    assert any("scalds" in caution.text for caution in free.cautions)
    assert any("alum" in how.text for how in plastic.how)
    assert not any("near the boil" in how.text.casefold() for how in plastic.how)


def test_radium_gets_neither_heat_nor_blow_nor_drill() -> None:
    """Common practice: it is not to be scraped, blown or heated."""
    assert not {"heat", "shock", "extract"} & set(rungs(("steel", "brass"), ("radium",)))


@settings(deadline=None)
@given(st.lists(WORDS, max_size=3), st.booleans())
def test_solvent_and_warmth_are_half_an_hour_apart(beside: list[str], patient: bool) -> None:
    """Flammable liquid and heat never together: common practice."""
    last_solvent: datetime | None = None
    for now, advice in climb(("steel", "brass"), beside, patient=patient):
        if advice.rung == "heat" and last_solvent:
            assert now >= last_solvent + timedelta(minutes=30)
        if advice.rung == "solvent and wait":
            last_solvent = now + timedelta(minutes=advice.wait_minutes or 0 if patient else 0)


def test_what_was_warmed_cools_before_a_solvent_comes_near() -> None:
    tries = [tried("clean the slot"), tried("right driver"), tried("right driver"), tried("heat", minute=10)]
    advice = next_rung(tries, ("steel", "brass"), beside=NONE, hand="right", now=START + timedelta(minutes=11))
    assert advice.verdict == "wait"
    assert "cold" in advice.why[0].text


def test_solvents_carry_their_flash_point_and_blows_ask_for_eye_protection() -> None:
    """[iec-60079-20-1]: acetone flashes at −20 °C; eye protection: common practice."""
    said = {advice.rung: advice for _, advice in reversed(climb(("steel", "brass")))}
    assert any("-20 °C" in caution.text for caution in said["solvent and wait"].cautions)
    for rung in ("shock", "extract"):
        assert any("Eye protection" in caution.text for caution in said[rung].cautions)
    assert any("Flammable" in caution.text for caution in said["heat"].cautions)


@settings(deadline=None)
@given(TRIES, st.lists(WORDS, max_size=2))
def test_after_worse_there_is_never_more_force(tries: list[Tried], beside: list[str]) -> None:
    ordered = sorted(tries, key=lambda entry: (entry.at, entry.id))
    advice = next_rung(tries, ("steel", "brass"), beside=beside or NONE, hand="right", now=LATER)
    since = [i for i, entry in enumerate(ordered[:-1]) if entry.outcome == "moved"]
    run = ordered[since[-1] + 1 :] if since else ordered
    if any(entry.outcome == "worse" for entry in run) and run[-1].outcome != "moved":
        assert advice.verdict == "stop"
        assert advice.rung is None
    if run and run[-1].outcome == "moved":
        assert advice.verdict == "free"


@settings(deadline=None)
@given(TRIES, st.floats(0, 5000))
def test_every_wait_is_kept(tries: list[Tried], minute: float) -> None:
    now = START + timedelta(minutes=minute)
    advice = next_rung(tries, ("steel", "brass"), beside=NONE, hand="right", now=now)
    if advice.verdict in {"try", "ask"}:
        moved = [(entry.at, entry.id) for entry in tries if entry.outcome == "moved"]
        after = [entry for entry in tries if not moved or (entry.at, entry.id) > max(moved)]
        assert all(entry.wait_until is None or entry.wait_until <= now for entry in after)


@settings(deadline=None)
@given(TRIES, st.randoms(use_true_random=False))
def test_the_order_in_which_the_tries_are_given_does_not_matter(tries: list[Tried], shuffler: random.Random) -> None:
    shuffled = list(tries)
    shuffler.shuffle(shuffled)
    assert next_rung(shuffled, ("steel", "brass"), now=LATER) == next_rung(tries, ("steel", "brass"), now=LATER)


@settings(deadline=None)
@given(st.lists(WORDS, max_size=3), st.lists(WORDS, min_size=2, max_size=2), st.sampled_from([None, "right", "left"]))
def test_the_ladder_ends_and_no_rung_is_tried_too_often(beside: list[str], pair: list[str], hand: Hand | None) -> None:
    said = climb(pair, beside, hand=hand)
    assert said[-1][1].verdict in {"stop", "ask"}
    for _, advice in said:
        assert advice.stop
        assert advice.sources or advice.verdict == "ask"
        if advice.verdict == "try":
            assert 1 <= advice.n_try <= advice.n_tries
            assert advice.rung not in {out.rung for out in advice.left_out}


# -- what has to be known ----------------------------------------------------------------------------------------------


def test_no_force_before_the_hand_of_the_thread_is_known() -> None:
    """Left-hand threads on wind shafts, counters and some pivots: common practice."""
    said = [advice for _, advice in climb(("steel", "brass"), hand=None)]
    assert said[-1].verdict == "ask"
    assert "hand" in said[-1].ask[0]
    assert not {"shock", "extract"} & {advice.rung for advice in said}


def test_a_left_hand_thread_is_undone_clockwise() -> None:
    driver = next_rung([tried("clean the slot")], ("steel", "brass"), hand="left", now=LATER)
    assert any("clockwise undoes it" in how.text and "anti" not in how.text for how in driver.how)


@pytest.mark.parametrize("materials", [(), ("steel",), ("steel", "unobtainium"), ("steel", "brass?")])
def test_nothing_beyond_the_driver_before_the_pair_is_known(materials: tuple[str, ...]) -> None:
    said = [advice for _, advice in climb(materials)]
    assert {advice.rung for advice in said} == {"clean the slot", "right driver", None}
    assert said[-1].verdict == "ask"


def test_what_is_beside_it_and_not_known_is_asked_about() -> None:
    said = climb(("steel", "brass"), ("gloop",))
    assert said[-1][1].verdict == "ask"
    assert "“gloop”" in said[-1][1].ask[0]


def test_nothing_that_reaches_beyond_the_screw_before_somebody_said_what_lies_beside_it() -> None:
    said = climb(("steel", "brass"), ())
    assert {advice.rung for _, advice in said} == {"clean the slot", "right driver", None}
    assert said[-1][1].verdict == "ask"
    assert "beside" in said[-1][1].ask[0]


def test_a_third_material_is_what_lies_beside_it() -> None:
    """[stereoscopy-balsam]."""
    third = rungs(("steel", "brass", "cemented glass"), ())
    assert third == rungs(("steel", "brass"), ("cemented glass",))
    assert not {"heat", "shock"} & set(third)


def test_tries_of_two_fasteners_are_refused() -> None:
    tries = [tried("clean the slot"), tried("clean the slot", fastener="screw 2")]
    with pytest.raises(ValueError, match="one fastener"):
        next_rung(tries, ("steel", "brass"), now=LATER)


# -- what is stuck -----------------------------------------------------------------------------------------------------


def test_a_fastener_is_stuck_until_it_moves_or_its_part_is_off() -> None:
    one, two = tried("clean the slot"), tried("clean the slot", minute=1, fastener="Screw  2")
    again = tried("right driver", minute=2, fastener="screw 2")
    found = stuck(fold([one, two, again]))
    assert [(item.fastener, len(item.tried)) for item in found] == [("screw 1", 1), ("screw 2", 2)]
    moved = tried("right driver", "moved", minute=3)
    assert [item.fastener for item in stuck(fold([one, two, again, moved]))] == ["screw 2"]
    off = Removed(at=START + timedelta(minutes=9), part="ring")
    assert stuck(fold([one, two, again, off])) == ()


@given(st.integers(0, 120))
def test_no_rung_warms_beside_a_flammable_liquid_anywhere_on_the_job(minutes: int) -> None:
    """Another screw soaks in naphtha: vapour creeps along the bench (from memory)."""
    now = LATER + timedelta(minutes=minutes)
    vapour = InUse(what="naphtha", where="gears", until=LATER + timedelta(minutes=60), caution="Keep flames away.")
    tries = [tried("clean the slot"), *(tried("right driver", minute=n) for n in (1, 2))]
    tries += [tried("solvent and wait", minute=n) for n in (3, 4, 5, 6)]
    alone = next_rung(tries, ("steel", "brass"), beside=NONE, hand="right", now=now)
    assert alone.rung == "heat"
    advice = next_rung(tries, ("steel", "brass"), beside=NONE, hand="right", now=now, about=[vapour])
    if minutes < 60:
        assert (advice.verdict, advice.until) == ("wait", vapour.until)
        assert "Keep flames away." in [caution.text for caution in advice.cautions]
    else:
        assert advice == alone
