"""Threads that nobody took while stripping: counted, paired at the refit, and taken later."""

from collections import Counter
from itertools import permutations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from camerawright.job.ledger import ledger, not_taken_words
from camerawright.journal.entries import Entry, Fastener, Gauged, Refitted, Removed, Shim
from camerawright.journal.joints import Joint, hardware, joint_text, may_be, pairing
from camerawright.journal.known import Known
from camerawright.journal.rules import troubles
from camerawright.journal.state import State, fold
from tests.journal.makers import NOW, Clock

COVER = "top cover"


def _said(state: State, entry: Entry) -> list[str]:
    return [trouble.what for trouble in troubles(state, entry, now=NOW, known=Known())]


def test_two_screws_go_back_as_two_screws_whatever_was_taken() -> None:
    clock = Clock()
    taken = Removed(
        at=clock(),
        part=COVER,
        fasteners=(Fastener(count=1, size="M1.7", length_mm=4), Fastener(count=1, size="M1.4", head="grub")),
    )
    state = fold([taken])
    back = Refitted(at=clock(), part=COVER, fasteners=(Fastener(count=2),))
    assert _said(state, back) == []
    assert fold([taken, back]).n_out == 0
    one_short = back.model_copy(update={"fasteners": (Fastener(count=1),)})
    assert len(_said(state, one_short)) == 1
    one_more = back.model_copy(update={"fasteners": (Fastener(count=3),)})
    assert _said(state, one_more) == [f"{COVER}: 0 × screw thread not taken came out, 1 going back"]


def test_sizes_taken_later_stand_in_the_removal_the_ledger_and_the_way_back() -> None:
    clock = Clock()
    off = Removed(
        at=clock(),
        part=COVER,
        fasteners=(Fastener(count=3), Fastener(count=1, size="M2", hole="NE")),
        shims=(Shim(count=2, place="NE corner"),),
    )
    state = fold([off])
    assert not_taken_words(state) == (
        f"{COVER}: 3 × screw thread not taken",
        f"{COVER}: 2 × shim thickness not taken, NE corner",
    )
    sizes = Gauged(
        at=clock(),
        part="Top-Cover",
        fasteners=(Fastener(count=2, size="M1.7", length_mm=4, head="cheese"),),
        shims=(Shim(count=2, thickness_mm=0.1, place="ne corner"),),
    )
    assert _said(state, sizes) == []
    after = fold([off, sizes])
    removed = after.part(COVER).removed
    assert removed is not None
    assert removed.fasteners == (
        Fastener(count=2, size="M1.7", length_mm=4, head="cheese"),
        Fastener(count=1),
        Fastener(count=1, size="M2", hole="NE"),
    )
    assert removed.shims == (Shim(count=2, thickness_mm=0.1, place="NE corner"),)
    assert not_taken_words(after) == (f"{COVER}: 1 × screw thread not taken",)
    assert ledger(after).n_open("screw") == 4
    assert after.n_out == state.n_out


@pytest.mark.parametrize(
    "fasteners",
    [
        (Fastener(count=3, size="M1.7"),),  # two are open
        (Fastener(count=1, size="M1.7", head="grub"),),  # of cheese-heads
        (Fastener(count=1, size="M1.7", hole="SW"),),
        (),
    ],
)
def test_more_than_was_left_open_is_refused(fasteners: tuple[Fastener, ...]) -> None:
    clock = Clock()
    off = Removed(at=clock(), part=COVER, fasteners=(Fastener(count=2, head="cheese", hole="NE"),))
    assert len(_said(fold([off]), Gauged(at=clock(), part=COVER, fasteners=fasteners))) == 1
    assert len(_said(fold([]), Gauged(at=clock(), part=COVER, fasteners=(Fastener(count=1, size="M2"),)))) == 1


SCREWS = st.lists(
    st.builds(
        Fastener,
        count=st.just(1),
        size=st.sampled_from([None, "M1.7", "M1.4"]),
        head=st.sampled_from([None, "cheese", "grub"]),
    ),
    max_size=5,
).map(tuple)


def _fewest_missing(out: list[Joint], back: list[Joint]) -> int:
    """[kuhn-1955]: by trying every order of what goes back: the world's answer, for a handful of screws."""
    best = len(out)
    for order in permutations(back):
        left = list(out)
        for going in order:
            fits = [joint for joint in left if may_be(joint, going)]
            if fits:
                left.remove(min(fits, key=lambda joint: (joint != going, joint)))
        best = min(best, len(left))
    return best


@given(SCREWS, SCREWS)
def test_as_little_as_possible_is_missing_and_nothing_is_counted_twice(
    out: tuple[Fastener, ...], back: tuple[Fastener, ...]
) -> None:
    clock = Clock()
    there = hardware(Removed(at=clock(), part=COVER, fasteners=out))
    going = hardware(Refitted(at=clock(), part=COVER, fasteners=back))
    paired = pairing(there, going)
    assert Counter(paired.filled) + Counter(paired.missing) == Counter(there)
    assert sum(paired.filled.values()) + sum(paired.added.values()) == len(back)
    units = [list(Counter(joints).elements()) for joints in (there, going)]
    assert sum(paired.missing.values()) == _fewest_missing(units[0], units[1])


@pytest.mark.parametrize(
    ("joint", "said"),
    [
        (Joint("screw", "M1.7 × 4 mm cheese"), "screw M1.7 × 4 mm cheese"),
        (Joint("screw", "M1.4 grub"), "screw M1.4 grub"),
        (Joint("screw", "rivet"), "rivet"),
        (Joint("screw", "hinge pin"), "hinge pin"),
        (Joint("screw", "M2 nut"), "M2 nut"),
        (Joint("loose part", "hairspring, the pivot"), "hairspring, the pivot"),
        (Joint("shim", "0.10 mm, NE corner"), "shim 0.10 mm, NE corner"),
    ],
)
def test_a_rivet_a_pin_and_a_nut_are_called_what_they_are(joint: Joint, said: str) -> None:
    assert joint_text(joint) == said
