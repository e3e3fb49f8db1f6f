"""What holds a part that is on: as much comes out again as went in, and a screw through two parts holds both."""

from collections import Counter
from collections.abc import Iterator, Mapping

from camerawright.journal.entries import Added, Entry, Fastener, Refitted, Removed, part_key
from camerawright.journal.joints import Joint, fastener_joint, hardware, joint_text, may_be, pairing
from camerawright.journal.state import Part, State
from camerawright.trouble import Trouble


def other_than_went_in(part: Part, entry: Removed) -> Iterator[Trouble]:
    """Screws, shims and small parts that come out in another number or size than went in.

    What was accounted for while the part was on may be in or not. Of a kind that nobody spoke of, nothing is asked.
    """
    came = hardware(entry)
    perhaps = dict(Counter(part.held) + Counter(part.accounted))
    missing, more = pairing(part.held, came).missing, pairing(perhaps, came).added
    spoken = {joint.kind for joint in (*perhaps, *part.out)}
    kinds = {joint.kind for joint in missing} | {joint.kind for joint in more} & spoken
    for kind in sorted(kinds):
        accounted = _listed(part.accounted, kind)
        told = f" ({accounted} accounted for)" if accounted else ""
        yield Trouble(
            what=f"{part.name}: {_listed(part.held, kind) or f'no {kind}'} went in{told}; "
            f"{_listed(came, kind) or f'no {kind}'} came out",
            mend="count again, or correct the entry that is wrong, or say why it differs: what went in and did not "
            "come out stays open in the ledger",
            can_overrule=True,
        )


def _listed(counts: Mapping[Joint, int], kind: str) -> str:
    """How many of each size of one kind."""
    return ", ".join(f"{count} × {joint_text(joint)}" for joint, count in counts.items() if joint.kind == kind)


def held_by_another(state: State, part: Part) -> Iterator[Trouble]:
    """A screw of another part that goes through this one and is in."""
    for other in state.parts.values():
        last = other.refitted or other.added
        if other.status != "on" or other.key == part.key or last is None:
            continue
        if any(_goes_through(fastener, part) for fastener in last.fasteners):
            yield Trouble(
                what=f"a screw of {other.name} goes through {part.name}, too, and it is in",
                mend=f"enter first that {other.name} came off, or say how the screw came out",
                can_overrule=True,
            )


def out_already(state: State, part: Part, entry: Removed) -> Iterator[Trouble]:
    """A screw through a part that came off before: it was out by then."""
    for fastener in entry.fasteners:
        other = state.part(fastener.through) if fastener.through else None
        if other is None or other.status != "off" or other.removed is None:
            continue
        if any(_goes_through(each, part) and _may_be(each, fastener) for each in other.removed.fasteners):
            what = f"{joint_text(fastener_joint(fastener))} through {other.name} came out with {other.name} already"
            mend = "leave it out here: it is one screw; or say that there are two"
        else:
            what = f"a screw of {part.name} goes through {other.name}, too, and {other.name} came off before it"
            mend = f"correct the removal of {other.name}: the screw came out with it; or say how that was"
        yield Trouble(what=what, mend=mend, can_overrule=True)


def through_itself(entry: Entry) -> Iterator[Trouble]:
    """A screw that is said to go through its own part; “through” names another one."""
    if not isinstance(entry, Removed | Refitted | Added):
        return
    if any(part_key(fastener.through or "") == part_key(entry.part) for fastener in entry.fasteners):
        yield Trouble(
            what=f"a screw of {entry.part} cannot go through {entry.part}, too",
            mend="name the other part that it holds, or leave “through” out",
        )


def _goes_through(fastener: Fastener, part: Part) -> bool:
    return part_key(fastener.through or "") == part.key


def _may_be(one: Fastener, other: Fastener) -> bool:
    return may_be(fastener_joint(one), fastener_joint(other))
