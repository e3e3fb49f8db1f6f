"""Springs that are not wound as they were: by how many turns, and the part that they go with."""

from collections.abc import Iterator
from dataclasses import dataclass

from camerawright.journal.entries import Tension, part_key
from camerawright.journal.fields import turns_said
from camerawright.journal.state import State


@dataclass(frozen=True, kw_only=True)
class SpringOwed:
    """A spring, and how many turns it is off from where it was; clockwise is positive."""

    spring: str
    part: str  # that it goes with; its own name where nobody said
    turns: float
    is_too_far: bool

    @property
    def is_now(self) -> str:
        """How it stands: "short of 1.5 turns clockwise", "wound 0.25 turns clockwise too far"."""
        return f"wound {turns_said(self.turns)} too far" if self.is_too_far else f"short of {turns_said(-self.turns)}"

    @property
    def todo(self) -> str:
        """What is to be done: "1.5 turns clockwise to put back"."""
        back = turns_said(-self.turns)
        return f"wound too far, {back} to let back" if self.is_too_far else f"{back} to put back"


def springs_owed(state: State) -> Iterator[SpringOwed]:
    """Every spring that is away from where it was."""
    for key, turns in state.tension.items():
        entries = [entry for entry in state.entries if isinstance(entry, Tension) and part_key(entry.spring) == key]
        goes_with = [entry.goes_with for entry in entries if entry.goes_with]
        spring = entries[0].spring
        yield SpringOwed(
            spring=spring,
            part=goes_with[-1] if goes_with else spring,
            turns=turns,
            is_too_far=key in state.wound_too_far,
        )
