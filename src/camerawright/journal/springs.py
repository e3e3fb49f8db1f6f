"""Springs that are not wound as they were: by how many turns, with which part, and what may close over them."""

from collections.abc import Iterator
from dataclasses import dataclass

from camerawright.journal.entries import Refitted, Tension, part_key
from camerawright.journal.fields import turns_said
from camerawright.journal.known import Known
from camerawright.journal.known_then import Said
from camerawright.journal.order import order_facts
from camerawright.journal.state import Part, State
from camerawright.trouble import Trouble
from camerawright.wording.names import be, is_plural


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


def nothing_to_turn(state: State, entry: Tension) -> Iterator[Trouble]:
    """Turns of a spring that is off, or whose part is: in the tray, nothing holds them."""
    off = {part.key: part for part in _holders(state, entry) if part.status == "off"}
    if off:
        names = " and ".join(part.name for part in off.values())
        is_one = len(off) == 1 and not is_plural(names)
        yield Trouble(
            what=f"{names} {be(names) if len(off) == 1 else 'are'} off: {entry.spring} cannot be "
            f"{'let down' if entry.act == 'let down' else 'wound'} now",
            mend=f"was that before {'it' if is_one else 'they'} came off? Then say so. Otherwise enter it once "
            f"{names} {'is' if is_one else 'are'} in place",
            can_overrule=True,
        )


def _holders(state: State, entry: Tension) -> Iterator[Part]:
    """A spring as a part, and the part that it goes with; that it lies among the loose parts counts, too.

    A part that contains others is whole on the bench, and the spring in it may be turned there.
    """
    key = part_key(entry.spring)
    yield state.part(entry.spring)
    earlier = [each.goes_with for each in state.entries if isinstance(each, Tension) and part_key(each.spring) == key]
    goes_with = entry.goes_with or next(filter(None, reversed(earlier)), None)
    if goes_with and not any(part_key(goes_with) in wholes for wholes in state.wholes.values()):
        yield state.part(goes_with)
    for part in state.parts.values():
        if any(joint.kind == "loose part" and part_key(joint.what.partition(",")[0]) == key for joint in part.out):
            yield part


def may_close_over(state: State, part: Part, known: Known) -> Iterator[Trouble]:
    """A part that came off before the one whose spring still wants its turns: it may lie over it. Asked once."""
    said: Said | None = None
    for spring in springs_owed(state):
        beneath = state.part(spring.part)
        if beneath.status != "on" or not _came_off_before(state, part, beneath, spring):
            continue
        said = said or Said(known.learned | order_facts(state))
        if said.is_free(part.key, beneath.key) or _asked_since(state, beneath, spring):
            continue
        yield Trouble(
            what=f"{part.name} came off before {beneath.name} and may close over it, and "
            f"{spring.spring} {be(spring.spring)} {spring.is_now}",
            mend=f"turn it {turns_said(-spring.turns)} first, or say why it can wait; you are asked once",
            can_overrule=True,
        )


def _came_off_before(state: State, part: Part, beneath: Part, spring: SpringOwed) -> bool:
    """Whether a part was out of the way when the other came off, or, if it stayed on, when its spring was let down."""
    if beneath.removed is not None:
        return part.n_removal < beneath.n_removal
    turned = next(entry for entry in state.entries if _turns(entry, spring))
    return part.removed is not None and part.removed.at < turned.at


def _asked_since(state: State, beneath: Part, spring: SpringOwed) -> bool:
    """Whether something went back past this question already."""
    last = max(i for i, entry in enumerate(state.entries) if _turns(entry, spring) or entry == beneath.refitted)
    return any(isinstance(entry, Refitted) and entry.overruled for entry in state.entries[last + 1 :])


def _turns(entry: object, spring: SpringOwed) -> bool:
    return isinstance(entry, Tension) and part_key(entry.spring) == part_key(spring.spring)
