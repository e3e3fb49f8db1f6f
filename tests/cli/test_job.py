"""A job by commands alone, and what each refuses."""

import json
import sqlite3
from contextlib import closing
from datetime import date, timedelta
from pathlib import Path

import pytest
from PIL import Image

from tests.cli.conftest import TAKE_IN, Shell


def test_a_small_job_goes_through_by_commands_alone(shell: Shell, tmp_path: Path) -> None:
    photo = tmp_path / "cover.png"
    Image.new("RGB", (4, 4)).save(photo)
    job = shell.take_in("48213", "--says", "slow speeds stick", "--accessory", "case")
    assert job == "J1"
    shell.run("set", job, "shutter=released", "focus=infinity")
    shell.run("caution", job, "speed dial", "detent ball jumps out", "--escapes")
    shell.run("want-mark", job, "speed dial", "dial against its stop")
    shell.run("remove", job, "top cover", "--screw", "3 x M1.7 x 4 cheese", "--cell", "A1", "--photo", str(photo))
    assert "not noted" in shell.run("remove", job, "speed dial", code=1).stderr
    shell.run("mark", job, "speed dial", "1/125 at the index, stop reached")
    shell.run(
        "remove", job, "speed dial", "--under", "top cover", "--shim", "2 x 0.05 mm under the dial", "--say", "ow"
    )
    shell.run("find", job, "speed dial", "spring weak", "--todo", "bend it")
    shell.run("aid-in", job, "tape on the blades")
    shell.run("remind", job, "speed dial", "new grease")
    shell.run("hold", job, "all speeds run", "--part", "top cover", "--needs", "speed dial")
    shell.run("cleaned", job, "speed dial", "soft dry brush")
    shell.run("adjust", job, "retard lever", "1/6 turn in", "--before", "flush")
    shell.run("note", job, "been in before")

    way = shell.read("refit", job)
    assert [step["part"] for step in way["steps"]] == ["speed dial", "top cover"]
    assert way["steps"][1]["after"] == [
        {"part": "speed dial", "reason": "top cover covers speed dial", "certain": True}
    ]
    refused = shell.run("refitted", job, "speed dial", "--all", code=1).stderr
    assert "new grease" in refused
    assert "spring weak: bend it" in refused
    assert "--overrule" in refused
    shell.run("answer", job, "grease", "done")
    shell.run("answer", job, "spring weak", "bent")
    assert "speed dial may close over it" in shell.run("refitted", job, "speed dial", "--all", code=1).stderr
    shell.run("refitted", job, "speed dial", "--all", "--overrule", "the blades are at the front")
    shell.run("answer", job, "all speeds", "run")
    shell.run("refitted", job, "top cover", "--screw", "2 x M1.7 x 4 cheese", code=1)
    shell.run("refitted", job, "top cover", "--screw", "2 x M1.7 x 4 cheese", "--overrule", "one sheared")

    against = shell.read("balance", job, code=1)["against"]
    assert {line["what"] for line in against} == {
        "top cover: 1 × screw M1.7 × 4 mm cheese not back",
        "the aid tape on the blades is still in",
    }
    assert "--overrule" not in shell.run("close", job, code=1).stderr
    shell.run("account", job, "top cover", "--because", "the sheared one is in the bag")
    shell.run("aid-out", job, "tape on the blades")
    shell.run("worked", job, "95", "serviced")
    shell.run("supply", job, "grease", "4,50", "--count", "2")
    assert shell.read("balance", job) == {"job": "J1", "is_zero": True, "against": []}
    shell.run("close", job)
    shell.run("hand-back", job, "Ines Marrow")
    assert shell.read("jobs")[0]["stage"] == "handed back"
    assert shell.read("variant", job)["order"][0]["part"] == "top cover"
    assert shell.run("verify").stdout == "everything is whole\n"


def test_the_next_camera_of_its_kind_opens_with_what_was_learned(shell: Shell, job: str) -> None:
    shell.run("caution", job, "speed dial", "detent ball jumps out", "--escapes")
    shell.run("mark", job, "speed dial", "1/125 at the index")
    shell.run("remove", job, "speed dial", "--shim", "1 x 0.1 under the dial")
    said = shell.run(*TAKE_IN, "--serial", "50001").stdout
    assert "next      speed dial, as in one earlier job" in said
    assert "detent ball jumps out" in said
    assert "1/125 at the index" in said
    refused = shell.run("remove", "J2", "speed dial", code=1).stderr.splitlines()
    assert len(refused) == 3  # mark not noted, nobody looked beneath, and how to overrule
    shell.run("mark", "J2", "speed dial", "1/60 at the index")
    shell.run("remove", "J2", "speed dial", "--looked")


def test_a_camera_seen_before_shows_its_earlier_visits(shell: Shell) -> None:
    shell.take_in("48213", "--says", "shutter sticks")
    shell.take_in("999")
    said = shell.run(*TAKE_IN, "--serial", "48213", "--overrule", "two jobs for one body").stdout
    assert "seen      J1" in said
    assert "shutter sticks" in said
    assert shell.read("job", "3")["earlier_visits"] == ["J1"]
    (camera,) = shell.read("history", "48213")
    assert [visit["id"] for visit in camera["visits"]] == ["J1", "J3"]


def test_every_part_that_is_off_stands_once_in_steps_or_waiting(shell: Shell, job: str) -> None:
    for part, under in (("cover", ()), ("dial", ("cover",)), ("shutter", ("dial",)), ("lens", ())):
        shell.run("remove", job, part, *(text for cover in under for text in ("--under", cover)))
    shell.run("wait", job, "shutter", "spring on order")
    way = shell.read("refit", job)
    assert set(way) >= {"job", "steps", "waiting", "owed"}
    assert set(way["steps"][0]) >= {"n", "part", "after", "fasteners", "shims", "marks", "reminders", "hold_points"}
    assert [step["part"] for step in way["steps"]] == ["lens"]
    assert {item["part"] for item in way["waiting"]} == {"shutter", "dial", "cover"}
    assert shell.read("jobs")[0]["stage"] == "waiting"
    text = shell.run("refit", job).stdout
    assert "spring on order" in text
    assert max(map(len, text.splitlines())) <= 80
    shell.run("arrived", job, "shutter")
    assert len(shell.read("refit", job)["steps"]) == 4


def test_parts_are_independent_once_somebody_says_so(shell: Shell, job: str) -> None:
    shell.run("remove", job, "front")
    shell.run("remove", job, "back")
    assert "assumed" in shell.run("refit", job).stdout
    shell.run("independent", job, "front", "back", "--because", "opposite ends")
    assert "assumed" not in shell.run("refit", job).stdout


def test_a_stated_order_is_kept_and_a_contradiction_refused(shell: Shell, job: str) -> None:
    shell.run("order", job, "cover", "shaft", "--because", "covers its screw")
    assert "cover comes off before shaft" in shell.run("remove", job, "shaft", code=1).stderr
    refused = shell.run("order", job, "shaft", "cover", "--because", "pins it", code=1).stderr
    assert "contradicts" in refused
    assert "--overrule" not in refused


def test_the_route_of_a_part_comes_with_its_reasons(shell: Shell, job: str) -> None:
    shell.run("remove", job, "name plate", "--material", "brass", "--finish", "paint fill", "--soil", "old oil")
    (part,) = shell.read("clean", job)["parts"]
    assert part["reasons"]
    assert all({"text", "source"} == set(reason) for reason in part["reasons"])
    assert "name plate" in shell.run("clean", job).stdout


def test_words_are_kept_to_the_letter(shell: Shell, job: str) -> None:
    words = "three screws, er, the — long one's at NE"
    shell.run("remove", job, "cover", "--say", words)
    assert json.loads(shell.run("journal", "export", job).stdout)["words"] == words
    assert "“three screws, er" in shell.run("journal", "list", job).stdout


def test_undo_strikes_out_the_last_and_can_itself_be_undone(shell: Shell, job: str) -> None:
    shell.run("remove", job, "cover")
    assert "undone    cover came off" in shell.run("undo", job, "--because", "wrong camera").stdout
    assert shell.read("job", job)["off"] == []
    undo = json.loads(shell.run("journal", "export", job).stdout.splitlines()[-1])["id"]
    shell.run("undo", job, undo[:12])
    assert [part["part"] for part in shell.read("job", job)["off"]] == ["cover"]
    assert "STRUCK OUT" in shell.run("journal", "list", job).stdout


def test_a_correction_puts_something_else_in_its_place(shell: Shell, job: str, tmp_path: Path) -> None:
    shell.run("remove", job, "cover", "--screw", "3 x M1.7 x 4 cheese")
    entry = json.loads(shell.run("journal", "export", job).stdout)["id"]
    becomes = tmp_path / "becomes.json"
    becomes.write_text('{"kind": "removed", "part": "top cover"}', encoding="utf-8")
    shell.run("correct", job, entry[:8], "--json-entry", str(becomes))
    assert [part["part"] for part in shell.read("job", job)["off"]] == ["top cover"]
    assert "line 2" in shell.run("correct", job, entry, "--json-entry", "-", stdin='{"kind":\n', code=2).stderr
    assert "thickness" in shell.run(
        "correct", job, entry, "--json-entry", "-", code=2,
        stdin='{"kind": "removed", "part": "x", "shims": [{"place": "NE", "count": 1, "thickness_mm": -1}]}',
    ).stderr  # fmt: skip
    assert "begins so" in shell.run("undo", job, "ffff", code=2).stderr
    assert "say which entry" in shell.run("undo", job, "", code=2).stderr  # a script's empty variable undoes nothing
    assert "begins so" in shell.run("correct", job, "ffff", "--json-entry", str(becomes), code=2).stderr


def test_an_entry_is_corrected_by_the_options_that_enter_it(shell: Shell, job: str) -> None:
    shell.run("remove", job, "cover", "--screw", "2 screws", "--lock", "shellac", "--say", "two of them")
    entry = json.loads(shell.run("journal", "export", job).stdout)["id"]
    shell.run("correct", job, entry[:8], "--screw", "3 x M1.7 x 4 cheese", "--screw", "a pin", "--lock", "")
    shell.run("correct", job, entry[:8], "--part", "top cover", "--looked", "yes", "--because", "misnamed")
    becomes = json.loads(shell.run("journal", "export", job).stdout.splitlines()[-1])["becomes"]
    assert becomes["part"] == "top cover"
    assert [each["count"] for each in becomes["fasteners"]] == [3, 1]
    assert becomes["looked_beneath"]
    assert becomes["words"] == "two of them"  # what is not given stays
    assert "locked_with" not in becomes  # an empty text takes it away
    assert [part["part"] for part in shell.read("job", job)["off"]] == ["top cover"]
    assert "--screw" in shell.run("correct", job, entry[:8], code=2).stderr
    assert "--screw" in shell.run("correct", job, entry[:8], "--screw", "some", code=2).stderr
    assert "No such option" in shell.run("correct", job, entry[:8], "--frobnicate", "3", code=2).stderr
    shell.run("undo", job, entry)
    assert "does not count" in shell.run("correct", job, entry[:8], "--cell", "A1", code=2).stderr


def test_a_part_does_not_come_off_twice(shell: Shell, job: str) -> None:
    shell.run("remove", job, "cover")
    refused = shell.run("remove", job, " COVER ", code=1).stderr
    assert "already off" in refused
    assert "--overrule" not in refused
    shell.run("remove", job, "cover", "--overrule", "I say so", code=1)


def test_a_refusal_leaves_the_journal_as_it_was(shell: Shell, job: str) -> None:
    shell.run("remove", job, "cover")
    before = shell.run("journal", "export", job).stdout
    shell.run("remove", job, "cover", code=1)
    shell.run("refitted", job, "lens", "--all", code=1)
    shell.run("answer", job, "nothing like it", "done", code=1)
    assert shell.run("journal", "export", job).stdout == before


def test_a_job_that_does_not_exist_is_named_with_one_that_does(shell: Shell, job: str) -> None:
    for command in (("job",), ("refit",), ("clean",), ("balance",), ("undo",), ("journal", "export"), ("close",)):
        refused = shell.run(*command, "J77", code=2).stderr
        assert "J77" in refused
        assert job in refused
    assert "48x" in shell.run("history", "48x", code=2).stderr


def test_a_day_to_come_is_refused(shell: Shell) -> None:
    tomorrow = (date.today() + timedelta(days=2)).isoformat()  # noqa: DTZ011  the day on this bench
    assert "in the future" in shell.run(*TAKE_IN, "--serial", "1", "--on", tomorrow, code=2).stderr
    assert not shell.folder.exists()
    shell.run(*TAKE_IN, "--serial", "1", "--on", "32.13.2020", code=2)


def test_whether_film_is_inside_must_be_said(shell: Shell) -> None:
    assert "--film" in shell.run(*TAKE_IN[:-1], "--serial", "1", code=2).stderr
    said = " ".join(shell.run(*TAKE_IN[:-1], "--film", "--serial", "1").stdout.split())
    assert "CAUTION   film inside" in shell.run(*TAKE_IN[:-1], "--film", "--serial", "2").stdout
    assert "may be nitrate: it burns fiercely" in said  # [jaic-30-02-003]


def test_film_that_nobody_knows_of_counts_as_inside_until_somebody_says(shell: Shell) -> None:
    said = shell.run(*TAKE_IN[:-1], "--film-not-known", "--serial", "1").stdout
    assert "may be inside" in " ".join(said.split())
    assert "film is inside" in shell.run("remove", "J1", "back", code=1).stderr
    assert "not known" in shell.run("job", "J1").stdout
    shell.run("intake", "J1", "--film", "no", "--because", "opened in the dark")
    shell.run("remove", "J1", "back")
    assert "--film" in shell.run(*TAKE_IN[:-1], "--film", "--film-not-known", "--serial", "2", code=2).stderr


def test_what_was_told_at_the_take_in_is_put_right_and_kept(shell: Shell, job: str) -> None:
    shell.run("intake", job, "--serial", "48231", "--contact", "555 0119", "--owner", "Ina Marrow")
    assert "no. 48231" in shell.run("job", job).stdout
    assert "555 0119" in shell.run("job", job).stdout
    kept = " ".join(shell.run("journal", "list", job).stdout.split())
    assert "serial number “48231”, not “" in kept
    assert "owner's name “Ina Marrow”, not “" in kept
    assert "nothing is different" in shell.run("intake", job, "--serial", "48231", code=2).stderr
    assert "blank" in shell.run("intake", job, "--serial", " ", code=2).stderr
    assert "everything is whole" in shell.run("verify").stdout


def test_a_camera_called_much_like_a_known_one_is_asked_about(shell: Shell) -> None:
    def taken(maker: str, model: str, serial: str, *more: str, code: int = 0) -> str:
        told = ("take-in", "--owner", "O", "--maker", maker, "--model", model, "--serial", serial, "--no-film", *more)
        found = shell.run(*told, code=code)
        return found.stdout + found.stderr

    taken("Velmont", "Klappa II", "72 118")
    for maker, model, serial in (
        ("velmnt", "Klappa II", "72118"),
        ("Velmont", "Klapa II", "9"),
        ("Velmont", "Klappa II", "72-1 18"),
    ):
        assert "did you mean Velmont Klappa II, no. 72 118, or is it new?" in taken(maker, model, serial, code=2)
    taken("Velmont", "Klappa II", "72119")  # the next number is another camera
    taken("Velmont", "Klappa I", "1")  # and so is the next model
    taken("velmnt", "Klappa II", "72118", "--new")
    assert len(shell.read("jobs")) == 4


def test_a_camera_taken_in_by_mistake_is_taken_back_while_nothing_is_entered(shell: Shell, job: str) -> None:
    shell.run(*TAKE_IN, "--serial", "2")
    shell.run("take-back", "J2")
    assert [each["id"] for each in shell.read("jobs")] == [job]
    shell.run("note", job, "x")
    assert "never thrown away" in shell.run("take-back", job, code=2).stderr
    assert "everything is whole" in shell.run("verify").stdout


@pytest.mark.parametrize("content", [b"", b"not a photo", b"\x89PNG\r\n\x1a\n" + b"\0" * 40])
def test_a_photo_that_is_none_is_refused_and_nothing_entered(
    shell: Shell, job: str, tmp_path: Path, content: bytes
) -> None:
    photo = tmp_path / "photo.jpg"
    photo.write_bytes(content)
    assert "photo.jpg" in shell.run("remove", job, "cover", "--photo", str(photo), code=2).stderr
    assert "absent.jpg" in shell.run("remove", job, "cover", "--photo", str(tmp_path / "absent.jpg"), code=2).stderr
    assert shell.run("journal", "export", job).stdout == ""


@pytest.mark.parametrize(
    ("args", "says"),
    [
        (("remove", "J1", "cover", "--screw", "3 x 4"), "3 x M1.7 x 4 cheese"),
        (("remove", "J1", "cover", "--shim", "0.1"), "1 x 0.10 NE corner"),
        (("remove", "J1", "cover", "--torque", "gorilla"), "torque"),
        (("remove", "J1", " "), "part"),
        (("remove", "J1", "x" * 121), "part"),
        (("note", "J1", ""), "note"),
        (("set", "J1", "shutter"), "shutter=released"),
        (("supply", "J1", "foam", "cheap"), "4.50"),
        (("supply", "J1", "foam", "1.005"), "4.50"),
        (("supply", "J1", "foam", "-1"), "No such option"),
        (("supply", "J1", "foam", "1e40"), "4.50"),
        (("note", "J1", "\udcff"), "note"),
        (("take-in", "--owner", "\udcff", "--maker", "a", "--model", "b", "--serial", "c", "--no-film"), "not text"),
        (("answer", "J1", "", "done"), "ENTRY: fill this in"),
        (("worked", "J1", "0", "nothing"), "minutes"),
        (("refitted", "J1", "cover", "--all", "--screw", "1 x M2"), "--all"),
        (("papers", "J1", "poem"), "certificate"),
        (("variant", "a", "b", "c", "d"), "quote"),
        (("variant", "", ""), "blank"),
        (("variant", "Orlmann", " "), "blank"),
        (("take-in", "--owner", " ", "--maker", "a", "--model", "b", "--serial", "c", "--no-film"), "owner"),
        ((*TAKE_IN, "--serial", "1", "--profile", "dream"), "dream"),
    ],
)
def test_what_cannot_be_understood_names_the_thing(shell: Shell, job: str, args: tuple[str, ...], says: str) -> None:
    refused = shell.run(*args, code=2).stderr
    assert says.casefold() in refused.casefold()
    assert shell.run("journal", "export", job).stdout == ""
    assert len(shell.read("jobs")) == 1


def test_a_command_needs_a_workshop_and_says_how_to_begin_one(shell: Shell) -> None:
    for command in (("jobs",), ("verify",), ("profiles",), ("serve",), ("note", "J1", "x")):
        refused = shell.run(*command, code=2).stderr
        assert str(shell.folder) in refused
        assert "take-in" in refused
    assert not shell.folder.exists()


def test_verify_names_what_is_wrong_and_takes_what_was_edited(shell: Shell, job: str, tmp_path: Path) -> None:
    shell.run("note", job, "as it came")
    (shell.folder / "workshop.toml").write_text('name = "Lindqvale Camera Bench"', encoding="utf-8")
    told = shell.run("verify", code=1).stdout
    assert told.startswith("workshop.toml: it was changed since it was accepted; restore it from a backup; if you")
    shell.run("back-up", str(tmp_path / "edited"))
    accepted = shell.run("verify", "--accept").stdout.splitlines()
    assert accepted == ["accepted: workshop.toml: it was changed since it was accepted", "everything is whole"]
    with closing(sqlite3.connect(shell.folder / "camerawright.sqlite")) as stranger, stranger:
        stranger.execute("DROP TRIGGER entry_stays")
        stranger.execute("DELETE FROM entry")
    for more in ((), ("--accept",)):
        assert "the journal of J1: it had 1 entry, and has 0" in shell.run("verify", *more, code=1).stdout
    assert "nothing was copied" in shell.run("back-up", str(tmp_path / "backup"), code=2).stderr
    assert "damaged: the journal of J1" in shell.run("back-up", str(tmp_path / "backup"), "--damaged").stdout
    database = shell.folder / "camerawright.sqlite"
    database.write_bytes(database.read_bytes()[:5000])
    assert "camerawright.sqlite" in shell.run("verify", code=1).stdout


def test_a_workshop_is_backed_up_and_restored(shell: Shell, job: str, tmp_path: Path) -> None:
    shell.run("remove", job, "cover")
    backup, restored = tmp_path / "backup", tmp_path / "restored"
    shell.run("back-up", str(backup))
    assert "something of that name" in shell.run("back-up", str(backup), code=2).stderr
    shell.run("restore", str(backup), str(restored))
    assert "not an empty folder" in shell.run("restore", str(backup), str(restored), code=2).stderr
    again = Shell(restored)
    assert again.run("journal", "export", job).stdout == shell.run("journal", "export", job).stdout


def test_the_profiles_are_listed(shell: Shell, job: str) -> None:
    assert shell.run("profiles").stdout.splitlines()[-1].startswith("user")


def test_papers_are_pdf_files_named_after_the_job(
    shell: Shell, job: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    shell.run("remove", job, "cover")
    shell.run("worked", job, "30", "looked at it")
    assert shell.run("papers", "1", "refit").stdout == "J1-refit.pdf\n"
    assert (tmp_path / "J1-refit.pdf").read_bytes().startswith(b"%PDF")
    shell.run("papers", job, "bill", "-o", "bill.pdf")
    assert sorted(path.suffix for path in tmp_path.glob("*.*")) == [".pdf", ".pdf"]
    assert "measured" in shell.run("papers", job, "certificate", code=2).stderr
    assert "absent" in shell.run("papers", job, "bill", "-o", str(tmp_path / "absent" / "bill.pdf"), code=2).stderr


def test_a_camera_whose_job_is_open_is_not_taken_in_twice_without_a_word(shell: Shell, job: str) -> None:
    take_in = (*TAKE_IN, "--serial", "48213")
    assert "J1 of this very camera is not handed back" in shell.run(*take_in, code=2).stderr
    assert len(shell.read("jobs")) == 1
    shell.run(*take_in, "--overrule", "the owner brought a second body of that number")
    listed = " ".join(shell.run("journal", "list", "J2").stdout.split())
    assert "taken in while J1 of this camera was open: the owner brought a second body of that number" in listed
    assert job == "J1"


def test_the_caution_of_a_part_stands_at_its_removal(shell: Shell) -> None:
    """Also on the first strip-down (common practice)."""
    job = shell.take_in()
    assert "300 V or more" in shell.run("remove", job, "flash capacitor", code=1).stderr
    said = shell.run("remove", job, "flash capacitor", "--overrule", "let down: 0 V measured").stdout
    assert "CAUTION" in said
    assert "can kill" in " ".join(said.split())
    assert "Selenium dust" in " ".join(shell.run("remove", job, "selenium cell").stdout.split())
