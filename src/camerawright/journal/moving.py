"""What stands against a part's coming off, and against its going back."""

from collections.abc import Iterator
from datetime import datetime

from camerawright.journal.aids import closed_in
from camerawright.journal.checks import still_off
from camerawright.journal.dangers import stops
from camerawright.journal.entries import CLOSING, Awaited, Fastener, HoldPoint, Refitted, Removed, part_key
from camerawright.journal.fields import turns_said
from camerawright.journal.film import film_fogs
from camerawright.journal.held import held_by_another, other_than_went_in, out_already
from camerawright.journal.joints import fastener_joint, hardware, joint_text, pairing
from camerawright.journal.known import Known
from camerawright.journal.loose import not_caught
from camerawright.journal.order import Constraint, said_by
from camerawright.journal.reached import reached
from camerawright.journal.springs import may_close_over, springs_owed
from camerawright.journal.state import Part, Promise, State
from camerawright.trouble import Trouble
from camerawright.wording.moments import moment
from camerawright.wording.names import be, is_plural


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
    yield from stops(state, entry)
    yield from film_fogs(state, known, part.name)
    yield from _covered(state, part, entry, known)
    if part.status == "on":
        yield from other_than_went_in(part, entry)
    yield from held_by_another(state, part)
    yield from out_already(state, part, entry)
    yield from _wrong_state(state, part, "removal")
    yield from _mark_missing(part, known)
    yield from _gets_loose(state, part, entry, known)
    yield from _came_off_stuck(part)
    yield from _leads_missing(part, entry, known)
    if part.key in known.shims_seen and not entry.shims and entry.looked_beneath is None:
        yield Trouble(
            what=f"did you look beneath {part.name}? A like joint had {known.shims_seen[part.key]}",
            mend="look, and enter the shims, or that there are none",
            can_overrule=True,
        )


def _leads_missing(part: Part, entry: Removed, known: Known) -> Iterator[Trouble]:
    """Leads that the last one of its kind had, and that nobody entered now."""
    if part.key in known.leads_seen and not entry.leads:
        yield Trouble(
            what=f"no leads are entered for {part.name}, and the last one had {known.leads_seen[part.key]}",
            mend="enter them, or say that there are none",
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
    for constraint in _over(state, part, known):
        first = constraint.keys[0]
        if first not in under and state.part(first).status == "on":
            yield Trouble(
                what=f"{constraint.first} comes off before {part.name}: {constraint.reason}",
                mend=f"take {constraint.first} off first",
                can_overrule=True,
            )


def _over(state: State, part: Part, known: Known) -> Iterator[Constraint]:
    """What surely sits over a part, each pair once."""
    seen = set()
    said_here = (constraint for entry in state.over.get(part.key, ()) for constraint in said_by(entry))
    for constraint in (*known.over(part.key), *said_here):
        if constraint.certain and constraint.keys not in seen:
            seen.add(constraint.keys)
            yield constraint


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
    else:
        yield from _too_few_marks(part, wanted)


def _too_few_marks(part: Part, wanted: list[str]) -> Iterator[Trouble]:
    """Two marks wanted, two noted."""
    n_wanted = len({part_key(mark) for mark in wanted})
    noted = {part_key(mark.mark): mark.mark for mark in part.marks_now}
    if len(noted) < n_wanted:
        yield Trouble(
            what=f"{n_wanted} marks of {part.name} are wanted ({'; '.join(wanted)}), and {len(noted)} noted "
            f"({'; '.join(noted.values())})",
            mend="note the others before the part moves",
            can_overrule=True,
        )


def _gets_loose(state: State, part: Part, entry: Removed, known: Known) -> Iterator[Trouble]:
    """What nothing holds any more is entered with this removal, or came off before."""
    names = [name for caution in part.cautions for name in caution.frees]
    still_on = [name for name in (*names, *known.frees.get(part.key, ())) if state.part(name).status == "on"]
    for name in not_caught({part_key(name): name for name in still_on}.values(), entry.loose):
        yield Trouble(
            what=f"{name} gets loose when {part.name} moves",
            mend="catch it, and enter it among the loose parts by that name, or say that there is none",
            can_overrule=True,
        )


def _came_off_stuck(part: Part) -> Iterator[Trouble]:
    """What did not move on the last try, and is out of the way now."""
    for tried in {part_key(each.fastener): each for each in part.tried_now}.values():
        if tried.outcome == "no change":
            yield Trouble(
                what=f"{tried.fastener} of {part.name} did not move on the last try ({tried.rung})",
                mend="enter the try that freed it first, or say how the part came off",
                can_overrule=True,
            )


def refit(state: State, entry: Refitted, known: Known, now: datetime) -> Iterator[Trouble]:
    """Whether the part may go back now."""
    part = state.part(entry.part)
    if part.status == "accounted for":
        yield Trouble(what=f"{part.name} was accounted for", mend="if it turned up, undo that entry first")
        return
    if part.status == "on":
        yield from _found_again(state, part, entry)
        return
    yield from _not_ready(state, part, entry, known, now)
    if known.clash:
        yield Trouble(what=known.clash, mend="correct the constraint that is wrong", can_overrule=True)
    yield from _not_yet(state, part, known)
    yield from _beneath(state, part, known)
    yield from _into_what_is_gone(state, part)
    yield from closed_in(state, part, known)
    yield from _hardware(part, entry)
    yield from _wrong_hole(part, entry)
    yield from _through_nothing(state, part, entry, known)
    buries = tuple(_buries(state, part, known))
    yield from buries or may_close_over(state, part, known)


def _found_again(state: State, part: Part, entry: Refitted) -> Iterator[Trouble]:
    """Of a part that is on, what was still missing may come."""
    if not part.out:
        yield is_not_off(state, part)
        return
    missing = "; ".join(f"{count} × {joint_text(joint)}" for joint, count in part.out.items())
    found = hardware(entry)
    if not found or pairing(part.out, found).added:
        yield Trouble(
            what=f"{part.name} {be(part.name)} on; only this is still missing from it: {missing}",
            mend="enter of it what you found",
        )


def is_not_off(state: State, part: Part) -> Trouble:
    """The part is not off, and what is."""
    names = ", ".join(other.name for other in state.off)
    return Trouble(what=f"{part.name} is not off", mend=f"off now: {names}" if names else "nothing is off")


def _not_ready(state: State, part: Part, entry: Refitted, known: Known, now: datetime) -> Iterator[Trouble]:
    """What the part waits for, what state the machine must be in, and whether another one may go in."""
    wait = part.waits(now)
    if wait and not entry.replacement:
        yield still_waits(part, wait, "enter first that it arrived")
    if part.key in known.curing:
        yield Trouble(
            what=f"{part.name} goes over what is not ready: {known.curing[part.key]}",
            mend="wait, or say why not",
            can_overrule=True,
        )
    if part.irreplaceable and entry.replacement:
        yield Trouble(
            what=f"{part.name} cannot be had again ({part.irreplaceable}), and another one goes in",
            mend="say why, and where you keep the original",
            can_overrule=True,
        )
    yield from _wrong_state(state, part, "refit")


def still_waits(part: Part, wait: Awaited, mend: str) -> Trouble:
    """What a part still waits for; from a bath it comes by its own command."""
    until = f" until {moment(wait.until)}" if wait.until else ""
    if part.bath:
        return Trouble(
            what=f"{part.name} {be(part.name)} in the bath{until}: {part.bath}",
            mend=f"take {'them' if is_plural(part.name) else 'it'} out with `batch-out`, or say whether "
            f"{'they are' if is_plural(part.name) else 'it is'} clean, and how",
            can_overrule=True,
        )
    return Trouble(what=f"{part.name} must still wait{until}: {wait.awaiting}", mend=mend, can_overrule=True)


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
            what=f"owed before {part.name} goes back: {state.asked_by(promise)}",
            mend=_put_in_first(state, promise, known) or "do it, and answer it",
            can_overrule=True,
        )
    for check in known.checks_first.get(part.key, ()):
        if part_key(check.part or CLOSING) != part.key:
            yield Trouble(
                what=f"check before {part.name} goes back: {state.asked_by(check).removeprefix('check: ')}",
                mend=_put_in_first(state, check, known)
                or "check it now, and answer it: if it fails later, this part has to come off again",
                can_overrule=True,
            )


def _put_in_first(state: State, promise: Promise, known: Known) -> str:
    """What a check needs in place that is still off; "" if it can be done now."""
    missing = still_off(state, promise, known) if isinstance(promise, HoldPoint) else []
    return f"put {' and '.join(missing)} back first, then check it" if missing else ""


def _beneath(state: State, part: Part, known: Known) -> Iterator[Trouble]:
    """What came off before this part, surely sits over it, and is back already."""
    for constraint in _over(state, part, known):
        over = state.part(constraint.first)
        if over.status == "on" and over.removed is not None:
            yield Trouble(
                what=f"{over.name} is back already, and {part.name} goes beneath it: {constraint.reason}",
                mend=f"take {over.name} off again first, or say how it went in",
                can_overrule=True,
            )


def _buries(state: State, part: Part, known: Known) -> Iterator[Trouble]:
    """What surely goes over a part whose spring still wants its turns."""
    for spring in springs_owed(state):
        beneath = state.part(spring.part)
        if beneath.status == "on" and part.key in surely_over({beneath.key}, state, known):
            yield Trouble(
                what=f"{part.name} {'go' if is_plural(part.name) else 'goes'} over {beneath.name}, and "
                f"{spring.spring} {be(spring.spring)} {spring.is_now}",
                mend=f"turn it {turns_said(-spring.turns)} first, or say why it can wait",
                can_overrule=True,
            )


def surely_over(keys: set[str], state: State, known: Known) -> set[str]:
    """The keys of all that surely goes over some parts, on top of each other."""
    found, to_see = set(keys), list(keys)
    while to_see:
        over = {constraint.keys[0] for constraint in _over(state, state.part(to_see.pop()), known)} - found
        found |= over
        to_see += over
    return found - keys


def _into_what_is_gone(state: State, part: Part) -> Iterator[Trouble]:
    """A part goes back into one that does not go back."""
    for key in sorted(reached([part.key], state.wholes)):
        whole = state.part(key)
        if whole.status == "accounted for":
            yield Trouble(
                what=f"{part.name} belongs in {whole.name}, which was accounted for",
                mend=f"account for {part.name}, too, or say where it went in",
                can_overrule=True,
            )


def _wrong_hole(part: Part, entry: Refitted) -> Iterator[Trouble]:
    """A hole is an identity: what goes into it is what came out of it, however well the counts agree."""
    came: dict[str, list[Fastener]] = {}
    for fastener in part.removed.fasteners if part.removed else ():
        came.setdefault(part_key(fastener.hole or ""), []).append(fastener)
    came.pop("", None)
    for fastener in entry.fasteners:
        out = came.get(part_key(fastener.hole or ""), [])
        if out and not any(_is_alike(fastener, each) for each in out):
            was = " or ".join(fastener_joint(each)[1] for each in out)
            yield Trouble(
                what=f"{part.name}, {fastener.hole}: {was} came out of that hole, and "
                f"{fastener_joint(fastener)[1]} goes in",
                mend="put each screw back into its own hole, or say why this one belongs there",
                can_overrule=True,
            )


def _through_nothing(state: State, part: Part, entry: Refitted, known: Known) -> Iterator[Trouble]:
    """A screw that holds another part, too, goes in once that part is in its place."""
    bars = {bar.keys[1] for bar in known.back_first.get(part.key, ())}  # told already
    for fastener in entry.fasteners:
        other = state.part(fastener.through) if fastener.through else None
        if other is None or other.key in bars or frozenset((part.key, other.key)) in known.one_step:
            continue
        if other.status == "off":
            yield Trouble(
                what=f"a screw of {part.name} goes through {other.name}, too, which is off",
                mend=f"put {other.name} in its place first, or say how the screw holds it",
                can_overrule=True,
            )


def _is_alike(one: Fastener, other: Fastener) -> bool:
    """Whether two fasteners agree in all that was taken of both."""
    sizes, lengths = (one.size, other.size), (one.length_mm, other.length_mm)
    heads = [head and part_key(head) for head in (one.head, other.head)]
    taken = (pair for pair in (sizes, lengths, heads) if None not in pair)
    return all(pair[0] == pair[1] for pair in taken) and (None in sizes or one.hand == other.hand)


def _hardware(part: Part, entry: Refitted) -> Iterator[Trouble]:
    """What goes in against what came out."""
    paired = pairing(part.out, hardware(entry))
    loose_in_it = pairing(part.slack, paired.added)
    for joint in sorted({*paired.missing, *loose_in_it.added}):
        out = part.out.get(joint, 0)
        n_back = paired.filled.get(joint, 0) + loose_in_it.added.get(joint, 0)
        if n_back != out:
            yield Trouble(
                what=f"{part.name}: {out} × {joint_text(joint)} came out, {n_back} going back",
                mend="put back what came out, or say why it differs",
                can_overrule=True,
            )
