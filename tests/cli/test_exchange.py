"""A journal out of one workshop and into another."""

import json
from pathlib import Path

import jsonschema  # type: ignore[import-untyped]
import pytest

from tests.cli.conftest import Shell


@pytest.fixture
def stripped(shell: Shell, job: str) -> str:
    """The journal of a job with some of everything, as JSON Lines."""
    shell.run("mark", job, "dial", "at its\u2028stop")  # a line separator that JSON leaves as it is
    shell.run("remove", job, "dial", "--screw", "3 x M1.7 x 4 cheese LH", "--shim", "1 x 0.10 NE corner")
    shell.run("remind", job, "closing", "return the case")
    shell.run("set", job, "shutter=released")
    shell.run("undo", job)
    return shell.run("journal", "export", job).stdout


def test_importing_twice_changes_nothing(shell: Shell, stripped: str, tmp_path: Path) -> None:
    other = Shell(tmp_path / "other")
    job = other.take_in()
    assert other.run("journal", "import", job, "-", stdin=stripped).stdout.startswith("5 new, 0 there already")
    assert other.run("journal", "import", job, "-", stdin=stripped).stdout.startswith("0 new, 5 there already")
    assert other.run("journal", "export", job).stdout == stripped


def test_an_exported_file_is_imported_whatever_its_line_ends(shell: Shell, stripped: str, tmp_path: Path) -> None:
    exported = tmp_path / "J1.jsonl"
    shell.run("journal", "export", "J1", "-o", str(exported))
    assert exported.read_bytes().decode() == stripped
    exported.write_bytes(b"\xef\xbb\xbf" + exported.read_bytes().replace(b"\n", b"\r\n") + b"\r\n")
    other = Shell(tmp_path / "other")
    other.run("journal", "import", other.take_in(), str(exported))
    assert other.run("journal", "export", "J1").stdout == stripped


def test_every_exported_line_fits_the_published_schema(shell: Shell, stripped: str) -> None:
    schema = json.loads(shell.run("journal", "schema").stdout)
    validator = jsonschema.Draft202012Validator(schema)
    validator.check_schema(schema)
    lines = stripped.split("\n")[:-1]
    assert len(lines) == 5
    for line in lines:
        validator.validate(json.loads(line))
    with pytest.raises(jsonschema.ValidationError):
        validator.validate({**json.loads(lines[0]), "kind": "vanished"})


@pytest.mark.parametrize(
    ("broken", "says"),
    [
        ("{", "line 6"),
        ('{"kind": "vanished"}', "line 6"),
        ('{"kind": "noted", "at": "2020-01-01T00:00:00Z", "note": "x", "colour": "red"}', "colour"),
        ('{"kind": "noted", "at": "2020-01-01T00:00:00", "note": "no offset"}', "line 6"),
        (
            json.dumps({"kind": "noted", "at": "2199-01-01T00:00:00Z", "note": "x"}),
            "in the future",
        ),
    ],
)
def test_a_broken_line_is_named_and_nothing_taken_in(
    shell: Shell, stripped: str, tmp_path: Path, broken: str, says: str
) -> None:
    other = Shell(tmp_path / "other")
    job = other.take_in()
    refused = other.run("journal", "import", job, "-", stdin=stripped + broken, code=2).stderr
    assert "line 6" in refused
    assert says in refused
    assert other.run("journal", "export", job).stdout == ""


def test_a_file_that_is_no_text_or_not_there_is_refused(shell: Shell, job: str, tmp_path: Path) -> None:
    binary = tmp_path / "binary.jsonl"
    binary.write_bytes(b"\n\xff\xfe\x00")
    assert "line 2 is not UTF-8" in shell.run("journal", "import", job, str(binary), code=2).stderr
    assert "absent" in shell.run("journal", "import", job, str(tmp_path / "absent"), code=2).stderr
    assert "workshop" in shell.run("journal", "import", job, str(shell.folder), code=2).stderr
