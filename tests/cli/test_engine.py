"""The strip-down and refit engine by commands: state, springs, loose parts, ladders, ledgers, reach, resume."""

import json
import math
import re
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
import typer.main
from typer.testing import CliRunner

from camerawright.cli.app import app
from camerawright.papers.catalogue import PAPERS
from tests.cli.conftest import TAKE_IN, Shell

DOCS = Path(__file__).parents[2] / "docs" / "commands.md"
TOMORROW = (datetime.now().astimezone() + timedelta(days=1)).strftime("%Y-%m-%d")


def test_a_part_moves_only_in_the_state_it_needs(shell: Shell, job: str) -> None:
    shell.run(
        "needs-state", job, "dial", "shutter=released", "--because", "the rack meshes only then", "--moves", "both"
    )
    shell.run(
        "needs-state",
        job,
        "lens",
        "focus=infinity",
        "--new",
        "--because",
        "one thread start of many",
        "--moves",
        "Refit",
    )
    refused = shell.run("remove", job, "dial", code=1).stderr
    assert "it is not noted: the rack meshes only then" in refused
    shell.run("set", job, "shutter=cocked")
    assert "it is cocked" in shell.run("remove", job, "dial", code=1).stderr
    shell.run("set", job, "Shutter=released")
    shell.run("remove", job, "dial")
    shell.run("remove", job, "lens")
    shell.run("set", job, "shutter=cocked")
    way = shell.run("refit", job).stdout
    assert "set first shutter released: the rack meshes only then" in way
    assert "set first focus infinity: one thread start of many" in way
    assert "focus infinity" in shell.run("refitted", job, "lens", "--all", code=1).stderr


def test_turns_let_down_are_owed_until_they_are_put_back(shell: Shell, job: str) -> None:
    shell.run("let-down", job, "opening curtain", "4 1/2", "anticlockwise", "--from", "released, drum at its stop")
    assert "springs let down 1" in shell.run("job", job).stdout
    assert "4.5 turns clockwise to put back" in shell.run("ledger", job).stdout
    shell.run("tension", job, "opening curtain", "4", "clockwise")
    assert "0.5 turns" in shell.run("balance", job, code=1).stdout
    shell.run("tension", job, "opening curtain", "0.5", "clockwise")
    assert shell.read("ledger", job)["springs"] == []
    assert shell.read("balance", job)["is_zero"]


def test_loose_parts_are_out_until_they_are_back(shell: Shell, job: str) -> None:
    shell.run("caution", job, "dial", "detent ball jumps out", "--frees", "ball")
    assert "ball gets loose" in shell.run("remove", job, "dial", code=1).stderr
    shell.run("remove", job, "dial", "--loose", "2 x ball 1.5 mm at the rim", "--screw", "1 x M1.4", "--cell", "B2")
    assert "loose parts out 2" in shell.run("job", job).stdout
    (ball,) = [line for line in shell.read("ledger", job)["lines"] if line["kind"] == "loose part"]
    assert (ball["what"], ball["cell"], ball["out"], ball["open"]) == ("ball 1.5 mm, the rim", "B2", 2, 2)
    assert "loose     2 × ball 1.5 mm at the rim" in shell.run("refit", job).stdout
    one = ("refitted", job, "dial", "--screw", "1 x M1.4", "--loose", "1 x ball 1.5 mm at the rim")
    assert "2 × ball 1.5 mm, the rim came out, 1 going back" in shell.run(*one, code=1).stderr
    shell.run(*one, "--overrule", "one is worn flat")
    assert [line["open"] for line in shell.read("ledger", job, "--open")["lines"]] == [1]
    shell.run("undo", job)
    shell.run("refitted", job, "dial", "--all")
    assert shell.read("ledger", job, "--open")["lines"] == []
    assert "everything is back" in shell.run("ledger", job, "--open").stdout


def test_out_less_back_less_accounted_for_is_open_in_every_line(shell: Shell, job: str) -> None:
    shell.run("remove", job, "cover", "--screw", "3 x M1.7 x 4 cheese", "--shim", "1 x 0.1 NE")
    shell.run("remove", job, "dial", "--screw", "2 x M1.4")
    shell.run("refitted", job, "dial", "--all")
    shell.run("refitted", job, "cover", "--screw", "2 x M1.7 x 4 cheese", "--overrule", "one sheared, shim lost")
    book = shell.read("ledger", job)
    assert book["open"] == {"screw": 1, "shim": 1, "loose part": 0, "lead": 0}
    shell.run("account", job, "cover", "--because", "in the bag")
    book = shell.read("ledger", job)
    assert book["open"] == {"screw": 0, "shim": 0, "loose part": 0, "lead": 0}
    for line in book["lines"]:
        assert line["open"] == line["out"] - line["back"] - line["accounted_for"] == 0
    assert len(shell.run("ledger", job).stdout.splitlines()) == 3 + len(book["lines"])  # state, blank, heading


def _timed_strip(shell: Shell, job: str, minutes: dict[str, float]) -> None:
    """A strip-down whose removals took so long each. [min]"""
    at = datetime(2026, 3, 2, 9, tzinfo=UTC)
    entries: list[dict[str, object]] = [{"kind": "noted", "at": at.isoformat(), "note": "begun"}]
    for part, took in minutes.items():
        at += timedelta(minutes=took)
        entries.append({"kind": "removed", "at": at.isoformat(), "part": part})
    shell.run("journal", "import", job, "-", stdin="\n".join(map(json.dumps, entries)))


def test_reaching_a_part_names_the_smallest_set_and_its_time_with_the_spread(shell: Shell) -> None:
    """By hand: times of 10 and 20 min, of 4 and 8 min; s²(1 + 1/2) is 75 and 12 min² (JCGM 100:2008, 5.1.2)."""
    for serial, cover, dial in (("1", 10, 4), ("2", 20, 8)):
        job = shell.take_in(serial)
        shell.run("order", job, "cover", "dial", "--because", "covers its screw")
        shell.run("caution", job, "cover", "hook underneath")
        shell.run("irreplaceable", job, "dial", "--because", "engraved")
        _timed_strip(shell, job, {"cover": cover, "dial": dial, "back": 5})
    job = shell.take_in("3")
    found = shell.read("reach", job, "dial")
    assert [(part["part"], part["certain"]) for part in found["parts"]] == [("cover", True), ("dial", True)]
    assert found["parts"][0]["reason"] == "covers its screw"
    assert found["parts"][0]["cautions"] == ["hook underneath"]
    assert found["minutes"] == pytest.approx(21)
    assert found["u_minutes"] == pytest.approx(math.sqrt(87))
    said = shell.run("reach", job, "dial").stdout
    assert "21.0 min, standard uncertainty 9.3 min" in said
    assert "cannot be had again: engraved" in said
    assert "assumed" not in said
    assert "every time, assumed" in shell.run("reach", job, "back").stdout
    shell.run("order", job, "back", "cover", "--because", "hides a screw here")
    assert [part["part"] for part in shell.read("reach", job, "dial")["parts"]] == ["back", "cover", "dial"]
    shell.run("remove", job, "back")
    assert [part["part"] for part in shell.read("reach", job, "dial")["parts"]] == ["cover", "dial"]
    assert "back is off already" in shell.run("reach", job, "back").stdout
    assert "known: cover, dial, back" in shell.run("reach", job, "bellows", code=2).stderr


def test_a_check_stands_where_a_failure_costs_least_and_says_what(shell: Shell, job: str) -> None:
    for part, under in (("cover", ()), ("dial", ("cover",)), ("shutter", ("dial",))):
        shell.run("remove", job, part, *(text for over in under for text in ("--under", over)))
    shell.run("hold", job, "all speeds run", "--needs", "shutter")
    said = shell.run("refit", job).stdout
    assert re.search(r"1  shutter(?s:.*)check     all speeds run \[\w{8}\]\n(?s:.*)2  dial", said)
    assert "if it fails  nothing has to come off again; at the end, 2 parts would" in said
    assert "all speeds run" in shell.run("refitted", job, "shutter", "--all").stdout
    shell.run("undo", job)
    shell.run("wait", job, "shutter", "main spring")
    assert "all speeds run, once back: shutter" in shell.run("refit", job).stdout


def test_what_is_built_on_the_bench_stands_under_its_heading(shell: Shell, job: str) -> None:
    for part in ("plate", "shutter", "bellows", "blades"):
        shell.run("remove", job, part)
    shell.run("contains", job, "shutter", "blades", "cam")
    shell.run("last", job, "plate", "--because", "it hides the adjusters")
    said = shell.run("refit", job).stdout
    wanted = ["Shutter, on the bench", "Rest of the camera", "On last"]
    assert [line for line in said.splitlines() if line in wanted] == wanted
    assert "built     on the bench, step 1" in said
    assert [step["sub_assembly"] for step in shell.read("refit", job)["steps"]] == [
        "shutter, on the bench",
        "rest of the camera",
        "rest of the camera",
        "on last",
    ]


def test_a_wait_with_an_end_is_over_by_itself_and_one_in_the_past_is_a_slip(shell: Shell, job: str) -> None:
    shell.run("remove", job, "bellows")
    assert (
        "2020-01-01 00:00 is past" in shell.run("wait", job, "bellows", "glue", "--until", "2020-01-01", code=1).stderr
    )
    for day, slip in (("0001-01-01", "is not a moment"), ("9999-12-31", "between 1900 and 2200")):
        assert slip in shell.run("wait", job, "bellows", "glue", "--until", day, code=2).stderr
    shell.run("wait", job, "bellows", "glue cures", "--until", f"{TOMORROW} 09:30")
    assert f"must still wait until {TOMORROW} 09:30" in shell.run("refitted", job, "bellows", "--all", code=1).stderr
    (timer,) = shell.read("resume", job)["timers"]
    assert datetime.fromisoformat(timer["until"]).astimezone().strftime("%Y-%m-%d %H:%M") == f"{TOMORROW} 09:30"
    assert not timer["over"]


def test_the_resume_card_says_what_is_loose_what_must_not_move_and_what_was_last(shell: Shell, job: str) -> None:
    shell.run("caution", job, "dial", "it springs up", "--frees", "click spring")
    shell.run("remove", job, "dial", "--overrule", "the spring stays hooked")
    shell.run("aid-in", job, "tape", "--place", "on the blades")
    shell.run("let-down", job, "main spring", "3", "clockwise")
    card = shell.read("resume", job)
    assert card["loose"] == ["click spring (free since dial came off)"]
    assert card["do_not_move"] == ["tape: on the blades", "main spring: 3 turns are owed to it"]
    assert card["next_step"] == "goes back next: dial, if nothing more comes off"
    assert [entry["kind"] for entry in card["last"]] == ["tension", "aid fitted", "removed", "cautioned"]
    said = shell.run("resume", job).stdout
    for text in ("click spring (free", "tape: on the blades", "goes back next: dial", "it springs up"):
        assert text in said


def test_the_ladder_waits_while_it_soaks_and_stops_when_it_got_worse(shell: Shell, job: str) -> None:
    ladder = ("ladder", job, "cover", "--screw", "NE screw", "--material", "steel", "--material", "brass")
    first = shell.read(*ladder)
    assert (first["verdict"], first["rung"]) == ("try", "clean the slot")
    assert all({"text", "source"} == set(reason) for reason in first["how"])
    attempt = ("tried", job, "cover", "NE screw", "Solvent and wait")
    shell.run(*attempt, "no change", "--wait", "30 min")
    assert shell.read(*ladder)["verdict"] == "wait"
    assert "to be left alone until" in shell.run(*attempt, "no change", code=1).stderr
    shell.run(*attempt, "worse", "--overrule", "it began to turn by itself")
    assert shell.read(*ladder)["verdict"] == "stop"
    assert shell.run(*ladder).stdout.startswith("STOP")
    assert "got worse" in shell.run(*attempt, "moved", code=1).stderr
    assert shell.read(*ladder[:4], "SW screw", *ladder[5:])["verdict"] == "try"  # another fastener, another ladder


def test_conflicts_after_a_merge_are_shown_wherever_the_job_stands(shell: Shell, job: str, tmp_path: Path) -> None:
    other = Shell(tmp_path / "other")
    other.run("remove", other.take_in(), "dial")
    shell.run("remove", job, "dial")
    branch = other.run("journal", "export", "J1").stdout
    assert "CONFLICT" in shell.run("journal", "import", job, "-", stdin=branch).stdout
    for command in ("job", "refit", "resume", "ledger"):
        assert "CONFLICT" in shell.run(command, job).stdout
    assert "CONFLICT" in shell.run("balance", job, code=1).stdout
    assert "CONFLICT" in shell.run("note", job, "merged").stdout
    assert shell.read("resume", job)["conflicts"] == shell.read("job", job)["conflicts"] != []


def test_a_decision_on_a_finding_is_owed_like_a_reminder(shell: Shell, job: str) -> None:
    shell.run("find", job, "cover", "a screw too long", "--nature", "Foreign fastener", "--decision", "replace")
    shell.run("find", job, "cover", "a slot marred", "--nature", "deformed fastener", "--decision", "reuse knowingly")
    assert [owed["what"] for owed in shell.read("job", job)["owed"]] == ["a screw too long: replace"]


def test_a_reminder_with_a_day_waits_for_it(shell: Shell, job: str) -> None:
    shell.run("remind", job, "closing", "fire it after its rest", "--due", TOMORROW, "--test", "shutter")
    assert f"not before {TOMORROW}" in shell.run("answer", job, "rest", "fires", code=1).stderr


def test_how_a_part_hangs_on_another_is_kept(shell: Shell, job: str) -> None:
    shell.run("order", job, "cover", "ratchet", "--because", "keeps it down", "--bond", "Springs free when")
    assert json.loads(shell.run("journal", "export", job).stdout)["bond"] == "springs free when"


def test_what_belongs_together_and_the_tool_that_fits_are_kept(shell: Shell, job: str) -> None:
    shell.run("remove", job, "cover", "--assembly", "top", "--tool", "1.2 mm driver")
    entry = json.loads(shell.run("journal", "export", job).stdout)
    assert (entry["assembly"], entry["tool"]) == ("top", "1.2 mm driver")
    assert "tool      1.2 mm driver" in shell.run("refit", job).stdout


def test_an_irreplaceable_part_is_said_when_it_goes_back_and_no_other_goes_in(shell: Shell, job: str) -> None:
    shell.run("irreplaceable", job, "front cell", "--because", "the glass is no longer melted")
    shell.run("remove", job, "front cell")
    assert "cannot be had again: the glass" in shell.run("refit", job).stdout
    assert "goes in" in shell.run("refitted", job, "front cell", "--all", "--replacement", "donor J4", code=1).stderr
    assert "cannot be had again: the glass" in shell.run(*TAKE_IN, "--serial", "2").stdout


def test_two_bodies_of_a_variant_are_compared(shell: Shell, job: str) -> None:
    for part, screws in (("cover", 3), ("dial", 1)):
        shell.run("remove", job, part, "--screw", f"{screws} x M1.7")
    other = shell.take_in("2")
    shell.run("remove", other, "cover", "--screw", "4 x M1.7")
    assert shell.read("differences", job, other) == {
        "a": job,
        "b": other,
        "differences": [
            {"kind": "part", "part": "dial", "a": "came off", "b": "not in the journal"},
            {"kind": "screw", "part": "cover", "a": "3 × M1.7", "b": "4 × M1.7"},
        ],
    }
    assert "J2    4 × M1.7" in shell.run("differences", job, other).stdout
    assert "do not differ in anything" in shell.run("differences", job, job).stdout
    assert "3 to 4 × screw M1.7" in shell.run("variant", other).stdout
    assert "J9" in shell.run("differences", job, "J9", code=2).stderr


@pytest.mark.parametrize(
    ("args", "says"),
    [
        (("needs-state", "J1", "dial", "shutter", "--because", "x"), "shutter=released"),
        (("needs-state", "J1", "dial", "a=b", "--because", "x", "--moves", "never"), "--moves"),
        (("needs-state", "J1", "dial", "a=b"), "--because"),
        (("let-down", "J1", "spring", "4"), "DIRECTION"),
        (("let-down", "J1", "spring", "0", "clockwise"), "TURNS: give more than 0"),
        (("tension", "J1", "spring", "nan", "clockwise"), "turns"),
        (("tension", "J1", "spring", "some", "clockwise"), "TURNS"),
        (("tried", "J1", "lens", "NE", "hammer", "worse"), "RUNG"),
        (("tried", "J1", "lens", "NE", "heat", "good"), "OUTCOME"),
        (("tried", "J1", "lens", "NE", "heat", "moved", "--wait", "-5"), "--wait"),
        (("order", "J1", "a", "b", "--because", "x", "--bond", "glued to"), "bond"),
        (("find", "J1", "a", "b", "--nature", "odd"), "nature"),
        (("find", "J1", "a", "b", "--decision", "weep"), "decision"),
        (("remove", "J1", "a", "--loose", "balls"), "1 x ball 1.5 mm"),
        (("refitted", "J1", "a", "--all", "--loose", "1 x ball"), "--loose"),
        (("remind", "J1", "closing", "x", "--due", "soon"), "--due"),
        (("irreplaceable", "J1", " ", "--because", "x"), "PART: fill this in"),
        (("ladder", "J1", "a", "--screw", "x", "--hand", "both"), "--hand"),
        (("ladder", "J1", "a", "--screw", "x", "--diameter", "0"), "--diameter"),
    ],
)
def test_what_cannot_be_entered_names_the_thing(shell: Shell, job: str, args: tuple[str, ...], says: str) -> None:
    assert says in shell.run(*args, code=2).stderr
    assert shell.run("journal", "export", job).stdout == ""


def test_every_word_that_a_field_takes_is_in_the_help_of_its_command() -> None:
    from typing import get_args

    from camerawright.journal.kinds import binding, care, strip_down

    fields = {
        "remove": (strip_down.Torque,),
        "find": (strip_down.Nature, strip_down.Decision),
        "order": (binding.Bond,),
        "tried": (strip_down.Rung, strip_down.Outcome),
        "lubricated": (care.Amount,),
    }
    for command, kinds in fields.items():
        said = " ".join(CliRunner().invoke(app, [command, "--help"]).stdout.casefold().split())
        for kind in kinds:
            for word in get_args(kind):
                assert word in said, f"{command}: {word}"


def test_the_papers_are_listed_and_documented(shell: Shell, job: str) -> None:
    assert shell.run("papers", job).stdout.split() == list(PAPERS)
    section = DOCS.read_text(encoding="utf-8").split("\n### `papers")[1].split("\n### ")[0]
    for name in PAPERS:
        assert re.search(rf"\b{name}[,.]", section), name


def test_the_help_lists_every_command_once_under_the_headings_of_the_docs() -> None:
    said = CliRunner().invoke(app, ["--help"], terminal_width=78).stdout  # a terminal of 80 less its margin
    listed = said.split("Show this message and exit.")[1]
    headings = re.findall(r"^(\w.*):$", listed, re.M)
    assert headings == re.findall(r"^## (.*)$", DOCS.read_text(encoding="utf-8"), re.M)
    commands = re.findall(r"^  ([\w-]+) {2}", listed, re.M)
    group = typer.main.get_command(app)
    assert sorted(commands) == sorted(getattr(group, "commands"))  # noqa: B009 a group, to its maker
    assert "..." not in listed
    assert max(map(len, listed.splitlines())) <= 80
