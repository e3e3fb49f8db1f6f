"""Recordings kept in a folder, each with its set-up in a file beside it."""

import json
from pathlib import Path
from typing import Any, Final

from camerawright.recordings import disk

Json = dict[str, Any]

WAITING: Final = "live"
"""The folder of a workshop where recordings stand until their readings are entered."""
PART: Final = "part-"
"""The name of a file begins with this as long as it is not whole."""


def beside(path: Path) -> Path:
    """Path of the file that holds the set-up of a recording."""
    return path.with_suffix(".json")


def write_setup(path: Path, setup: Json) -> None:
    """Write the set-up of a recording beside it; raises as `disk.write` does."""
    disk.write(beside(path), json.dumps(setup, ensure_ascii=False, indent=1).encode())


def setup_of(path: Path) -> Json:
    """Read the set-up beside a recording; empty if there is none."""
    try:
        setup: Json = json.loads(beside(path).read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return {}
    return setup


def input_of(path: Path) -> str | None:
    """Name of the input that a recording came from; None if it was played, or has no set-up beside it."""
    setup = setup_of(path)
    if not isinstance(setup, dict) or setup.get("is_tried") is not False:  # it may be another's JSON
        return None
    return str(setup["input"])


def finished(folder: Path) -> tuple[Path, ...]:
    """List the recordings in a folder that have their final name, and their set-up beside them, by name."""
    whole = (path for path in folder.glob("*") if not path.name.startswith(PART))
    return tuple(sorted(path for path in whole if path.suffix != ".json" and beside(path).is_file()))


def waiting(folder: Path, job_id: str) -> list[Path]:
    """The recordings of a job that no entry was made of yet; what is played to try it out is none of them."""
    there = finished(folder) if folder.is_dir() else ()
    setups = ((path, setup_of(path)) for path in there)
    return [path for path, setup in setups if setup.get("job") == job_id and not setup.get("is_tried")]


def remove(path: Path) -> None:
    """Remove a recording and its set-up."""
    for each in (path, beside(path)):
        each.unlink(missing_ok=True)
