"""The cleaning plan: what is left, what is inside, what runs until when."""

from collections.abc import Sequence
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from camerawright.job.cleaning import Plan, begun, ended, plan, plan_json
from camerawright.job.entering import enter
from camerawright.job.now import JobNow, job_now
from camerawright.journal.entries import IN_THE_BATH, Awaited, Cleaned, Described, Entry, Refitted, Removed
from camerawright.journal.known import Known
from camerawright.journal.state import fold
from camerawright.refit.learning import learned
from camerawright.refit.way_back import WayBack
from camerawright.store.workshop import create_workshop
from camerawright.workshop.rows import Camera, Job, Owner, Visit

START = datetime(2026, 3, 2, 9, 0, tzinfo=UTC)
ULTRASONIC = "ultrasonic bath, neutral detergent"


def minute(n: float) -> datetime:
    """Minutes after the start."""
    return START + timedelta(minutes=n)


def off(
    n: float, part: str, material: str | None = None, *soil: str, finish: str = "none", assembly: str | None = None
) -> Removed:
    """A part that came off."""
    return Removed(at=minute(n), part=part, material=material, finish=finish, soil=soil, assembly=assembly)


def on_the_bench(entries: Sequence[Entry], *, earlier: Sequence[Entry] = (), now: datetime | None = None) -> JobNow:
    """A job with that journal; the plan does not look at the way back."""
    camera = Camera(maker="Orlmann", model="Falter 6x6", serial="40 117", variant="leaf shutter")
    visit = Visit(
        taken_in=date(2026, 3, 2), owners_words="sticks", film_inside=False, accessories=(), condition="worn",
        wanted="clean", profile="slide",
    )  # fmt: skip
    job = Job(id="J2", owner=Owner(name="Ines Marrow"), camera=camera, visit=visit)
    lore = learned([("J1", fold(earlier))] if earlier else [])
    way = WayBack(steps=(), waiting=())
    return JobNow(job=job, state=fold(entries), lore=lore, way=way, known=Known(), now=now or minute(600))


def lines(made: Plan) -> list[tuple[str, tuple[str, ...]]]:
    """Process and parts of each load."""
    return [(load.batch.name, load.batch.parts) for load in made.loads]


# -- what is left ------------------------------------------------------------------------------------------------------


def test_what_is_off_is_planned_and_what_is_cleaned_or_back_is_not() -> None:
    entries: list[Entry] = [
        off(0, "plate", "brass", "dried grease"),
        off(1, "pinion", "steel", "dried grease"),
        off(2, "spool", "brass", "dried grease"),
        Cleaned(at=minute(3), part="pinion", route=ULTRASONIC),
        Refitted(at=minute(4), part="spool"),
    ]
    made = plan(on_the_bench(entries))
    assert lines(made) == [(ULTRASONIC, ("plate",))]
    assert [task.part.name for task in made.done] == ["pinion"]
    assert made.minutes == 8  # [watch-baths]


def test_a_part_that_comes_off_again_is_to_be_cleaned_again() -> None:
    entries: list[Entry] = [
        off(0, "plate", "brass", "dried grease"),
        Cleaned(at=minute(1), part="plate", route=ULTRASONIC),
        Refitted(at=minute(2), part="plate"),
        off(3, "plate", "brass", "dried grease"),
    ]
    assert lines(plan(on_the_bench(entries))) == [(ULTRASONIC, ("plate",))]


def test_after_the_first_turn_the_second_is_left() -> None:
    entries: list[Entry] = [
        off(0, "lever", "steel", "light rust", "dried grease"),
        Cleaned(at=minute(1), part="lever", route="swab, light mineral oil"),
    ]
    made = plan(on_the_bench(entries))
    assert lines(made) == [(ULTRASONIC, ("lever",))]
    assert not made.done


def test_another_route_than_the_planned_one_leaves_it_to_do_and_is_shown() -> None:
    entries: list[Entry] = [
        off(0, "plate", "brass", "dried grease"),
        Cleaned(at=minute(1), part="plate", route="wiped with a rag"),
    ]
    made = plan(on_the_bench(entries))
    assert made.loads
    assert made.tasks[0].cleaned == ("wiped with a rag",)


def test_a_bare_bench_has_nothing_to_clean() -> None:
    made = plan(on_the_bench([]))
    assert (made.tasks, made.loads, made.timers, made.minutes) == ((), (), (), 0)


# -- what is inside ----------------------------------------------------------------------------------------------------


CELL_APART: list[Entry] = [
    off(0, "front cell", "brass", "dried grease"),
    off(1, "front element", "cemented glass", assembly="front cell"),
    off(2, "scale", "brass", finish="lacquer", assembly="front element"),
]


def test_what_is_still_inside_an_assembly_makes_it_go_the_gentlest_way() -> None:
    """Cemented glass never goes into a bath: common practice, [stereoscopy-balsam]."""
    alone = plan(on_the_bench([off(0, "front cell", "brass", "dried grease")])).tasks[0]
    known = plan(on_the_bench([off(0, "front cell", "brass", "dried grease")], earlier=CELL_APART)).tasks[0]
    assert alone.inside == ()
    assert known.inside == ("front element", "scale")
    assert alone.route.left_on == known.route.left_on == ("dried grease",)  # a whole cell, whatever it is made of
    assert "bath" not in known.route.process
    assert known.route.parts == ("front cell", "front element", "scale")


def test_what_was_separated_goes_its_own_way() -> None:
    entries: list[Entry] = [
        off(0, "front cell", "brass", "dried grease"),
        off(1, "front element", "cemented glass", assembly="front cell"),
    ]
    cell, element = plan(on_the_bench(entries, earlier=CELL_APART)).tasks
    assert cell.inside == ()
    assert cell.route.process == "ultrasonic bath"
    assert element.inside == ("scale",)
    assert "bath" not in element.route.process


def test_what_went_back_into_an_assembly_is_inside_it_again() -> None:
    entries: list[Entry] = [*CELL_APART[:2], Refitted(at=minute(5), part="front element")]
    (cell,) = plan(on_the_bench(entries)).tasks
    assert cell.inside == ("front element",)


def test_assemblies_that_name_each_other_do_not_go_round_for_ever() -> None:
    earlier: list[Entry] = [off(0, "a", "brass", assembly="b"), off(1, "b", "brass", assembly="a")]
    (task,) = plan(on_the_bench([off(0, "a", "brass")], earlier=earlier)).tasks
    assert task.inside == ("b",)


# -- baths and their timers --------------------------------------------------------------------------------------------


def test_a_bath_runs_until_its_minutes_are_over_and_a_cleaned_entry_ends_it() -> None:
    entries: list[Entry] = [off(0, "plate", "brass", "dried grease"), off(1, "pinion", "steel", "dried grease")]
    (load,) = plan(on_the_bench(entries)).loads
    assert load.to_go == ("plate", "pinion")
    waits = begun(load, at=minute(10))
    assert {wait.until for wait in waits} == {minute(18)}  # 8 minutes a bath [watch-baths]

    (running,) = plan(on_the_bench([*entries, *waits], now=minute(12))).loads
    assert running.to_go == ()
    assert running.until == minute(18)
    assert [timer.is_over for timer in running.timers] == [False, False]

    (over,) = plan(on_the_bench([*entries, *waits], now=minute(18))).loads
    assert [timer.is_over for timer in over.timers] == [True, True]

    out = [entry.model_copy(update={"at": minute(19)}) for entry in ended(over, at=minute(19))]
    finished = plan(on_the_bench([*entries, *waits, *out], now=minute(20)))
    assert (finished.loads, finished.timers) == ((), ())
    assert len(finished.done) == 2


def test_the_last_rinse_is_entered_because_it_burns() -> None:
    """Isopropyl alcohol flashes at 12 °C [iec-60079-20-1]: whoever warms something on this job has to know of it."""
    entries: list[Entry] = [off(0, "plate", "brass", "dried grease"), off(1, "pinion", "steel", "dried grease")]
    waits = begun(plan(on_the_bench(entries)).loads[0], at=minute(10))
    (over,) = plan(on_the_bench([*entries, *waits], now=minute(18))).loads
    done = [(entry.part, entry.route) for entry in ended(over, at=minute(19)) if isinstance(entry, Cleaned)]
    assert done == [("plate", ULTRASONIC), ("pinion", ULTRASONIC), ("pinion", "last rinse, isopropyl alcohol")]


def test_cleaned_alone_ends_the_timer_too() -> None:
    entries: list[Entry] = [off(0, "plate", "brass", "dried grease")]
    waits = begun(plan(on_the_bench(entries)).loads[0], at=minute(1))
    cleaned = Cleaned(at=minute(3), part="plate", route=ULTRASONIC)
    assert plan(on_the_bench([*entries, *waits, cleaned], now=minute(4))).timers == ()


def test_a_part_in_the_bath_cannot_go_back_before_it_is_out(tmp_path: Path) -> None:
    """Through the rules of the journal and the store."""
    with create_workshop(tmp_path / "workshop") as workshop:
        here = on_the_bench([])
        job = workshop.take_in(here.job.owner, here.job.camera, here.job.visit)
        enter(workshop, job.id, off(0, "plate", "brass", "dried grease"), now=minute(1))
        for wait in begun(plan(job_now(workshop, job.id, now=minute(1))).loads[0], at=minute(1)):
            enter(workshop, job.id, wait, now=minute(1))
        soaking = job_now(workshop, job.id, now=minute(2))
        assert [item.part.name for item in soaking.way.waiting] == ["plate"]
        for entry in ended(plan(soaking).loads[0], at=minute(3), overruled="the dirt is off"):
            enter(workshop, job.id, entry, now=minute(3))
        out = job_now(workshop, job.id, now=minute(4))
        assert [step.part.name for step in out.way.steps] == ["plate"]
        assert plan(out).done


def test_hand_work_without_a_time_has_no_timer() -> None:
    (load,) = plan(on_the_bench([off(0, "bellows", "leather", "dust")])).loads
    assert load.batch.minutes is None
    assert begun(load, at=minute(1)) == ()


def test_what_cures_is_held_and_stands_among_the_timers() -> None:
    entries: list[Entry] = [
        off(0, "plate", "brass", "dried grease"),
        Awaited(at=minute(1), part="plate", awaiting="cement cures", until=minute(100)),
    ]
    made = plan(on_the_bench(entries, now=minute(50)))
    assert made.loads == ()
    assert [(task.part.name, task.held) for task in made.held] == [("plate", "cement cures")]
    assert [(timer.what, timer.until, timer.is_over) for timer in made.timers] == [("cement cures", minute(100), False)]
    assert plan(on_the_bench(entries, now=minute(100))).loads


def test_the_liquid_is_renewed_between_metals_that_bathe_apart() -> None:
    """[lab-detergent]: aluminium never shares a bath with other metals."""
    greasy: list[Entry] = [off(0, "plate", "brass", "dried grease"), off(1, "mount", "aluminium", "dried grease")]
    first, second = plan(on_the_bench(greasy)).loads
    assert first.batch.name == second.batch.name
    assert first.fresh is None
    assert second.fresh is not None
    assert second.fresh.source == "lab-detergent"
    (left,) = plan(on_the_bench([*greasy, Cleaned(at=minute(2), part="plate", route=ULTRASONIC)])).loads
    assert left.fresh is not None
    assert "plate" in left.fresh.text


# -- what nobody noted ------------------------------------------------------------------------------------------------


def test_what_nobody_described_is_not_known_yet_and_planned_as_likely() -> None:
    """Common practice: levers are brass or steel, nickelled, and oily."""
    made = plan(on_the_bench([Removed(at=minute(0), part="winding lever"), Removed(at=minute(1), part="gubbins")]))
    lever, gubbins = made.tasks
    assert (lever.route.name, gubbins.route.name) == ("not known yet", "not known yet")
    assert lever.likely is not None
    assert gubbins.likely is None
    assert [(load.batch.is_likely, load.batch.parts) for load in made.loads] == [(True, ("winding lever",))]
    assert begun(made.loads[0], at=minute(2)) == ()  # nothing goes in on a guess
    assert made.never_wet == ()
    assert made.minutes == made.likely_minutes > 0


def test_it_asks_once_for_what_lies_together_and_is_probably_alike() -> None:
    entries = [
        Removed(at=minute(n), part=part, assembly=assembly)
        for n, (part, assembly) in enumerate(
            (("gear train", "shutter"), ("speed train", "shutter"), ("cocking lever", "shutter"), ("top cover", None))
        )
    ]
    asked = [(question.assembly, question.parts) for question in plan(on_the_bench(entries)).questions]
    assert asked == [
        ("", ("top cover",)),
        ("shutter", ("gear train", "speed train")),
        ("shutter", ("cocking lever",)),
    ]


def test_one_description_answers_for_several_parts_whenever_it_is_entered() -> None:
    said = Described(at=minute(0), parts=("plate", "pinion"), material="brass", finish="none", soil=("dried grease",))
    before: list[Entry] = [said, Removed(at=minute(1), part="plate"), Removed(at=minute(2), part="pinion")]
    after = [*before[1:], said.model_copy(update={"at": minute(3)})]
    for entries in (before, after):
        made = plan(on_the_bench(entries))
        assert lines(made) == [(ULTRASONIC, ("plate", "pinion"))]
        assert made.questions == ()


def test_dirt_that_was_described_is_forgotten_when_the_part_goes_back_and_the_material_is_not() -> None:
    entries: list[Entry] = [
        off(0, "plate", "brass", "dried grease"),
        Refitted(at=minute(1), part="plate"),
        Removed(at=minute(2), part="plate"),
    ]
    (question,) = plan(on_the_bench(entries)).questions
    assert question.spec.material == "brass"
    assert question.spec.finish == "none"


def test_the_last_camera_of_the_variant_is_proposed_before_what_is_usual() -> None:
    earlier = [off(0, "winding lever", "zinc", "old oil", finish="chrome")]
    (question,) = plan(on_the_bench([Removed(at=minute(1), part="winding lever")], earlier=earlier)).questions
    assert (question.spec.material, question.spec.finish) == ("zinc", "chrome")
    assert "the last one of this variant" in question.origin


# -- never -------------------------------------------------------------------------------------------------------------


def test_parts_that_are_never_wetted_are_named_with_a_dry_process() -> None:
    """Common practice."""
    made = plan(on_the_bench([off(0, "meter movement", "brass", "dust"), off(1, "plate", "brass", "old oil")]))
    assert [task.part.name for task in made.never_wet] == ["meter movement"]
    assert all(load.batch.chemistry == "dry" for load in made.loads if "meter movement" in load.batch.parts)


def test_benzene_and_its_like_are_named_and_on_no_route() -> None:
    """From memory: the table of solvents."""
    made = plan(on_the_bench([off(0, "plate", "brass", "old oil")]))
    assert {"benzene", "carbon tetrachloride"} <= set(made.never)
    assert not {load.batch.chemistry for load in made.loads} & set(made.never)


# -- whole -------------------------------------------------------------------------------------------------------------


PARTS = st.lists(
    st.tuples(
        st.sampled_from(["brass", "steel", "aluminium", "leather", "unobtainium", None]),
        st.lists(st.sampled_from(["old oil", "dried grease", "light rust", "gloop"]), max_size=2),
        st.booleans(),
    ),
    max_size=6,
)


@given(PARTS)
def test_every_part_is_done_or_held_or_in_a_load_and_the_json_says_the_same(
    drawn: list[tuple[str | None, list[str], bool]],
) -> None:
    entries: list[Entry] = []
    for n, (material, soil, waits) in enumerate(drawn):
        entries.append(off(n, f"part {n}", material, *soil))
        if waits:
            entries.append(Awaited(at=minute(n + 0.5), part=f"part {n}", awaiting="a spare"))
    made = plan(on_the_bench(entries))
    loaded = {part for load in made.loads for part in load.batch.parts}
    for task in made.tasks:
        assert (task.part.name in loaded) == (task.left is not None and task.held is None)
        asked = [question for question in made.questions if task.part.name in question.parts]
        assert len(asked) == (not task.route.is_known and not task.is_done)
    data = plan_json(made)
    assert isinstance(data["parts"], list)
    assert len(data["parts"]) == len(drawn)
    assert data["minutes"] == pytest.approx(made.minutes)
    assert all(not timer.what.startswith(IN_THE_BATH) for timer in made.timers)


def test_the_plan_is_json() -> None:
    import json

    entries: list[Entry] = [off(0, "plate", "brass", "dried grease"), off(1, "mount", "aluminium", "dried grease")]
    waits = begun(plan(on_the_bench(entries)).loads[0], at=minute(2))
    data = plan_json(plan(on_the_bench([*entries, *waits], now=minute(3))))
    assert json.loads(json.dumps(data)) == data
    assert json.dumps(data).count("2026-03-02T09:10:00+00:00") == 3  # the load, its timer, the list of timers


# -- whole assemblies --------------------------------------------------------------------------------------------------


def test_a_shutter_is_no_whole_one_any_more_once_its_blades_are_out() -> None:
    """Common practice: the blades come out last. A cam ring alone does not make it empty."""
    shutter = off(0, "shutter", "brass", "gummed oil")
    cam = off(1, "cam ring", "steel", "old oil", assembly="shutter")
    blades = off(2, "shutter blades", "steel", "old oil", finish="blued", assembly="shutter")
    assert "bath" not in plan(on_the_bench([shutter, cam])).tasks[0].route.process
    assert plan(on_the_bench([shutter, cam, blades])).tasks[0].route.process == "ultrasonic bath"
    back: list[Entry] = [shutter, cam, blades, Refitted(at=minute(5), part="shutter blades")]
    assert "bath" not in plan(on_the_bench(back)).tasks[0].route.process


def test_a_question_names_the_word_that_nobody_knows() -> None:
    (question,) = plan(on_the_bench([off(0, "thing", "brass", "dried grease", finish="black paint, gloopy")])).questions
    assert question.strange == ("“gloopy” is not in the table",)
