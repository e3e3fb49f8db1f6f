"""What holds the parts and lies beneath them, counted by likeness: what came out, and what goes back."""

from collections import Counter
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import Any, Final, NamedTuple

from camerawright.journal.entries import Added, Fastener, Lead, Loose, Refitted, Removed, Shim
from camerawright.journal.fastener_words import ONE_OF, THREADED, THREADLESS
from camerawright.journal.notation import written_lead
from camerawright.wording.names import name_key

_NOT_JUST_SCREWS: Final = (THREADLESS | THREADED) - {"grub"}
_NO_SCREWS: Final = _NOT_JUST_SCREWS - {"screw", "bolt"}
THREAD_NOT_TAKEN: Final = "thread not taken"
THICKNESS_NOT_TAKEN: Final = "thickness not taken"


class Joint(NamedTuple):
    """What makes two screws, shims or loose parts alike: the kind, and its description."""

    kind: str  # "screw", "shim", "loose part" or "lead"
    what: str

    @property
    def is_taken(self) -> bool:
        """Whether its thread or thickness was taken."""
        return THREAD_NOT_TAKEN not in self.what and THICKNESS_NOT_TAKEN not in self.what


def fastener_joint(fastener: Fastener) -> Joint:
    """What makes two fasteners alike."""
    parts = [fastener.size]
    if fastener.length_mm is not None:
        parts.append(f"× {fastener.length_mm:g} mm")
    parts += [fastener.head, "left-hand" if fastener.hand == "left" else None]
    told = " ".join(filter(None, parts))
    return Joint("screw", told if fastener.size else ", ".join(filter(None, (told, THREAD_NOT_TAKEN))))


def _shim_joint(shim: Shim) -> Joint:
    thickness = f"{shim.thickness_mm:.2f} mm" if shim.thickness_mm is not None else THICKNESS_NOT_TAKEN
    return Joint("shim", f"{thickness}, {shim.place}")


def _loose_joint(loose: Loose) -> Joint:
    return Joint("loose part", f"{loose.what}, {loose.place}" if loose.place else loose.what)


def _lead_joint(lead: Lead) -> Joint:
    return Joint("lead", written_lead(lead.model_copy(update={"count": 1})))


def joints_of(fasteners: Iterable[Fastener]) -> dict[Joint, int]:
    """How many fasteners of each kind."""
    counts: Counter[Joint] = Counter()
    for fastener in fasteners:
        counts[fastener_joint(fastener)] += fastener.count
    return dict(counts)


def hardware(entry: Removed | Refitted | Added) -> dict[Joint, int]:
    """How many screws, shims, loose parts and leads of each kind came out or went in with a part."""
    counts: dict[Joint, int] = {}
    for joint, count in (
        *((fastener_joint(fastener), fastener.count) for fastener in entry.fasteners),
        *((_shim_joint(shim), shim.count) for shim in entry.shims),
        *((_loose_joint(loose), loose.count) for loose in entry.loose),
        *((_lead_joint(lead), lead.count) for lead in entry.leads),
    ):
        counts[joint] = counts.get(joint, 0) + count
    return counts


def of_these(joints: Mapping[Joint, int], came: Iterable[Removed]) -> dict[str, tuple[Any, ...]]:
    """What came out, as it was entered, as far as it is among these joints: by the field of an entry that holds it."""
    left = dict(joints)
    found: dict[str, list[Any]] = {"fasteners": [], "shims": [], "loose": [], "leads": []}
    joint_of: dict[str, Callable[[Any], Joint]] = {
        "fasteners": fastener_joint,
        "shims": _shim_joint,
        "loose": _loose_joint,
        "leads": _lead_joint,
    }
    for entry in came:
        for field, items in found.items():
            for item in getattr(entry, field):
                joint = joint_of[field](item)
                n = min(item.count, left.get(joint, 0))
                if n:
                    left[joint] -= n
                    items.append(item.model_copy(update={"count": n}))
    return {field: tuple(items) for field, items in found.items()}


def joint_text(joint: Joint) -> str:
    """A kind of fastener, shim or loose part in words: "screw M2", "shim 0.10 mm, beneath", "rivet", "ball 1.5 mm"."""
    words = {ONE_OF.get(word, word) for word in name_key(joint.what.replace(",", " ")).split()}
    says_what_it_is = joint.kind == "loose part" or (joint.kind == "screw" and not words.isdisjoint(_NOT_JUST_SCREWS))
    return joint.what if says_what_it_is else f"{joint.kind} {joint.what}"


def noun_of(joint: Joint) -> str:
    """What it is counted as: only screws count as screws, and a ring, nut or pin as another fastener."""
    return "other fastener" if joint.kind == "screw" and _is_no_screw(joint) else joint.kind


def _is_no_screw(joint: Joint) -> bool:
    words = {ONE_OF.get(word, word) for word in name_key(joint.what.replace(",", " ")).split()}
    return not words.isdisjoint(_NO_SCREWS)


@lru_cache(maxsize=10_000)
def may_be(one: Joint, other: Joint) -> bool:
    """Whether two may be the same thing: the same words, or one of them left open what the other says.

    Two screws whose threads were taken have to agree in all; so have two shims in their place.
    """
    if one.kind != other.kind:
        return False
    if name_key(one.what) == name_key(other.what):
        return True
    if one.is_taken and other.is_taken and one.kind not in {"loose part", "lead"}:
        return False
    if one.kind == "shim":
        return name_key(one.what.partition(", ")[2]) == name_key(other.what.partition(", ")[2])
    said, other_said = _said(one), _said(other)
    return said <= other_said or other_said <= said


def _said(joint: Joint) -> frozenset[str]:
    """The words of a description, one spelling of each; a hand that goes without saying is none."""
    words = name_key(joint.what.replace(THREAD_NOT_TAKEN, "").replace(",", " ")).split()
    return frozenset(word.removesuffix("s") for word in words)


@dataclass(frozen=True)
class Pairing:
    """What goes back against what is out."""

    filled: Mapping[Joint, int]  # of what is out
    missing: Mapping[Joint, int]  # of what is out
    added: Mapping[Joint, int]  # of what goes back


def pairing(out: Mapping[Joint, int], back: Mapping[Joint, int]) -> Pairing:
    """Pair what goes back with what is out, so that as little as possible is missing.

    What is called the same is paired first; then what may be the same, by augmenting paths [kuhn-1955].
    """
    is_out = [joint for joint, count in out.items() for _ in range(count)]
    going = [joint for joint, count in back.items() for _ in range(count)]
    taken: dict[int, int] = {}  # the unit that goes back in the place of each unit that is out
    for joint in out:
        places, units = ([i for i, each in enumerate(found) if each == joint] for found in (is_out, going))
        taken.update(zip(places, units, strict=False))

    def placed(i_back: int, seen: set[int]) -> bool:
        for i_out, joint in enumerate(is_out):
            if i_out not in seen and may_be(joint, going[i_back]):
                seen.add(i_out)
                if i_out not in taken or placed(taken[i_out], seen):
                    taken[i_out] = i_back
                    return True
        return False

    for i_back in sorted({*range(len(going))} - {*taken.values()}):
        placed(i_back, set())
    filled = Counter(is_out[i_out] for i_out in taken)
    added = Counter(going) - Counter(going[i_back] for i_back in taken.values())
    return Pairing(filled=filled, missing=Counter(is_out) - filled, added=added)


def came_out(held: Mapping[Joint, int], removed: Removed) -> dict[Joint, int]:
    """What is out once a part came off: what was told, and of what held it, what did not come out with it.

    Parameters
    ----------
    held
        What went in with it the last time; nothing where it is off for the first time.
    """
    told = hardware(removed)
    return dict(Counter(told) + Counter(pairing(held, told).missing)) if held else told
