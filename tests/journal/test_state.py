"""The fold of a journal: identities that hold for every journal, and small ones with a known answer."""

import random
from collections import Counter

from hypothesis import given
from hypothesis import strategies as st

from camerawright.journal.entries import (
    ENTRY,
    AccountedFor,
    Answered,
    Corrected,
    Entry,
    Fastener,
    Found,
    Refitted,
    Reminded,
    Removed,
    Shim,
    written,
)
from camerawright.journal.joints import Joint, hardware
from camerawright.journal.state import fold
from tests.journal.makers import Clock, journals, strip


@given(journals(), st.randoms(use_true_random=False))
def test_the_order_in_which_entries_arrive_does_not_matter(journal: list[Entry], shuffler: random.Random) -> None:
    shuffled = list(journal)
    shuffler.shuffle(shuffled)
    assert fold(shuffled) == fold(journal)


@given(journals())
def test_importing_twice_is_importing_once(journal: list[Entry]) -> None:
    assert fold([*journal, *journal]) == fold(journal)


@given(journals())
def test_every_entry_survives_being_written_and_read(journal: list[Entry]) -> None:
    assert [ENTRY.validate_json(written(entry)) for entry in journal] == journal


@given(journals())
def test_an_undo_leaves_the_state_as_if_the_entry_had_never_been(journal: list[Entry]) -> None:
    before = fold(journal)
    at = Clock()()
    last = max((entry.at for entry in journal), default=at)
    new = Removed(at=last.replace(microsecond=1), part="prism", fasteners=(Fastener(count=2, size="M2"),))
    undo = Corrected(at=last.replace(microsecond=2), entry=new.id)
    after = fold([*journal, new, undo])
    assert (after.parts, after.promises, after.aids, after.conflicts) == (
        before.parts,
        before.promises,
        before.aids,
        before.conflicts,
    )
    redone = fold([*journal, new, undo, Corrected(at=last.replace(microsecond=3), entry=undo.id)])
    assert redone.parts == fold([*journal, new]).parts


@given(journals())
def test_what_is_out_is_what_came_out_less_what_went_in_or_was_accounted_for(journal: list[Entry]) -> None:
    """Counted over again part by part, without the fold's own bookkeeping.

    What went in the last time and was not told to come out again is out all the same.
    """
    state = fold(journal)
    for key, part in state.parts.items():
        out, held = Counter[Joint](), Counter[Joint]()
        for entry in state.entries:
            if getattr(entry, "part", "") != part.name:
                continue
            match entry:
                case Removed():
                    told = Counter(hardware(entry))
                    out, held = out + told + (held - told), Counter()
                case Refitted():
                    out, held = out - Counter(hardware(entry)), Counter(hardware(entry))
                case AccountedFor():
                    out.clear()
                case _:
                    pass
        assert dict(part.out) == dict(out), key


@given(journals())
def test_every_part_stands_in_one_place(journal: list[Entry]) -> None:
    state = fold(journal)
    last_move = {}
    for entry in state.entries:
        if isinstance(entry, Removed | Refitted):
            last_move[entry.part] = entry.kind
    for part in state.parts.values():
        if part.status == "off":
            assert last_move[part.name] == "removed"
    assert len({part.key for part in state.off}) == len(state.off)


def test_a_replacement_keeps_the_place_and_the_id_of_what_it_corrects() -> None:
    clock = Clock()
    wrong = Removed(at=clock(), part="top plaet")
    later = Removed(at=clock(), part="shutter")
    right = Corrected(at=clock(), entry=wrong.id, becomes=Removed(at=clock(), part="top plate"))
    state = fold([wrong, later, right])
    assert [part.name for part in state.off] == ["top plate", "shutter"]
    assert state.entries[0].id == wrong.id


def test_a_part_removed_twice_is_a_conflict_that_shows() -> None:
    state = fold([*strip("dial"), *strip("dial")])
    assert state.conflicts == ("dial came off twice without going back in between",)


def test_spelling_does_not_make_two_parts_of_one() -> None:
    clock = Clock()
    state = fold([Removed(at=clock(), part="Top  Plate"), Refitted(at=clock(), part="top plate")])
    assert state.off == ()
    assert state.conflicts == ()


def test_screws_are_told_apart_by_length_and_hand() -> None:
    clock = Clock()
    out = (Fastener(count=3, size="M1.7", length_mm=4), Fastener(count=1, size="M1.7", length_mm=2.5, hand="left"))
    back = (Fastener(count=4, size="M1.7", length_mm=4),)
    state = fold([Removed(at=clock(), part="cover", fasteners=out), Refitted(at=clock(), part="cover", fasteners=back)])
    assert dict(state.part("cover").out) == {("screw", "M1.7 × 2.5 mm left-hand"): 1}


def test_a_shim_in_another_corner_does_not_count_as_back() -> None:
    clock = Clock()
    lain = Shim(place="NE corner", count=1, thickness_mm=0.1)
    put = Shim(place="SW corner", count=1, thickness_mm=0.1)
    state = fold([Removed(at=clock(), part="mount", shims=(lain,)), Refitted(at=clock(), part="mount", shims=(put,))])
    assert dict(state.part("mount").out) == {("shim", "0.10 mm, NE corner"): 1}


def test_a_finding_is_owed_only_if_it_says_what_to_do() -> None:
    clock = Clock()
    seen = Found(at=clock(), part="bellows", defect="pinhole at a corner")
    to_mend = Found(at=clock(), part="bellows", defect="pinhole", todo="patch it")
    reminder = Reminded(at=clock(), part="bellows", todo="centre before tightening")
    answer = Answered(at=clock(), entry=reminder.id, answer="centred")
    assert fold([seen, to_mend, reminder, answer]).open_promises == (to_mend,)
