"""What stands against a part's coming off, and against its going back."""

from collections.abc import Iterator
from datetime import datetime

from camerawright.journal.entries import CLOSING, Awaited, Refitted, Removed, part_key
from camerawright.journal.joints import hardware, joint_text, pairing
from camerawright.journal.known import Known
from camerawright.journal.order import constraints_said
from camerawright.journal.state import Part, State
from camerawright.trouble import Trouble
from camerawright.wording.moments import moment


def removal(state: State, entry: Removed, known: Known, now: datetime) -> Iterator[Trouble]:
    """Whether the part may come off now."""
    part = state.part(entry.part)
    if part.status == "off":
        yield Trouble(
            what=f"{part.name} is already off", mend="correct the earlier entry, or give this part a name of its own"
        )
    if part.status == "accounted for":
        yield Trouble(what=f"{part.name} was accounted for", mend="if it turned up, undo that entry first")
    if part_key(entry.part) == CLOSING:
        yield Trouble(what=f"“{CLOSING}” stands for the closing of the job", mend="give the part another name")
    yield from _covered(state, part, entry, known)
    yield from _wrong_state(state, part, "removal")
    yield from _mark_missing(part, known)
    yield from _gets_loose(state, part, entry, known)
    if part.key in known.shims_seen and not entry.shims and entry.looked_beneath is None:
        yield Trouble(
            what=f"did you look beneath {part.name}? A like joint had {known.shims_seen[part.key]}",
            mend="look, and enter the shims, or that there are none",
            can_overrule=True,
        )


def _covered(state: State, part: Part, entry: Removed, known: Known) -> Iterator[Trouble]:
    """What is still on and comes off first, by what is entered or known."""
    for cover in entry.under:
        if state.part(cover).status == "on":
            yield Trouble(
                what=f"{part.name} lies under {cover}, and the journal has {cover} still on",
                mend=f"enter the removal of {cover} first",
                can_overrule=True,
            )
    under = {part_key(cover) for cover in entry.under}
    said = {constraint.keys: constraint for constraint in (*known.constraints, *constraints_said(state))}
    for constraint in said.values():
        first, then = constraint.keys
        if constraint.certain and then == part.key and first not in under and state.part(first).status == "on":
            yield Trouble(
                what=f"{constraint.first} comes off before {part.name}: {constraint.reason}",
                mend=f"take {constraint.first} off first",
                can_overrule=True,
            )


def _wrong_state(state: State, part: Part, move: str) -> Iterator[Trouble]:
    """What the machine must be set to, and is not."""
    for need in part.needs:
        if need.moves not in {move, "both"}:
            continue
        for what, how in need.settings.items():
            now_set = state.setting(what)
            if now_set is None or part_key(now_set) != part_key(how):
                yield Trouble(
                    what=f"{part.name} moves only with {what} {how}; it is {now_set or 'not noted'}: {need.reason}",
                    mend=f"bring {what} to {how} and enter it",
                    can_overrule=True,
                )


def _mark_missing(part: Part, known: Known) -> Iterator[Trouble]:
    """A mark that somebody asked for and nobody noted, or one from before the part was last back."""
    wanted = [wish.mark for wish in part.marks_wanted]
    if not wanted and part.key in known.marks_wanted:
        wanted = [known.marks_wanted[part.key]]
    if wanted and not part.marks:
        yield Trouble(
            what=f"the reference mark of {part.name} is not noted: {'; '.join(wanted)}",
            mend="note the mark before the part moves",
            can_overrule=True,
        )
    elif part.marks and not part.marks_now:
        yield Trouble(
            what=f"{part.name} has been back since its reference mark was noted: {part.marks[-1].mark}",
            mend="look whether it still holds, and note it again",
            can_overrule=True,
        )


def _gets_loose(state: State, part: Part, entry: Removed, known: Known) -> Iterator[Trouble]:
    """What nothing holds any more is entered with this removal, or came off before."""
    caught = {part_key(loose.what) for loose in entry.loose}
    names = [name for caution in part.cautions for name in caution.frees]
    for name in dict.fromkeys((*names, *known.frees.get(part.key, ()))):
        key = part_key(name)
        if state.part(name).status == "on" and not any(key in what or what in key for what in caught):
            yield Trouble(
                what=f"{name} gets loose when {part.name} moves",
                mend="catch it, and enter it among the loose parts, or say that there is none",
                can_overrule=True,
            )


def refit(state: State, entry: Refitted, known: Known, now: datetime) -> Iterator[Trouble]:
    """Whether the part may go back now."""
    part = state.part(entry.part)
    if part.status == "accounted for":
        yield Trouble(what=f"{part.name} was accounted for", mend="if it turned up, undo that entry first")
        return
    if part.status == "on":
        yield is_not_off(state, part)
        return
    yield from _not_ready(state, part, entry, now)
    if known.clash:
        yield Trouble(what=known.clash, mend="correct the constraint that is wrong", can_overrule=True)
    yield from _not_yet(state, part, known)
    yield from _hardware(part, entry)


def is_not_off(state: State, part: Part) -> Trouble:
    """The part is not off, and what is."""
    names = ", ".join(other.name for other in state.off)
    return Trouble(what=f"{part.name} is not off", mend=f"off now: {names}" if names else "nothing is off")


def _not_ready(state: State, part: Part, entry: Refitted, now: datetime) -> Iterator[Trouble]:
    """What the part waits for, what state the machine must be in, and whether another one may go in."""
    if part.awaiting and not entry.replacement and part.awaiting.lasts(now):
        yield Trouble(
            what=f"{part.name} still waits{_until(part.awaiting)}: {part.awaiting.awaiting}",
            mend="enter first that it arrived",
            can_overrule=True,
        )
    if part.irreplaceable and entry.replacement:
        yield Trouble(
            what=f"{part.name} cannot be had again ({part.irreplaceable}), and another one goes in",
            mend="say why, and where you keep the original",
            can_overrule=True,
        )
    yield from _wrong_state(state, part, "refit")


def _until(awaited: Awaited) -> str:
    return f" until {moment(awaited.until)}" if awaited.until else ""


def _not_yet(state: State, part: Part, known: Known) -> Iterator[Trouble]:
    """What goes back first, what is owed first, and what is best checked first."""
    for bar in known.back_first.get(part.key, ()):
        sure = "" if bar.certain else " (assumed from the order of removal)"
        yield Trouble(
            what=f"{bar.then} goes back before {part.name}{sure}: {bar.reason}",
            mend=f"put {bar.then} back first" + ("" if bar.certain else ", or declare the two independent"),
            can_overrule=True,
        )
    for promise in state.promises_of(part.name):
        yield Trouble(
            what=f"owed before {part.name} goes back: {promise.asks}", mend="do it, and answer it", can_overrule=True
        )
    for check in known.checks_first.get(part.key, ()):
        if part_key(check.part or CLOSING) != part.key:
            yield Trouble(
                what=f"check before {part.name} goes back: {check.check}",
                mend="check it now, and answer it: if it fails later, this part has to come off again",
                can_overrule=True,
            )


def _hardware(part: Part, entry: Refitted) -> Iterator[Trouble]:
    """What goes in against what came out."""
    paired = pairing(part.out, hardware(entry))
    for joint in sorted({*paired.missing, *paired.added}):
        out = part.out.get(joint, 0)
        n_back = paired.filled.get(joint, 0) + paired.added.get(joint, 0)
        if n_back != out:
            yield Trouble(
                what=f"{part.name}: {out} × {joint_text(joint)} came out, {n_back} going back",
                mend="put back what came out, or say why it differs",
                can_overrule=True,
            )
