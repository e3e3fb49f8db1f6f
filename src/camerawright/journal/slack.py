"""Screws that are in their place and not tight: loosened and left in, or only nipped up."""

from collections import Counter
from collections.abc import Mapping
from typing import Final

from camerawright.journal.entries import Refitted, Turned
from camerawright.journal.joints import Joint, hardware, joint_text, joints_of, pairing

ALL: Final = Joint("screw", "all of them")
"""The screws of a part, where nobody said which."""


def slack_after(slack: Mapping[Joint, int], turned: Turned) -> dict[Joint, int]:
    """What is not tight once some were turned; to tighten what was not loosened changes nothing."""
    said = joints_of(turned.fasteners)
    if turned.act != "tightened":
        return dict(Counter(slack) | Counter(said or {ALL: 1}))
    return dict(pairing(slack, said).missing) if said else {}


def nipped(refitted: Refitted) -> dict[Joint, int]:
    """What is not tight after a refit in which all was only nipped up."""
    return {joint: count for joint, count in hardware(refitted).items() if joint.kind == "screw"} or {ALL: 1}


def slack_words(joint: Joint, count: int) -> str:
    """What is still to be tightened: "2 × screw M1.7 not tight"."""
    return "its screws are not tight" if joint == ALL else f"{count} × {joint_text(joint)} not tight"
