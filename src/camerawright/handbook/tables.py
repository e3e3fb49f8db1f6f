"""The handbook's tables, and the shape of what they say: a sentence with its source."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cache
from typing import Any

COMMON_PRACTICE = "common practice"
FROM_MEMORY = "from memory"


@dataclass(frozen=True, slots=True)
class Reason:
    """Why something is so: a sentence to be shown, and its source.

    Parameters
    ----------
    text
        The sentence.
    source
        A key of docs/sources.md, or `COMMON_PRACTICE` or `FROM_MEMORY` where there is none.
    """

    text: str
    source: str

    def __str__(self) -> str:
        return f"{self.text} [{self.source}]"


@cache
def table(name: str) -> Mapping[str, Any]:
    """A data file of the handbook, by its name without `.toml`."""
    import tomllib  # noqa: PLC0415  most commands read no table
    from importlib.resources import files  # noqa: PLC0415

    return tomllib.loads(files("camerawright.handbook").joinpath(f"{name}.toml").read_text(encoding="utf-8"))


def reasons(rows: Iterable[Mapping[str, str]]) -> tuple[Reason, ...]:
    """Sentences with their sources."""
    return tuple(Reason(row["text"], row["source"]) for row in rows)
