"""The cleaning plan and the lubrication chart by commands."""

from datetime import datetime, timedelta
from typing import get_args

import pytest

from camerawright.journal.entries import Amount
from tests.cli.conftest import Shell

BRASS = ("--material", "brass", "--finish", "none", "--soil", "old oil")


@pytest.fixture
def stripped(shell: Shell, job: str) -> str:
    """A job with a part for a bath and one that no liquid may touch."""
    shell.run("remove", job, "gear", *BRASS, "--cell", "A1")
    shell.run("remove", job, "bellows", "--material", "leather")
    return job


def _bath(shell: Shell, job: str) -> dict[str, object]:
    (load,) = [load for load in shell.read("clean", job)["loads"] if "gear" in load["parts"]]
    return dict(load)


def test_every_part_that_is_off_has_its_turns_and_leather_is_never_wet(shell: Shell, stripped: str) -> None:
    plan = shell.read("clean", stripped)
    assert [part["part"] for part in plan["parts"]] == ["gear", "bellows"]
    assert plan["never_wet"] == ["bellows"]  # common practice
    for part in plan["parts"]:
        assert all(any(turn == load["name"] for load in plan["loads"]) for turn in part["turns"])
        assert all({"text", "source"} == set(reason) for reason in part["reasons"])
    assert "benzene" in plan["never"]
    said = shell.run("clean", stripped).stdout
    assert "part      gear, cell A1" in said
    assert "Never wet\n    bellows" in said
    assert "Never use\n    benzene" in said
    assert max(map(len, said.splitlines())) <= 80


def test_a_batch_goes_in_its_timer_runs_and_it_comes_out_clean(shell: Shell, stripped: str) -> None:
    bath = _bath(shell, stripped)
    n, name = str(bath["n"]), str(bath["name"])
    assert "nothing is in" in shell.run("batch-out", stripped, n, code=2).stderr
    before = datetime.now().astimezone()
    shell.run("batch-in", stripped, n)
    after = _bath(shell, stripped)
    assert after["to_go"] == []
    minutes, until = bath["minutes"], after["until"]
    assert isinstance(minutes, float | int)
    assert isinstance(until, str)
    assert timedelta(0) <= datetime.fromisoformat(until) - before - timedelta(minutes=minutes) < timedelta(minutes=1)
    assert "gear, until" in shell.run("clean", stripped).stdout
    assert f"gear: in the bath: {name}" in shell.run("resume", stripped).stdout
    assert "is in" in shell.run("batch-in", stripped, n, code=2).stderr
    assert "min in the bath so far" in shell.run("batch-out", stripped, n, code=1).stderr
    shell.run("batch-out", stripped, n, "--overrule", "the dirt is off")
    (gear,) = [part for part in shell.read("clean", stripped)["parts"] if part["part"] == "gear"]
    assert gear["cleaned"] == [name]
    assert shell.read("resume", stripped)["timers"] == []


def test_hand_work_without_a_time_is_entered_part_by_part(shell: Shell, stripped: str) -> None:
    (brush,) = [load for load in shell.read("clean", stripped)["loads"] if load["parts"] == ["bellows"]]
    assert "has no time of its own" in shell.run("batch-in", stripped, str(brush["n"]), code=2).stderr
    shell.run("cleaned", stripped, "bellows", brush["name"])
    assert f"Cleaned\n    bellows: {brush['name']}" in shell.run("clean", stripped).stdout
    assert "the plan has 1" in shell.run("batch-in", stripped, "2", code=2).stderr


def test_what_nobody_described_is_asked_for_with_the_command_that_says_it(shell: Shell, job: str) -> None:
    """Common practice: a lever is brass or steel, nickelled and oily."""
    shell.run("remove", job, "lever")
    (asked,) = shell.read("clean", job)["questions"]
    assert asked["parts"] == ["lever"]
    (load,) = shell.read("clean", job)["loads"]
    assert load["likely"]
    said = " ".join(shell.run("clean", job).stdout.split())
    assert "Not known yet" in said
    assert f'camerawright describe {job} "lever" --material "brass, steel"' in said
    assert "rests on a guess" in shell.run("batch-in", job, "1", code=2).stderr
    shell.run("describe", job, "lever", "--material", "brass", "--finish", "none", "--soil", "old oil")
    plan = shell.read("clean", job)
    assert plan["questions"] == []
    assert not plan["loads"][0]["likely"]
    assert plan["parts"][0]["known"]


def test_the_cautions_stand_where_the_batch_goes_in(shell: Shell, job: str) -> None:
    """[niosh-npg-0492]; the product's sheet: common practice."""
    described = ("--material", "brass, aluminium", "--finish", "none", "--soil", "dried grease")
    shell.run("remove", job, "helicoid", *described)
    said = " ".join(shell.run("batch-in", job, "1").stdout.split())
    assert "naphtha flashes at -40 °C" in said
    assert "safety data sheet, local rules and licensed practice" in said


def test_nothing_off_is_nothing_to_clean(shell: Shell, job: str) -> None:
    assert "nothing to clean" in shell.run("clean", job).stdout
    assert shell.read("clean", job)["loads"] == []
    assert "nothing is to be cleaned" in shell.run("batch-in", job, "1", code=2).stderr


def test_what_a_point_got_is_in_the_chart_and_what_is_due_stays_until_then(shell: Shell, stripped: str) -> None:
    shell.run("remove", stripped, "helicoid")
    (due,) = shell.read("lubrication", stripped, "--due")["points"]
    assert (due["part"], due["standing"], due["origin"]) == ("helicoid", "due", "handbook")
    assert "(due)" in shell.run("lubrication", stripped).stdout
    shell.run("lubricated", stripped, "helicoid", due["point"], due["amount"], "--lubricant", due["lubricant"])
    assert shell.read("lubrication", stripped, "--due")["points"] == []
    assert "Nothing is due." in shell.run("lubrication", stripped, "--due").stdout
    shell.run("lubricated", stripped, "bellows", "front ring", "Dry")
    (ring,) = [point for point in shell.read("lubrication", stripped)["points"] if point["point"] == "front ring"]
    assert (ring["amount"], ring["standing"], ring["origin"]) == ("dry", "stays dry", "here")
    assert "front ring                DRY" in shell.run("lubrication", stripped).stdout


def test_an_amount_is_one_of_the_four_words(shell: Shell, job: str) -> None:
    refused = shell.run("lubricated", job, "gear", "pivots", "plenty", code=2).stderr
    said = shell.run("lubricated", "--help").stdout.casefold()
    for word in get_args(Amount):
        assert word in refused
        assert word in said
