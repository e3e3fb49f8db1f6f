"""Screws that are in their place and not tight: loosened and left in, or only nipped up."""

from collections import Counter
from collections.abc import Iterable, Mapping
from typing import Final

from camerawright.journal.entries import Entry, Fastener, Refitted, Removed, Turned, part_key
from camerawright.journal.joints import Joint, fastener_joint, hardware, joint_text, joints_of, pairing

ALL: Final = Joint("screw", "all of them")
"""The screws of a part, where nobody said which."""


def slack_after(slack: Mapping[Joint, int], turned: Turned) -> dict[Joint, int]:
    """What is not tight once some were turned; to tighten what was not loosened changes nothing."""
    said = joints_of(turned.fasteners)
    if turned.act != "tightened":
        return dict(Counter(slack) | Counter(said or {ALL: 1}))
    return dict(pairing(slack, said).missing) if said else {}


def slack_that_came_off(slack: Mapping[Joint, int], removed: Removed) -> dict[Joint, int]:
    """What came off with its part and is still loose in it: all but what came out."""
    out = joints_of(removed.fasteners)
    left = pairing(slack, out).missing
    return {joint: count for joint, count in left.items() if not (joint == ALL and out)}


def as_counted(turned: Turned, slack: Mapping[Joint, int], screws: Mapping[Joint, Fastener]) -> Turned:
    """The entry with the screws that it was about, where it names none and they are known."""
    if turned.act != "tightened" or turned.fasteners or not slack or not slack.keys() <= screws.keys():
        return turned
    counted = tuple(screws[joint].model_copy(update={"count": count}) for joint, count in slack.items())
    return turned.model_copy(update={"fasteners": counted})


def loosened_only(entries: Iterable[Entry], key: str) -> tuple[str, ...]:
    """Screws of a part, by its key, that were loosened and never came out: "3 × grub M1.4"."""
    about = [entry for entry in entries if isinstance(entry, Turned | Removed) and part_key(entry.part) == key]
    came_out = {joint for entry in about if isinstance(entry, Removed) for joint in joints_of(entry.fasteners)}
    loosened = [entry for entry in about if isinstance(entry, Turned) and entry.act == "loosened"]
    return tuple(
        f"{count} × {joint.what}"
        for entry in loosened
        for joint, count in joints_of(entry.fasteners).items()
        if joint not in came_out
    )


def by_joint(fasteners: Iterable[Fastener]) -> dict[Joint, Fastener]:
    """One screw of each kind."""
    return {fastener_joint(fastener): fastener for fastener in fasteners}


def nipped(refitted: Refitted) -> dict[Joint, int]:
    """What is not tight after a refit in which all was only nipped up."""
    return {joint: count for joint, count in hardware(refitted).items() if joint.kind == "screw"} or {ALL: 1}


def slack_words(joint: Joint, count: int) -> str:
    """What is still to be tightened: "2 × screw M1.7 not tight"."""
    return "its screws are not tight" if joint == ALL else f"{count} × {joint_text(joint)} not tight"
