"""Play at a bench: entries that go through the rules or are refused, and a second opinion on what they add up to."""

from collections import Counter
from collections.abc import Iterable, Sequence
from datetime import datetime, timedelta

import networkx as nx

from camerawright.journal.entries import (
    CLOSING,
    AccountedFor,
    AidFitted,
    AidTakenOut,
    Answered,
    Closed,
    Corrected,
    Entry,
    Found,
    HoldPoint,
    Independent,
    Ordered,
    Refitted,
    Reminded,
    Removed,
    Reopened,
    Tried,
)
from camerawright.journal.joints import hardware
from camerawright.journal.known import Known
from camerawright.journal.order import order_facts
from camerawright.journal.rules import standing, troubles
from camerawright.journal.state import State, fold
from camerawright.refit.way_back import Contradiction, WayBack, way_back
from camerawright.trouble import Trouble
from tests.journal.makers import NOW, START


class Bench:
    """A journal that grows only by what the rules let through. Its `name` keeps two benches' ids and moments apart."""

    def __init__(self, begun: Sequence[Entry] = (), *, name: int = 0, now: datetime = NOW) -> None:
        self.entries: list[Entry] = list(begun)
        self.name = name
        self.now = now
        self.n_asked = max(((entry.at - START) // timedelta(minutes=1) for entry in begun), default=0)

    def stamp(self) -> dict[str, object]:
        """Id and moment of the next entry: later than all before, and no other bench's."""
        self.n_asked += 1
        return {
            "at": START + timedelta(seconds=60 * self.n_asked + self.name),
            "id": f"{self.name:02x}{self.n_asked:030x}",
        }

    def way(self, state: State) -> WayBack | None:
        """The way back of this journal alone; None if its reasons clash."""
        try:
            return way_back(
                state.off,
                order_facts(state),
                now=self.now,
                holds=[promise for promise in state.open_promises if isinstance(promise, HoldPoint)],
                back=[part for part in state.parts.values() if part.status == "on" and part.removed],
            )
        except Contradiction:
            return None

    def enter(self, entry: Entry) -> tuple[Trouble, ...]:
        """Enter it unless something stands against it; what does."""
        state = fold(self.entries)
        way = self.way(state)
        said = order_facts(state).constraints
        known = (
            Known(clash="the reasons clash", constraints=said)
            if way is None
            else Known(
                constraints=said,
                back_first=way.back_first,
                checks_first=way.checks_first,
                curing=way.curing,
                one_step=way.one_step,
            )
        )
        against = standing(troubles(state, entry, now=self.now, known=known), entry)
        if not against:
            self.entries.append(entry)
        return against


def in_force(entries: Iterable[Entry]) -> list[Entry]:
    """What stands after all corrections, by recursion: a correction counts if no later one that counts strikes it out.

    A second opinion: forwards from each entry, where the fold goes backwards through the journal.
    """
    ordered = sorted(entries, key=lambda entry: (entry.at, entry.id))

    def fate(i: int) -> Entry | None:
        """What stands in place of the i-th entry."""
        for j in range(len(ordered) - 1, -1, -1):
            other = ordered[j]
            if isinstance(other, Corrected) and other.entry == ordered[i].id and fate(j) is not None:
                if other.becomes is None:
                    return None
                return other.becomes.model_copy(update={"id": ordered[i].id, "at": ordered[i].at})
        return ordered[i]

    return [stands for i, e in enumerate(ordered) if not isinstance(e, Corrected) and (stands := fate(i)) is not None]


def _counted(entry: Removed | Refitted) -> Counter[tuple[str, str]]:
    return Counter({(joint.kind, joint.what): count for joint, count in hardware(entry).items()})


class Tally:
    """A second opinion on where things are: one pass over what stands, entry by entry."""

    def __init__(self, entries: Iterable[Entry]) -> None:
        self.standing = in_force(entries)
        self.order: list[str] = []  # what is off, in the order of removal
        self.gone: set[str] = set()
        self.out: dict[str, Counter[tuple[str, str]]] = {}
        self.held: dict[str, Counter[tuple[str, str]]] = {}  # what went in with a part that is on
        self.aids: Counter[str] = Counter()
        self.owed: dict[str, Entry] = {}
        self.clashes = 0
        self.is_closed = False
        for entry in self.standing:
            self._take(entry)

    def _take(self, entry: Entry) -> None:  # noqa: C901 a flat match is a table
        match entry:
            case Removed(part=part):
                self.clashes += self.is_closed + (part in self.order or part in self.gone)
                self._goes(part)
                self.gone.discard(part)
                self.order.append(part)
                came = _counted(entry)
                self.out[part] = self.out.get(part, Counter()) + came + (self.held.pop(part, Counter()) - came)
            case Refitted(part=part):
                self.clashes += self.is_closed + (part not in self.order)
                self._goes(part)
                self.gone.discard(part)
                self.out[part] = self.out.get(part, Counter()) - Counter(hardware(entry))
                self.held[part] = _counted(entry)
            case AccountedFor(part=part):
                if part in self.order:
                    self._goes(part)
                    self.gone.add(part)
                else:
                    self.clashes += part not in self.gone and not +self.out.get(part, Counter())
                self.out[part] = Counter()
            case AidFitted(aid=aid):
                self.clashes += self.is_closed
                self.aids[aid] += 1
            case AidTakenOut(aid=aid):
                self.clashes += not self.aids[aid]
                self.aids[aid] = max(0, self.aids[aid] - 1)
            case Closed():
                self.clashes += not self.balances
                self.is_closed = True
            case Reopened():
                self.is_closed = False
            case _:
                pass

    def _goes(self, part: str) -> None:
        if part in self.order:
            self.order.remove(part)

    @property
    def balances(self) -> bool:
        """Whether everything is back or accounted for, and no aid is in."""
        return not self.order and not any(+out for out in self.out.values()) and not any(self.aids.values())

    @property
    def is_owed(self) -> bool:
        """Whether a promise is open."""
        return any(self._is_open(promise) for promise in self.standing)

    def _is_open(self, promise: Entry) -> bool:
        """Owed and not answered; an answer is void once what it is about has come off again."""
        match promise:
            case Reminded(part=part):
                about = {part}
            case HoldPoint(part=part, needs=needs):
                about = set(needs) or ({part} if part else set())
            case Found(todo=str()) | Tried(outcome="worse"):
                about = set()
            case _:
                return False
        is_for_closing = isinstance(promise, Reminded | HoldPoint) and promise.part in {None, CLOSING}
        is_of_all = isinstance(promise, HoldPoint) and promise.part in {None, CLOSING} and not promise.needs
        acts = [
            isinstance(entry, Answered)
            for entry in self.standing
            if (isinstance(entry, Answered) and entry.entry == promise.id)
            or (isinstance(entry, Removed) and (entry.part in about or is_of_all) and entry.at > promise.at)
            or (isinstance(entry, Reopened) and is_for_closing and entry.at > promise.at)
        ]
        return not acts or not acts[-1]

    def beneath(self, part: str) -> set[str]:
        """What is off and must go back before a part, by certain reasons and, where nothing bears on it, by the order.

        By the order: what came off later and has nothing of its own beneath goes back earlier, unless the two were
        declared independent.
        """
        graph: nx.DiGraph[str] = nx.DiGraph()
        graph.add_nodes_from(self.order)
        free = set()
        for entry in self.standing:
            if isinstance(entry, Ordered) and entry.certain:
                graph.add_edge(entry.first, entry.then)
            elif isinstance(entry, Removed):
                graph.add_edges_from((cover, entry.part) for cover in entry.under)
            elif isinstance(entry, Independent):
                free |= {(entry.part, entry.other), (entry.other, entry.part)}
        graph = graph.subgraph(self.order)
        surely = nx.descendants(graph, part)
        later = self.order[self.order.index(part) + 1 :]
        return surely | {key for key in later if not graph.out_degree(key) and (part, key) not in free}
