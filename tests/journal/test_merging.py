"""Two benches that worked offline: their journals merge without loss, and a true conflict is shown."""

import random
from collections.abc import Sequence

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from camerawright.journal.balance import closing
from camerawright.journal.entries import (
    AccountedFor,
    AidFitted,
    AidTakenOut,
    Closed,
    Corrected,
    Entry,
    Fastener,
    Marked,
    Refitted,
    Removed,
)
from camerawright.journal.state import fold
from tests.journal.makers import START, Clock, strip
from tests.journal.play import Bench, Tally

Act = tuple[str, str, int]
ACTS = st.lists(
    st.tuples(
        st.sampled_from(["remove"] * 4 + ["refit"] * 4 + ["account", "aid in", "aid out", "undo", "close"]),
        st.sampled_from(["dial", "top plate", "shutter"]),
        st.integers(0, 99),
    ),
    max_size=10,
)


def _play(bench: Bench, acts: Sequence[Act]) -> list[Entry]:
    """Try every act; the rules let through what this bench alone may do. A reason is always at hand."""
    for act, part, which in acts:
        stamp = {**bench.stamp(), "overruled": "for the test"}
        match act:
            case "remove":
                entry: Entry = Removed(**stamp, part=part, fasteners=(Fastener(count=2, size="M1.7"),))
            case "refit":
                entry = Refitted(**stamp, part=part, fasteners=(Fastener(count=2, size="M1.7"),))
            case "account":
                entry = AccountedFor(**stamp, part=part, reason="crumbled")
            case "aid in":
                entry = AidFitted(**stamp, aid="wedge")
            case "aid out":
                entry = AidTakenOut(**stamp, aid="wedge")
            case "undo" if bench.entries:
                entry = Corrected(**stamp, entry=bench.entries[which % len(bench.entries)].id)
            case _:
                entry = Closed(**stamp)
        bench.enter(entry)
    return bench.entries


@settings(deadline=None)
@given(ACTS, ACTS, ACTS, st.randoms(use_true_random=False))
def test_two_offline_branches_merge_without_loss_and_a_true_conflict_is_shown(
    before: list[Act], here: list[Act], there: list[Act], shuffler: random.Random
) -> None:
    begun = _play(Bench(), before)
    ours, theirs = _play(Bench(begun, name=1), here), _play(Bench(begun, name=2), there)
    for branch in (begun, ours, theirs):
        assert fold(branch).conflicts == (), "each bench alone plays by the rules"
    merged = fold([*ours, *theirs])
    assert merged == fold([*theirs, *ours]) == fold(shuffler.sample([*ours, *theirs], len(ours) + len(theirs)))
    assert {entry.id for entry in merged.journal} == {entry.id for entry in (*ours, *theirs)}
    tally = Tally([*ours, *theirs[len(begun) :]])
    assert bool(merged.conflicts) == bool(tally.clashes)
    if merged.conflicts:
        shown = [problem.what for problem in closing(merged)]
        assert all(conflict in shown for conflict in merged.conflicts), "and it bars the closing"
        assert not any(problem.can_overrule for problem in closing(merged) if problem.what in merged.conflicts)
    else:
        assert [part.name for part in merged.off] == tally.order


def test_what_two_benches_did_to_different_parts_is_no_conflict() -> None:
    begun = strip("top plate", "dial")
    ours = Refitted(at=START.replace(hour=11), part="dial")
    theirs = Marked(at=START.replace(hour=11), part="shutter", mark="released")
    merged = fold([*begun, ours, *begun, theirs])
    assert merged.conflicts == ()
    assert [part.name for part in merged.off] == ["top plate"]
    assert merged.part("shutter").marks == (theirs,)


def _at(hour: int) -> dict[str, object]:
    return {"at": START.replace(hour=hour)}


@pytest.mark.parametrize(
    ("ours", "theirs", "shown"),
    [
        (Refitted(**_at(11), part="dial"), Refitted(**_at(12), part="dial"), "dial went back while it was on"),
        (
            AccountedFor(**_at(11), part="dial", reason="crumbled"),
            Refitted(**_at(12), part="dial"),
            "dial went back while it was accounted for",
        ),
        (
            Refitted(**_at(11), part="dial"),
            AccountedFor(**_at(12), part="dial", reason="crumbled"),
            "dial was accounted for while it was on, with nothing of it out",
        ),
        (
            AccountedFor(**_at(11), part="dial", reason="crumbled"),
            Removed(**_at(12), part="dial"),
            "dial came off after it was accounted for",
        ),
        (Closed(**_at(11)), Refitted(**_at(12), part="dial"), "dial went back after the job was closed"),
        (
            Removed(**_at(11), part="plate", fasteners=(Fastener(count=1, size="M2"),)),
            Closed(**_at(12)),
            "the job was closed while this was not settled: dial, plate",
        ),
    ],
)
def test_what_cannot_both_be_true_is_shown_in_words(ours: Entry, theirs: Entry, shown: str) -> None:
    begun = strip("dial")
    for merged in (fold([*begun, ours, theirs]), fold([theirs, *begun, ours])):
        assert shown in merged.conflicts


def test_both_benches_accounting_for_one_part_agree() -> None:
    clock = Clock()
    begun = strip("dial", clock=clock)
    both = [AccountedFor(at=clock(), part="dial", reason=why) for why in ("crumbled", "in crumbs")]
    merged = fold([*begun, *both])
    assert (merged.conflicts, merged.part("dial").status) == ((), "accounted for")


def test_of_two_corrections_of_one_entry_the_newer_counts_and_both_can_be_read() -> None:
    """Nothing tells a second thought from a second bench: so the newer one counts."""
    clock = Clock()
    wrong = Removed(at=clock(), part="top plaet")
    ours = Corrected(at=clock(), entry=wrong.id, becomes=Removed(at=wrong.at, part="top plate"))
    theirs = Corrected(at=clock(), entry=wrong.id, becomes=Removed(at=wrong.at, part="top cover"))
    merged = fold([theirs, wrong, ours])
    assert [part.name for part in merged.off] == ["top cover"]
    assert {ours, theirs} <= set(merged.journal)
