"""What a job may rest on besides its own journal."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from camerawright.journal.entries import HoldPoint
from camerawright.journal.order import Constraint, OrderFacts, Pair


@dataclass(frozen=True, kw_only=True)
class Known:
    """What earlier jobs taught of the variant, and the present way back."""

    named: Mapping[str, str] | None = None  # of parts, by key, as other jobs call them; None where nobody is asked
    constraints: tuple[Constraint, ...] = ()  # of other jobs and of this one
    learned: OrderFacts = field(default_factory=OrderFacts)  # of other jobs alone
    marks_wanted: Mapping[str, str] = field(default_factory=dict)  # part key -> mark asked for
    shims_seen: Mapping[str, str] = field(default_factory=dict)  # part key -> where like joints had a shim
    leads_seen: Mapping[str, str] = field(default_factory=dict)  # part key -> the leads of the last one that came off
    frees: Mapping[str, tuple[str, ...]] = field(default_factory=dict)  # part key -> what gets loose once it moves
    back_first: Mapping[str, tuple[Constraint, ...]] = field(default_factory=dict)  # what bars a part's refit
    checks_first: Mapping[str, tuple[HoldPoint, ...]] = field(default_factory=dict)  # checks placed before a part
    curing: Mapping[str, str] = field(default_factory=dict)  # part key -> what cures in place beneath it
    one_step: frozenset[Pair] = frozenset()  # parts that one screw holds, and that go on in the other order
    clash: str | None = None  # why there is no way back
    beneath: Mapping[str, Sequence[Constraint]] | None = None  # the constraints, by what comes off later, if sorted
    names: frozenset[str] = frozenset()  # keys of the parts that other jobs knew
    film_inside: bool = False  # as the camera was taken in
    n_waiting: int = 0  # recordings of this job that no entry was made of yet

    def over(self, key: str) -> Sequence[Constraint]:
        """What is said to come off before a part."""
        if self.beneath is not None:
            return self.beneath.get(key, ())
        return [constraint for constraint in self.constraints if constraint.keys[1] == key]
