"""Every command has help and is documented; the command starts light, and is quiet when it is cut off."""

import inspect
import os
import re
import signal
import subprocess
import sys
import urllib.request
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
import typer.main
from typer.testing import CliRunner

from camerawright.cli.app import STAGES, app
from camerawright.cli.commands import commands_of
from camerawright.cli.documented import EVERYWHERE, commands_page
from camerawright.cli.entry_commands import headlines
from camerawright.journal.entries import KINDS
from tests.cli.conftest import TAKE_IN

DOCS, TERMINAL = (Path(__file__).parents[2] / "docs" / name for name in ("commands.md", "terminal.md"))
HEAVY = {"numpy", "scipy", "sqlalchemy", "alembic", "pydantic", "matplotlib", "starlette", "uvicorn", "PIL", "rich"}


def _commands(group: Any, path: tuple[str, ...] = ()) -> Iterator[tuple[tuple[str, ...], Any]]:
    """Every command with its words."""
    for name, command in group.commands.items():
        if hasattr(command, "commands"):
            yield from _commands(command, (*path, name))
        else:
            yield (*path, name), command


COMMANDS = dict(_commands(typer.main.get_command(app)))
ALL = pytest.mark.parametrize("path", COMMANDS, ids=" ".join)


@ALL
def test_every_command_has_help_with_an_example(path: tuple[str, ...]) -> None:
    result = CliRunner().invoke(app, [*path, "--help"])
    assert result.exit_code == 0
    if path[0] not in {"measure", "record"}:  # their help is the bench test's own
        assert re.search(rf"Examples?:\n(?s:.*)camerawright (.*)?{' '.join(path)}", result.stdout), result.stdout
    for param in COMMANDS[path].params:
        assert param.name == "help" or param.help, param.name


def test_the_page_of_commands_is_what_the_commands_say() -> None:
    page = commands_page()
    assert page == DOCS.read_text(encoding="utf-8"), "run `make docs`"
    for path in COMMANDS:
        assert f"\n### `{' '.join(path)}" in page
    for option in EVERYWHERE:
        assert f"`{option}" in TERMINAL.read_text(encoding="utf-8") or option == "--help"


def test_each_module_has_the_commands_that_the_table_says() -> None:
    for heading, modules in STAGES.items():
        for module, words in modules.items():
            assert tuple(commands_of(module, heading)) == words


def test_the_list_of_commands_says_of_each_entry_what_its_own_help_says() -> None:
    made = {command.word: (command, kind) for kind in KINDS.values() for command in kind.commands}
    assert {headline.word for headline in headlines()} == made.keys()
    for headline in headlines():
        command, kind = made[headline.word]
        assert headline.heading == command.heading
        assert headline.heading in STAGES
        assert headline.says == inspect.cleandoc(command.text or kind.__doc__ or "").partition("\n")[0]


@pytest.mark.parametrize("word", [headline.word for headline in headlines()])
def test_what_an_entry_cannot_do_without_stands_in_its_place_and_the_reason_is_because(word: str) -> None:
    kind, command = next((kind, each) for kind in KINDS.values() for each in kind.commands if each.word == word)
    needed = [name for name, field in kind.model_fields.items() if field.is_required() and name != "at"]
    in_place = [param.name for param in COMMANDS[word,].params if param.param_type_name == "argument"]
    assert in_place == ["job", *(name for name in needed if name != "reason" and name not in command.fixed)]
    options = {option for param in COMMANDS[word,].params if param.param_type_name == "option" for option in param.opts}
    assert ("--because" in options) == ("reason" in kind.model_fields)
    assert {"--say", "--overrule"} <= options


def _run(*args: str, stdin: bytes = b"", env: dict[str, str] | None = None) -> subprocess.CompletedProcess[bytes]:
    command = [sys.executable, "-c", "from camerawright.cli.app import main; main()", *args]
    return subprocess.run(command, input=stdin, capture_output=True, check=False, timeout=60, env=env)


def _loaded(*args: str) -> set[str]:
    """The packages that a command loads, from its own process."""
    script = (
        "import sys, typer, camerawright.cli.app as a\n"
        "sys.argv[0] = 'camerawright'\n"
        "try: a.main()\n"
        "finally: print(*{name.split('.')[0] for name in sys.modules}, file=sys.stderr)"
    )
    done = subprocess.run([sys.executable, "-c", script, *args], capture_output=True, check=True, text=True, timeout=60)
    return set(done.stderr.split())


def test_a_command_loads_nothing_heavy_that_it_does_not_use(tmp_path: Path) -> None:
    """What is entered needs pydantic, and may need the journals of other jobs; a list is kept."""
    here = ("--workshop", str(tmp_path / "w"))
    for serial in "12":
        assert _run(*here, *TAKE_IN, "--serial", serial).returncode == 0
        assert _run(*here, "remove", f"J{serial}", "cover", "--screw", "2 x M1.4 x 3").returncode == 0
    assert not HEAVY & _loaded("--help")
    for said in (("note", "J2", "glue on the screws"), ("remove", "J2", "dial"), ("find", "J2", "dial", "bent")):
        assert HEAVY & _loaded(*here, *said) == {"pydantic"}
    assert b"J2" in _run(*here, "jobs").stdout
    assert not HEAVY & _loaded(*here, "jobs")


def test_exit_codes_are_0_1_and_2(tmp_path: Path) -> None:
    here = ("--workshop", str(tmp_path / "w"))
    assert _run(*here, "jobs").returncode == 2
    assert _run(*here, *TAKE_IN, "--serial", "1").returncode == 0
    assert _run(*here, "remove", "J1", "cover").returncode == 0
    twice = _run(*here, "remove", "J1", "cover")
    assert twice.returncode == 1
    assert twice.stderr.count(b"\n") == 1
    assert b"already off" in twice.stderr
    assert _run(*here, "juggle").returncode == 2
    assert _run("--version").stdout.startswith(b"camerawright 0")


@pytest.mark.parametrize("encoding", ["ascii", "cp1252"])
def test_a_poor_terminal_does_not_crash(tmp_path: Path, encoding: str) -> None:
    env = {**os.environ, "PYTHONIOENCODING": encoding, "CAMERAWRIGHT_WORKSHOP": str(tmp_path / "w")}
    assert _run(*TAKE_IN, "--serial", "1", env=env).returncode == 0
    assert _run("remove", "J1", "Schlüßel ☂", "--screw", "3 x M1.7", env=env).returncode == 0
    shown = _run("refit", "J1", env=env)
    assert shown.returncode == 0
    if encoding == "cp1252":  # an ascii terminal is taken for a mislabelled one, and gets UTF-8
        assert b"Schl\xfc\xdfel ?" in shown.stdout
    assert "☂" in _run("journal", "export", "J1", env=env).stdout.decode()  # files are UTF-8 everywhere
    assert b"\\u2602" in _run("refit", "J1", "--json", env=env).stdout


@pytest.mark.skipif(sys.platform == "win32", reason="a shell pipe of another kind")
def test_a_reader_that_goes_away_is_no_error(tmp_path: Path) -> None:
    command = f"{sys.executable} -c 'from camerawright.cli.app import main; main()' --help | true"
    done = subprocess.run(["sh", "-c", command], capture_output=True, check=False, timeout=60)
    assert done.stderr == b""


@pytest.mark.skipif(sys.platform == "win32", reason="Windows sends Ctrl-C to a whole console")
def test_ctrl_c_is_quiet() -> None:
    script = (
        "import os, signal, time, camerawright.cli.app as a, camerawright.cli.journal as j\n"
        "signal.signal(signal.SIGINT, signal.default_int_handler)\n"  # a job in the background is begun without it
        "j.file_bytes = lambda path: (os.kill(os.getpid(), signal.SIGINT), time.sleep(9))\n"
        "import sys; sys.argv = ['camerawright', 'journal', 'import', 'J1', '-']; a.main()"
    )
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, check=False, timeout=60)
    assert done.returncode == 130
    assert b"Traceback" not in done.stderr


def test_the_pages_are_served_on_loopback_until_ctrl_c(tmp_path: Path) -> None:
    here = ("--workshop", str(tmp_path / "w"))
    assert _run(*here, *TAKE_IN, "--serial", "1").returncode == 0
    command = [sys.executable, "-c", "from camerawright.cli.app import main; main()", *here, "serve", "--port", "0"]
    with subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE) as serving:
        assert serving.stdout is not None
        try:
            address = re.search(rb"http://127\.0\.0\.1:(\d+)/", serving.stdout.readline())
            assert address
            with urllib.request.urlopen(address[0].decode(), timeout=30) as page:
                assert b"Falter 6x6" in page.read()
            taken = _run(*here, "serve", "--port", address[1].decode())
            assert taken.returncode == 2
            assert b"--port" in taken.stderr
        finally:
            serving.send_signal(signal.SIGINT) if sys.platform != "win32" else serving.terminate()
            _, errors = serving.communicate(timeout=30)
    assert errors == b""


def test_who_listens_beyond_this_machine_gets_a_token(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    import uvicorn

    monkeypatch.setattr(uvicorn.Server, "run", lambda self, sockets: None)
    CliRunner().invoke(app, ["--workshop", str(tmp_path / "w"), *TAKE_IN, "--serial", "1"])
    result = CliRunner().invoke(app, ["--workshop", str(tmp_path / "w"), "serve", "--host", "0.0.0.0", "--port", "0"])
    assert result.exit_code == 0
    token = "".join(result.output.partition("is let in by this token:")[2].split())
    assert len(token.replace("-", "")) >= 12
    assert f"token={token}" in "".join(result.output.split())


@pytest.mark.parametrize("zone", ["XXX-25", "XXX24"])
def test_a_time_zone_that_cannot_be_is_told_in_words(zone: str, tmp_path: Path) -> None:
    done = _run("--workshop", str(tmp_path / "w"), "jobs", env={**os.environ, "TZ": zone})
    assert done.returncode == 2
    assert done.stderr.decode().startswith(f"the time zone {zone} is more than a day from UTC")
    assert not (tmp_path / "w").exists()
