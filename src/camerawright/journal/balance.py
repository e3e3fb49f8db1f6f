"""The balance: everything that is not back, replaced or accounted for."""

from collections.abc import Iterator

from camerawright.journal.entries import CLOSING, Adjusted, part_key
from camerawright.journal.fields import turns_said
from camerawright.journal.joints import joint_text
from camerawright.journal.state import State
from camerawright.trouble import Trouble


def closing(state: State) -> tuple[Trouble, ...]:
    """What stands against closing the job."""
    return (*_not_back(state), *_still_owed(state), *_not_measured(state), *_opened_again(state))


def _not_back(state: State) -> Iterator[Trouble]:
    """Parts, fasteners, shims and aids that are not where they belong."""
    for part in state.off:
        cell = f", cell {part.removed.cell}" if part.removed and part.removed.cell else ""
        yield Trouble(what=f"{part.name} is still off{cell}", mend="refit it, or account for it")
    for part in state.parts.values():
        for joint, count in sorted(part.out.items()) if part.status == "on" else ():
            yield Trouble(
                what=f"{part.name}: {count} × {joint_text(joint)} not back", mend="find it, or account for it"
            )
    for aid in state.aids:
        yield Trouble(what=f"the aid {aid.aid} is still in", mend="take it out")


def _still_owed(state: State) -> Iterator[Trouble]:
    """Promises that nobody answered, turns that nobody put back, and what the journal contradicts itself in."""
    for promise in state.open_promises:
        yield Trouble(what=f"owed: {promise.asks} ({promise.part or CLOSING})", mend="do it, and answer it")
    for spring, turns in state.tension.items():
        yield Trouble(
            what=f"{spring}: {turns_said(turns)} not put back",
            mend=f"turn it {turns_said(-turns)}, or say why it differs",
            can_overrule=True,
        )
    for conflict in state.conflicts:
        yield Trouble(what=conflict, mend="correct the entry that is wrong")


def _not_measured(state: State) -> Iterator[Trouble]:
    """A camera that was measured as found is measured as left."""
    if {reading.phase for reading in state.measured} == {"as found"}:
        yield Trouble(
            what="measured as found, but not as left", mend="measure again, or say why not", can_overrule=True
        )


def _opened_again(state: State) -> Iterator[Trouble]:
    """Readings as left that were taken before something came off again, or before an adjuster was moved for them."""
    last = {part_key(reading.test): reading for reading in state.measured if reading.phase == "as left"}
    for reading in last.values():
        again = [part.name for part in state.parts.values() if part.removed and part.removed.at > reading.at]
        turned = [
            entry.adjuster
            for entry in state.entries
            if isinstance(entry, Adjusted) and entry.test and entry.at > reading.at
            if part_key(entry.test) == part_key(reading.test)
        ]
        for names, what in ((again, "came off"), (turned, "was moved")):
            if names:
                yield Trouble(
                    what=f"{', '.join(dict.fromkeys(names))} {what} after {reading.test} was measured as left",
                    mend="measure again, or say why not",
                    can_overrule=True,
                )
