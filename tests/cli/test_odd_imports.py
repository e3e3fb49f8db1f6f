"""Lines that no form or measurement would have let in: each is refused with its line, and nothing is taken in."""

import hashlib
import json
from typing import Any

import pytest

from camerawright.bench import codec
from camerawright.bench.catalogue import CATALOGUE
from camerawright.handbook.tolerances import DEFAULT, find_profile
from tests.bench.stored import leaves
from tests.cli.conftest import Shell

AT = "2026-03-02T09:00:00Z"
RECORDING = hashlib.sha256(b"a recording").hexdigest()


@pytest.fixture(scope="module")
def reading() -> dict[str, Any]:
    """A whole reading, as a journal file has it."""
    test = CATALOGUE[0]
    result = codec.written(test.run(test.simulate(1), "1/60", find_profile(DEFAULT)))
    return {
        "kind": "measured", "id": "a" * 32, "at": AT, "test": test.name, "phase": "as found", "method": test.method,
        "setup": {"marked": "1/60", "options": {}, "input": "Line In", "profile": "user", "file": "a.wav"},
        "result": json.loads(json.dumps(result)), "recording": RECORDING,
    }  # fmt: skip


def _with(reading: dict[str, Any], path: str, value: Any) -> dict[str, Any]:
    """A copy with another value at a path: ``result/firings/0/at_s``; None takes it out."""
    copy = json.loads(json.dumps(reading))
    *way, last = (int(step) if step.isdecimal() else step for step in path.split("/"))
    at = copy
    for step in way:
        at = at[step]
    if value is None:
        del at[last]
    else:
        at[last] = value
    return dict(copy)


ODD_READINGS: list[tuple[str, Any, str]] = [
    ("test", "palmistry", "there is no bench test palmistry"),
    ("setup/marked", "midnight", "setup.marked"),
    ("setup/marked", 60, "setup.marked: it is no text"),
    ("setup/options", ["x"], "setup.options"),
    ("setup/options", {"sensor": 5}, "setup.options"),
    ("setup/options", {"phase of the moon": "full"}, "phase of the moon"),
    ("setup/words", {"a": 1}, "setup.words"),
    ("result/test", "sync", "result: "),
    ("result/firings", None, "result: "),
    ("result/firings", "many", "result: "),
    ("result/firings", {}, "result: "),
    ("result/firings/0/at_s", "soon", "result: "),
    ("result/firings/0/at_s", True, "result: "),
    ("result/firings/0/at_s", 10**400, "result: "),
    ("result/firings/0/flags", "late", "result: "),
    ("result/firings/0/flags", [5], "result: "),
    ("result/firings/0/has_plateau", "no", "result: "),
    ("result/figures/0/u", "much", "result: "),
    ("result/flags", [["nested"]], "result: "),
    ("recording", "f" * 63, "recording"),
    ("phase", "as hoped", "phase"),
]


@pytest.mark.parametrize(("path", "value", "says"), ODD_READINGS)
def test_a_reading_that_is_none_of_its_test_is_refused(
    shell: Shell, job: str, reading: dict[str, Any], path: str, value: Any, says: str
) -> None:
    odd = json.dumps(_with(reading, path, value))
    refused = shell.run("journal", "import", job, "-", stdin=odd, code=2).stderr
    assert "line 1" in refused
    assert says in refused
    assert shell.run("journal", "export", job).stdout == ""


def _keep(shell: Shell) -> None:
    """The file that the lines refer to is where the refusal wants it."""
    (shell.folder / "media" / RECORDING[:2]).mkdir()
    (shell.folder / "media" / RECORDING[:2] / RECORDING).write_bytes(b"a recording")


def test_a_whole_reading_is_taken_in(shell: Shell, job: str, reading: dict[str, Any]) -> None:
    _keep(shell)
    assert shell.run("journal", "import", job, "-", stdin=json.dumps(reading)).stdout.startswith("1 new")
    assert leaves(shell.read("job", job)["readings"][0]["result"]) == leaves(reading["result"])


@pytest.mark.parametrize(
    ("line", "says"),
    [
        ({"kind": "corrected", "id": "a" * 32, "at": AT, "entry": "a" * 32}, "it refers to itself"),
        ({"kind": "noted", "at": AT, "note": "x" * 5000}, "note"),
        ({"kind": "set", "at": AT, "settings": {f"part {n}": "x" * 100 for n in range(2000)}}, "signs long"),
        ({"kind": "supplied", "at": AT, "item": "x", "count": 10**400}, "count"),
    ],
)
def test_an_entry_that_refers_to_itself_or_is_too_large_is_refused(
    shell: Shell, job: str, line: dict[str, Any], says: str
) -> None:
    refused = shell.run("journal", "import", job, "-", stdin=json.dumps(line), code=2).stderr
    assert "line 1" in refused
    assert says in refused
    assert shell.run("journal", "export", job).stdout == ""


def test_a_correction_puts_no_reading_in_place_that_is_none(shell: Shell, job: str, reading: dict[str, Any]) -> None:
    shell.run("note", job, "as it came")
    before = shell.run("journal", "export", job).stdout
    entry = json.loads(before)["id"][:8]
    odd = json.dumps(_with(reading, "result/firings", "many"))
    refused = shell.run("correct", job, entry, "--json-entry", "-", stdin=odd, code=2).stderr
    assert "its record cannot be read" in refused
    assert shell.run("journal", "export", job).stdout == before


MARK: dict[str, Any] = {"kind": "marked", "id": "b" * 32, "at": AT, "part": "ring", "mark": "a scratch"}


@pytest.mark.parametrize("wrapped", [False, True])
@pytest.mark.parametrize("kind", ["photo", "recording"])
def test_an_entry_whose_photo_or_recording_is_not_here_is_refused(
    shell: Shell, job: str, reading: dict[str, Any], kind: str, wrapped: bool
) -> None:
    entry = reading if kind == "recording" else {**MARK, "photo": RECORDING}
    if wrapped:
        entry = {"kind": "corrected", "id": "c" * 32, "at": AT, "entry": "d" * 32, "becomes": entry}
    line = json.dumps(entry)
    refused = shell.run("journal", "import", job, "-", stdin=line, code=2).stderr
    assert f"its recording or photo {RECORDING} is not kept here; copy it to {shell.folder}" in refused
    assert shell.run("journal", "export", job).stdout == ""
    _keep(shell)
    assert shell.run("journal", "import", job, "-", stdin=line).stdout.startswith("1 new")
    shell.run("verify")
    shell.run("back-up", str(shell.folder.parent / "backup"))


def test_a_correction_by_a_line_brings_no_photo_that_is_not_here(shell: Shell, job: str) -> None:
    shell.run("note", job, "as it came")
    before = shell.run("journal", "export", job).stdout
    line = json.dumps({**MARK, "photo": RECORDING})
    shell.run("correct", job, json.loads(before)["id"][:8], "--json-entry", "-", "--new", stdin=line, code=2)
    assert shell.run("journal", "export", job).stdout == before
