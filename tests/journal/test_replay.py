"""Undoing in the middle: what it says is what a slow, plain replay says, and a long journal does not make it slow."""

from collections.abc import Sequence
from cProfile import Profile
from dataclasses import replace

from hypothesis import given, settings
from hypothesis import strategies as st

from camerawright.journal.corrections import in_force
from camerawright.journal.entries import Corrected, Entry, Noted, Ordered, Refitted, Removed, part_key
from camerawright.journal.groups import groups_of
from camerawright.journal.known import Known
from camerawright.journal.order import Constraint, OrderFacts, said_by, spread
from camerawright.journal.replay import broken_by, is_judged
from camerawright.journal.rules import judged_again
from camerawright.journal.state import State, fold, states_before
from tests.journal.makers import Clock, journals, strip


def plainly_broken(state: State, corrections: Sequence[Corrected], known: Known) -> set[tuple[str, str]]:
    """What corrections break: every entry judged in a state folded from nothing, every constraint looked at."""
    before, after = in_force(state.journal)[0], in_force([*state.journal, *corrections])[0]
    start = next(
        (i for i, (a, b) in enumerate(zip(before, after, strict=False)) if a != b), min(len(before), len(after))
    )
    return _plainly(after, start, known) - _plainly(before, start, known)


def _plainly(standing: Sequence[Entry], start: int, known: Known) -> set[tuple[str, str]]:
    groups = known.learned.groups | groups_of(fold(standing))
    found = set()
    for i in range(start, len(standing)):
        *_, (state, entry) = states_before(standing[: i + 1], start=i, wanted=is_judged)
        if state is not None:
            said = tuple(each for earlier in standing[:i] for each in said_by(earlier))
            constraints = spread((*known.learned.constraints, *said), groups)
            sorted_out: dict[str, list[Entry]] = {}
            for one in standing[:i]:
                for key in {constraint.keys[1] for constraint in said_by(one)}:
                    sorted_out.setdefault(key, []).append(one)
            plain = replace(
                state, over={key: tuple(ones) for key, ones in sorted_out.items()}, treated=tuple(standing[:i])
            )
            then = _then(plain, entry, known, constraints)
            found |= {(entry.id, trouble.what) for trouble in judged_again(plain, entry, then)}
    return found


def _then(state: State, entry: Entry, known: Known, constraints: tuple[Constraint, ...]) -> Known:
    then = replace(known, named=None, back_first={}, checks_first={}, clash=None, n_waiting=0)
    if not isinstance(entry, Removed | Refitted | Ordered):
        return then
    key = part_key(entry.part) if isinstance(entry, Refitted) else ""
    bars = [c for c in constraints if c.certain and c.keys[0] == key and state.part(c.then).status == "off"]
    return replace(then, constraints=constraints, back_first={key: tuple(bars)} if key else {})


LEARNED = OrderFacts(constraints=(Constraint(first="dial", then="plate", reason="seen before"),))


@settings(max_examples=60, deadline=None)
@given(journals(), st.data())
def test_what_an_undo_breaks_is_what_a_plain_replay_says(journal: list[Entry], data: st.DataObject) -> None:
    if not journal:
        return
    state = fold(journal)
    at = state.journal[-1].at
    targets = data.draw(
        st.lists(st.sampled_from(state.journal), min_size=1, max_size=3, unique_by=lambda each: each.id)
    )
    known = data.draw(st.sampled_from([Known(), Known(learned=LEARNED, constraints=LEARNED.constraints)]))
    corrections = [Corrected(at=at, entry=each.id) for each in targets]
    found = {(each.entry.id, each.trouble.what) for each in broken_by(state, corrections, known, judged_again)}
    assert found == plainly_broken(state, corrections, known)


def _calls_of_an_undo(n_parts: int) -> int:
    """How many calls it takes to judge an undo of the first note, in a journal of a strip-down and its way back."""
    clock = Clock()
    names = [f"part {n}" for n in range(n_parts)]
    journal: list[Entry] = [Noted(at=clock(), note="first")]
    for name in names:
        journal += [*strip(name, clock=clock), Noted(at=clock(), note="a word")]
    journal += [Refitted(at=clock(), part=name) for name in reversed(names)]
    state = fold(journal)
    undo = Corrected(at=clock(), entry=journal[0].id)
    with Profile() as profile:
        assert not broken_by(state, [undo], Known(), judged_again)
    return sum(each.callcount for each in profile.getstats())


def test_an_undo_in_a_journal_four_times_as_long_takes_no_more_than_six_times_the_calls() -> None:
    """A replay that looks through all earlier entries for each later one takes up to sixteen times as many."""
    n_before, n_after = _calls_of_an_undo(40), _calls_of_an_undo(160)
    assert n_after < 6 * n_before
