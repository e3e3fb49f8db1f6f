"""A sentence with what it rests on."""

from dataclasses import dataclass

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
