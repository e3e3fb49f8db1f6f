"""Recordings kept in a folder, each with its set-up beside it."""

import json
from pathlib import Path
from typing import Any, Final

from camerawright.recordings import disk

Json = dict[str, Any]

PART: Final = "part-"
"""What the name of a file begins with that is not whole yet."""


def beside(path: Path) -> Path:
    """Where the set-up of a recording stands."""
    return path.with_suffix(".json")


def write_setup(path: Path, setup: Json) -> None:
    """Put the set-up of a recording beside it; raises as `disk.write`."""
    disk.write(beside(path), json.dumps(setup, ensure_ascii=False, indent=1).encode())


def setup_of(path: Path) -> Json:
    """The set-up kept beside a recording; empty where there is none."""
    try:
        setup: Json = json.loads(beside(path).read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return {}
    return setup


def input_of(path: Path) -> str | None:
    """The name of the input that a recording came from, where its set-up stands beside it; None for one played."""
    setup = setup_of(path)
    if not isinstance(setup, dict) or setup.get("is_tried") is not False:  # beside it may stand another's JSON
        return None
    return str(setup["input"])


def finished(folder: Path) -> tuple[Path, ...]:
    """The recordings in a folder that have their final name, oldest first."""
    return tuple(sorted(path for path in folder.glob("*.flac") if not path.name.startswith(PART)))


def remove(path: Path) -> None:
    """Remove a recording and its set-up."""
    for each in (path, beside(path)):
        each.unlink(missing_ok=True)
