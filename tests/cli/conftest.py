"""The command line, run in this process on a workshop of its own."""

import json
from pathlib import Path
from typing import Any

import pytest
from typer.testing import CliRunner, Result

from camerawright.cli.app import app

TAKE_IN = ("take-in", "--owner", "Ines Marrow", "--maker", "Orlmann", "--model", "Falter 6x6", "--no-film")


class Shell:
    """Runs commands; every run states the exit code that it expects."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder

    def run(self, *args: str, code: int = 0, stdin: str | bytes | None = None) -> Result:
        """Run a command in the workshop."""
        result = CliRunner().invoke(app, ["--workshop", str(self.folder), *args], input=stdin)
        if result.exception is not None and not isinstance(result.exception, SystemExit):
            raise result.exception
        assert result.exit_code == code, f"{args}: exit {result.exit_code}\n{result.output}"
        assert "Traceback" not in result.output
        return result

    def read(self, *args: str, code: int = 0) -> Any:
        """Run a command with --json, and read what it prints."""
        return json.loads(self.run(*args, "--json", code=code).stdout)

    def take_in(self, serial: str = "48213", *more: str) -> str:
        """Begin a job; its id."""
        job: str = self.read(*TAKE_IN, "--serial", serial, *more)["id"]
        return job


@pytest.fixture
def shell(tmp_path: Path) -> Shell:
    """A shell in front of a workshop that does not exist yet."""
    return Shell(tmp_path / "workshop")


@pytest.fixture
def job(shell: Shell) -> str:
    """A camera that was just taken in."""
    return shell.take_in()
