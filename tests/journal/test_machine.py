"""The whole as an invariant machine: any play that the rules let through keeps the record sound."""

import random
from itertools import pairwise
from typing import Any

from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, invariant, precondition, rule

from camerawright.job.ledger import ledger
from camerawright.journal.entries import (
    CLOSING,
    AccountedFor,
    AidFitted,
    AidTakenOut,
    Answered,
    Arrived,
    Awaited,
    Cautioned,
    Closed,
    Corrected,
    Entry,
    Fastener,
    Found,
    HandedBack,
    HoldPoint,
    Independent,
    Loose,
    Marked,
    MarkWanted,
    Measured,
    NeedsState,
    Noted,
    Ordered,
    Refitted,
    Reminded,
    Removed,
    Reopened,
    Set,
    Shim,
    Tension,
    Tried,
)
from camerawright.journal.known import Known
from camerawright.journal.replay import brought_by
from camerawright.journal.rules import judged_again
from camerawright.journal.state import State, fold
from tests.journal.physics import impossible
from tests.journal.play import Bench, Tally, in_force

NAMES = ("top plate", "dial", "shutter", "rack", "bellows", "spool")
PARTS = st.sampled_from(NAMES)
UNDER = st.lists(PARTS, max_size=2, unique=True).map(tuple)
SCREWS = st.lists(
    st.builds(
        Fastener,
        count=st.integers(1, 4),
        size=st.sampled_from(["M1.4", "M1.7"]),
        through=st.sampled_from([None, None, None, *NAMES]),
    ),
    max_size=2,
).map(tuple)
SHIMS = st.lists(st.builds(Shim, place=st.just("NE"), count=st.integers(1, 2), thickness_mm=st.just(0.1)), max_size=1)
LOOSE = st.lists(st.builds(Loose, what=st.just("ball 1.5 mm")), max_size=1)
WHY = st.sampled_from([None, None, None, "as this one is"])  # a quarter of the refusals is overruled


def _sum(state: State) -> tuple[object, ...]:
    """What a state adds up to, but for the journal it came from."""
    return (
        state.entries,
        state.parts,
        state.settings,
        state.aids,
        state.promises,
        state.answers,
        state.tension,
        state.conflicts,
        state.is_closed,
    )


class Machine(RuleBasedStateMachine):
    """A repairer at play, not always in the right order."""

    def __init__(self) -> None:
        super().__init__()
        self.bench = Bench()
        self.is_forced = False  # whether a correction went through that takes the ground from a later entry

    def _enter(self, kind: type, **fields: Any) -> None:
        """Offer an entry; where it goes through without a reason to overrule, look whether it should have."""
        entry: Entry = kind(**self.bench.stamp(), **fields)
        before = Tally(self.bench.entries)
        if self.bench.enter(entry):
            return
        if isinstance(entry, Corrected) and entry.overruled:
            self.is_forced |= bool(impossible(in_force(self.bench.entries)))
        match entry:
            case Removed(part=part) if not entry.overruled:
                assert set(entry.under) <= {*before.order, *before.gone}
                assert part not in before.order
            case Refitted(part=part) if not entry.overruled:
                assert part in before.order
                assert not before.beneath(part), "refitted before what sits under it"
            case Closed():
                assert before.balances
                assert not before.is_owed
            case _:
                pass

    @rule(part=PARTS, data=st.data(), screws=SCREWS, shims=SHIMS, loose=LOOSE, why=WHY)
    def remove(self, part: str, data: st.DataObject, screws: Any, shims: Any, loose: Any, why: str | None) -> None:
        off = Tally(self.bench.entries).order
        under = data.draw(st.one_of(st.just(()), UNDER, st.lists(st.sampled_from(off or NAMES), max_size=1).map(tuple)))
        under = tuple(name for name in under if name != part)
        self._enter(
            Removed, part=part, under=under, fasteners=screws, shims=tuple(shims), loose=tuple(loose), overruled=why
        )

    @rule(parts=st.lists(PARTS, min_size=2, max_size=5, unique=True), screws=SCREWS)
    def strip_down(self, parts: list[str], screws: Any) -> None:
        for part in parts:
            self._enter(Removed, part=part, fasteners=screws)

    @precondition(lambda self: bool(Tally(self.bench.entries).order))
    @rule(data=st.data(), is_whole=st.sampled_from([True, True, False]), why=WHY)
    def refit(self, data: st.DataObject, is_whole: bool, why: str | None) -> None:
        part = data.draw(st.sampled_from(Tally(self.bench.entries).order))
        removed = fold(self.bench.entries).part(part).removed
        fields: dict[str, Any] = {}
        if removed and is_whole:
            fields = {"fasteners": removed.fasteners, "shims": removed.shims, "loose": removed.loose}
        self._enter(Refitted, part=part, overruled=why, **fields)

    @rule(first=PARTS, then=PARTS, certain=st.booleans())
    def order(self, first: str, then: str, certain: bool) -> None:
        self._enter(Ordered, first=first, then=then, certain=certain, reason="covers it")

    @rule(parts=st.lists(PARTS, min_size=2, max_size=4, unique=True))
    def strip_what_covers(self, parts: list[str]) -> None:
        """Each sits over the next, and they come off in that order."""
        for first, then in pairwise(parts):
            self._enter(Ordered, first=first, then=then, reason="covers it")
        for part in parts:
            self._enter(Removed, part=part)

    @rule(first=PARTS, then=PARTS)
    def put_back_the_wrong_way_round(self, first: str, then: str) -> None:
        """The upper part goes back despite a refusal; then the lower one is tried without a word."""
        for part, why in ((first, "to see"), (then, None)):
            removed = fold(self.bench.entries).part(part).removed
            if removed and part in Tally(self.bench.entries).order:
                fields = {"fasteners": removed.fasteners, "shims": removed.shims, "loose": removed.loose}
                self._enter(Refitted, part=part, overruled=why, **fields)

    @rule(data=st.data())
    def undo_a_move(self, data: st.DataObject) -> None:
        moves = [each for each in in_force(self.bench.entries) if isinstance(each, Removed | Refitted | Set | Marked)]
        if moves:
            self._enter(Corrected, entry=data.draw(st.sampled_from(moves)).id)

    @rule(data=st.data())
    def check_at_once(self, data: st.DataObject) -> None:
        needs = tuple(data.draw(st.lists(st.sampled_from(Tally(self.bench.entries).order or NAMES), max_size=2)))
        self._enter(HoldPoint, check="runs free", needs=needs)
        self._enter(Answered, entry=self.bench.entries[-1].id, answer="it does")

    @rule(part=PARTS, n_wanted=st.integers(1, 2), n_noted=st.integers(0, 2))
    def mark_and_remove(self, part: str, n_wanted: int, n_noted: int) -> None:
        marks = ("25 at the stop", "dot at twelve")
        for mark in marks[:n_wanted]:
            self._enter(MarkWanted, part=part, mark=mark)
        for mark in marks[:n_noted]:
            self._enter(Marked, part=part, mark=mark)
        self._enter(Removed, part=part)

    @rule(part=PARTS, other=PARTS)
    def free(self, part: str, other: str) -> None:
        self._enter(Independent, part=part, other=other, reason="seen")

    @rule(part=PARTS, kind=st.sampled_from([Marked, MarkWanted]))
    def mark(self, part: str, kind: type) -> None:
        self._enter(kind, part=part, mark="25 at the stop")

    @rule(part=st.sampled_from([*NAMES, CLOSING]), needs=UNDER)
    def hold(self, part: str, needs: Any) -> None:
        self._enter(HoldPoint, part=part, check="runs free", needs=needs)

    @rule(part=st.sampled_from([*NAMES, CLOSING]))
    def remind(self, part: str) -> None:
        self._enter(Reminded, part=part, todo="hook the spring")

    @rule(part=PARTS)
    def find(self, part: str) -> None:
        self._enter(Found, part=part, defect="worn", todo="make one")

    @precondition(lambda self: bool(fold(self.bench.entries).open_promises))
    @rule(data=st.data())
    def answer(self, data: st.DataObject) -> None:
        owed = data.draw(st.sampled_from([promise.id for promise in fold(self.bench.entries).open_promises]))
        self._enter(Answered, entry=owed, answer="done")

    @rule(data=st.data(), is_over=st.booleans())
    def wait(self, data: st.DataObject, is_over: bool) -> None:
        part = data.draw(st.sampled_from(Tally(self.bench.entries).order or NAMES))
        if is_over:
            self._enter(Arrived, part=part)
        else:
            self._enter(Awaited, part=part, awaiting="on order")

    @rule(data=st.data())
    def account(self, data: st.DataObject) -> None:
        part = data.draw(st.sampled_from(Tally(self.bench.entries).order or NAMES))
        self._enter(AccountedFor, part=part, reason="crumbled")

    @rule(aid=st.sampled_from(["tape", "wedge"]), is_in=st.booleans())
    def aid(self, aid: str, is_in: bool) -> None:
        if is_in:
            self._enter(AidFitted, aid=aid, place="on the shutter")
        else:
            self._enter(AidTakenOut, aid=aid)

    @rule(part=PARTS, how=st.sampled_from(["released", "cocked"]), moves=st.sampled_from(["removal", "refit", "both"]))
    def need_state(self, part: str, how: str, moves: str) -> None:
        self._enter(NeedsState, part=part, settings={"shutter": how}, moves=moves, reason="hooks in")

    @rule(how=st.sampled_from(["released", "cocked"]))
    def set_state(self, how: str) -> None:
        self._enter(Set, settings={"shutter": how})

    @precondition(lambda self: bool(self.bench.entries))
    @rule(data=st.data(), why=WHY)
    def undo(self, data: st.DataObject, why: str | None) -> None:
        target = data.draw(st.sampled_from(self.bench.entries))
        self._enter(Corrected, entry=target.id, overruled=why)

    @precondition(lambda self: bool(self.bench.entries))
    @rule(data=st.data(), part=PARTS, screws=SCREWS, why=WHY)
    def replace(self, data: st.DataObject, part: str, screws: Any, why: str | None) -> None:
        """Another part, other screws, or another thing altogether."""
        target = data.draw(st.sampled_from(self.bench.entries))
        fields: dict[str, Any] = {"at": target.at, "fasteners": screws}
        becomes = data.draw(
            st.sampled_from(
                [
                    Removed(part=part, **fields),
                    Refitted(part=part, **fields),
                    Noted(at=target.at, note="a slip"),
                    Ordered(at=target.at, first=part, then="shutter", reason="pins it"),
                ]
            )
        )
        self._enter(Corrected, entry=target.id, becomes=becomes, overruled=why)

    @rule(turns=st.sampled_from([2.0, 3.0]), act=st.sampled_from(["let down", "tensioned"]), why=WHY)
    def turn(self, turns: float, act: str, why: str | None) -> None:
        direction = "anticlockwise" if act == "let down" else "clockwise"
        self._enter(Tension, spring="curtain", act=act, turns=turns, direction=direction, overruled=why)

    @rule(part=PARTS, outcome=st.sampled_from(["moved", "worse"]))
    def force(self, part: str, outcome: str) -> None:
        self._enter(Tried, part=part, fastener="NE screw", rung="right driver", outcome=outcome)

    @rule(phase=st.sampled_from(["as found", "as left", "as left"]), marked=st.sampled_from(["1/25", "1/50"]), why=WHY)
    def measure(self, phase: str, marked: str, why: str | None) -> None:
        self._enter(
            Measured, test="shutter", phase=phase, method="any", setup={"marked": marked}, result={},
            recording="0" * 64, overruled=why,
        )  # fmt: skip

    @rule(part=PARTS, what=st.sampled_from(["ball 1.5 mm", "click spring"]))
    def warn(self, part: str, what: str) -> None:
        self._enter(Cautioned, part=part, hazard="jumps", frees=(what,))

    @precondition(lambda self: len(self.bench.entries) > 8)
    @rule(why=WHY)
    def close(self, why: str | None) -> None:
        self._enter(Closed, overruled=why)

    @precondition(lambda self: len(self.bench.entries) > 8)
    @rule(why=WHY)
    def hand_back(self, why: str | None) -> None:
        self._enter(HandedBack, to="the owner", overruled=why)

    @rule()
    def reopen(self) -> None:
        self._enter(Reopened, reason="something was left")

    @precondition(lambda self: len(self.bench.entries) > 8)
    @rule()
    def wind_up(self) -> None:
        """Everything back as the way back says, hardware and all; what is owed answered; then the closing is tried."""
        for _ in NAMES:
            state = fold(self.bench.entries)
            for promise in state.open_promises:
                self._enter(Answered, entry=promise.id, answer="done")
            way = self.bench.way(state)
            if way is None or not way.steps:
                break
            removed = way.steps[0].part.removed
            assert removed is not None
            fields = {"fasteners": removed.fasteners, "shims": removed.shims, "loose": removed.loose}
            self._enter(Refitted, part=removed.part, overruled="whatever state it is in", **fields)
        self._enter(Closed)

    @invariant()
    def nothing_impossible_happened_without_a_reason(self) -> None:
        """Corrections and all: what stands might have been entered just so."""
        if not self.is_forced:
            assert impossible(in_force(self.bench.entries)) == []

    @invariant()
    def nothing_contradicts_itself(self) -> None:
        state = fold(self.bench.entries)
        assert state.conflicts == ()
        tally = Tally(self.bench.entries)
        assert tally.clashes == 0
        assert state.entries == tuple(tally.standing)
        assert [part.name for part in state.off] == tally.order
        assert bool(state.open_promises) == tally.is_owed

    @invariant()
    def the_ledger_is_the_fold(self) -> None:
        state = fold(self.bench.entries)
        lines = {(line.part, line.kind, line.what): line.n_open for line in ledger(state).lines if line.n_open}
        assert lines == {(p.name, *joint): n for p in state.parts.values() for joint, n in p.out.items()}
        tally = Tally(self.bench.entries)
        assert lines == {(part, *joint): n for part, out in tally.out.items() for joint, n in out.items() if n}

    @invariant()
    def the_way_back_holds_everything_once(self) -> None:
        state = fold(self.bench.entries)
        way = self.bench.way(state)
        if way is not None:
            keys = [step.part.key for step in way.steps] + [item.part.key for item in way.waiting]
            assert sorted(keys) == sorted(part.key for part in state.off)

    def teardown(self) -> None:
        entries = self.bench.entries
        whole = fold(entries)
        shuffled = [*entries, *entries]
        random.Random(len(entries)).shuffle(shuffled)
        assert fold(shuffled) == whole, "import twice is import once, in whatever order"
        told = brought_by((), entries, Known(), judged_again)
        assert told == (), "an honest journal is read in without a word"
        last = self.bench.stamp()
        for entry in entries:
            if isinstance(entry, Corrected):
                continue
            undone = fold([*entries, Corrected(**last, entry=entry.id)])
            rest = [e for e in in_force(entries) if e.id != entry.id]
            assert _sum(undone)[0] == tuple(rest), "an undo and a replay commute"
            assert _sum(undone) == _sum(fold(rest)), "an undone entry has never been"
            note = Noted(at=entry.at, id="f" * 32, note="something else")
            replaced = fold([*entries, Corrected(**last, entry=entry.id, becomes=note)])
            instead = [*rest, note.model_copy(update={"id": entry.id})]
            assert _sum(replaced)[1:] == _sum(fold(instead))[1:], "a replacement stands where the entry stood"


TestMachine = Machine.TestCase
TestMachine.settings = settings(max_examples=80, stateful_step_count=30, deadline=None)
