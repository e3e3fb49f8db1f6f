"""An order of parts as a picture in layers: which row each stands in, how far to the right, and where its bonds run."""

from bisect import bisect_right, insort
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

Edge = tuple[str, str]
"""`(first, then)`: the first stands above."""

N_SWEEPS = 8
"""Up and down as often as it takes: more have not improved a picture of 200 parts (tried)."""
_BEND = 0.3
"""How much room a bond that passes a row takes, as a part of a box's. [slots]"""


@dataclass(frozen=True, kw_only=True)
class Layers:
    """Where everything stands.

    `rows` are the names from top to bottom, each from left to right; `x` is where each stands, its centre in slots of
    one box from the left; `paths` gives for each bond the points (x, row) it runs through, from its first to its then.
    A bond that closes a ring runs upward.
    """

    rows: tuple[tuple[str, ...], ...]
    x: Mapping[str, float]
    paths: Mapping[Edge, tuple[tuple[float, int], ...]]
    n_crossings: int

    @property
    def width(self) -> float:
        """From the left edge of the leftmost box to the right edge of whatever is rightmost. [slots]"""
        everywhere = [*(at + 0.5 for at in self.x.values()), *(x for path in self.paths.values() for x, _ in path)]
        return max(everywhere, default=0.0)

    def row_of(self, name: str) -> int:
        """In which row a name stands."""
        return next(i for i, row in enumerate(self.rows) if name in row)


def layered(names: Sequence[str], edges: Sequence[Edge]) -> Layers:
    """Lay a graph out in rows, every bond downward, with few crossings.

    Parameters
    ----------
    names
        Every node once; where nothing else decides, earlier ones stand further left.
    edges
        Bonds between them. A ring is drawn all the same: one of its bonds then runs upward.

    Raises
    ------
    ValueError
        An edge names what is not in `names`, or leads from a node to itself.

    Notes
    -----
    After Sugiyama, Tagawa and Toda (IEEE Trans. Syst. Man Cybern. 11 (1981) 109): the row is the length of the longest
    path from above; bonds that pass rows get a bend in each; the rows are sorted by the mean place of the neighbours,
    down and up, and the sorting with the fewest crossings is kept. Across, each row takes the places nearest to its
    neighbours' in the least-squares sense that keep their distance (pool adjacent violators; Barlow et al., Statistical
    Inference under Order Restrictions, 1972, 1.2; from memory).
    """
    strangers = {end for edge in edges for end in edge} - set(names)
    if strangers or any(first == then for first, then in edges):
        raise ValueError(f"edges must join two different names of the graph; not so: {sorted(strangers) or edges}")
    edges = tuple(dict.fromkeys(edges))
    downward = _downward(names, edges)
    row = _longest_paths(names, downward)
    graph = _Graph(names, downward, row)
    n_crossings = graph.untangle()
    x = graph.across()
    left = min((at for node, at in x.items() if isinstance(node, str)), default=0.0) - 0.5
    leftmost = min([left, *(at - _BEND / 2 for node, at in x.items() if not isinstance(node, str))])
    paths = {}
    for edge in edges:
        is_up = edge not in graph.bends
        line = graph.bends[edge[::-1] if is_up else edge]
        points = tuple((x[node] - leftmost, graph.row[node]) for node in line)
        paths[edge] = points[::-1] if is_up else points
    return Layers(
        rows=tuple(tuple(node for node in nodes if isinstance(node, str)) for nodes in graph.rows),
        x={node: at - leftmost for node, at in x.items() if isinstance(node, str)},
        paths=paths,
        n_crossings=n_crossings,
    )


def _downward(names: Sequence[str], edges: Sequence[Edge]) -> tuple[Edge, ...]:
    """The edges with those turned round that close a ring, found depth-first; two that fall together are one."""
    after: dict[str, list[str]] = {name: [] for name in names}
    for first, then in edges:
        after[first].append(then)
    done: set[str] = set()
    on_path: set[str] = set()
    turned: set[Edge] = set()
    for start in names:
        stack = [(start, iter(after[start]))] if start not in done else []
        on_path.update(name for name, _ in stack)
        while stack:
            name, rest = stack[-1]
            nearest = next(rest, None)
            if nearest is None:
                stack.pop()
                on_path.discard(name)
                done.add(name)
            elif nearest in on_path:
                turned.add((name, nearest))
            elif nearest not in done:
                on_path.add(nearest)
                stack.append((nearest, iter(after[nearest])))
    return tuple(dict.fromkeys(edge[::-1] if edge in turned else edge for edge in edges))


def _longest_paths(names: Sequence[str], edges: Sequence[Edge]) -> dict[str, int]:
    """How many bonds the longest way from above has."""
    row = dict.fromkeys(names, 0)
    n_open = dict.fromkeys(names, 0)
    after: dict[str, list[str]] = {name: [] for name in names}
    for first, then in edges:
        after[first].append(then)
        n_open[then] += 1
    ready = [name for name in names if not n_open[name]]
    for name in ready:  # grows as it goes
        for then in after[name]:
            row[then] = max(row[then], row[name] + 1)
            n_open[then] -= 1
            if not n_open[then]:
                ready.append(then)
    return row


Node = str | tuple[str, str, int]
"""A name, or the bend of an edge in a row."""


class _Graph:
    """The rows while they are being sorted; it does not leave `layered`."""

    def __init__(self, names: Sequence[str], edges: Sequence[Edge], row: Mapping[str, int]) -> None:
        self.row: dict[Node, int] = {}
        self.above: dict[Node, list[Node]] = {name: [] for name in names}
        self.below: dict[Node, list[Node]] = {name: [] for name in names}
        self.rows: list[list[Node]] = [[] for _ in range(max(row.values(), default=-1) + 1)]
        self.bends: dict[Edge, list[Node]] = {}
        for name in names:
            self.row[name] = row[name]
            self.rows[row[name]].append(name)
        for first, then in edges:
            line: list[Node] = [first, *((first, then, i) for i in range(row[first] + 1, row[then])), then]
            self.bends[first, then] = line
            for bend in line[1:-1]:
                self.row[bend] = int(bend[2])
                self.rows[int(bend[2])].append(bend)
                self.above[bend], self.below[bend] = [], []
            for upper, lower in pairwise(line):
                self.below[upper].append(lower)
                self.above[lower].append(upper)

    def untangle(self) -> int:
        """Sort the rows; return how many crossings are left."""
        best, fewest = [list(row) for row in self.rows], self._crossings()
        for sweep in range(N_SWEEPS):
            if not fewest:
                break
            rows, neighbours = (self.rows, self.above) if sweep % 2 == 0 else (self.rows[::-1], self.below)
            for fixed, moving in pairwise(rows):
                place = {node: i for i, node in enumerate(fixed)}
                _sort_by_mean(moving, place, neighbours)
            n_crossings = self._crossings()
            if n_crossings < fewest:
                best, fewest = [list(row) for row in self.rows], n_crossings
        self.rows = best
        return fewest

    def _crossings(self) -> int:
        """Pairs of bonds that cross: inversions, counted with a sorted list."""
        total = 0
        for upper, lower in pairwise(self.rows):
            place = {node: i for i, node in enumerate(lower)}
            seen: list[int] = []
            for node in upper:
                ends = sorted(place[then] for then in self.below[node])
                total += sum(len(seen) - bisect_right(seen, end) for end in ends)
                for end in ends:
                    insort(seen, end)
        return total

    def across(self) -> dict[Node, float]:
        """Where each node stands. [slots]"""
        x: dict[Node, float] = {}
        for nodes in self.rows:
            x.update(zip(nodes, _distances(nodes), strict=True))
        for sweep in range(2 * N_SWEEPS):
            last = sweep >= 2 * N_SWEEPS - 2
            for nodes in self.rows if sweep % 2 == 0 else self.rows[::-1]:
                wanted, weights = [], []
                for node in nodes:
                    near = self.above[node] + self.below[node] if last else (self.above, self.below)[sweep % 2][node]
                    pulls = [_pull(node, other) for other in near]
                    mean = sum(pull * x[other] for pull, other in zip(pulls, near, strict=True)) / (sum(pulls) or 1)
                    wanted.append(mean if near else x[node])
                    weights.append(sum(pulls) or 0.1)
                x.update(zip(nodes, _spread(wanted, weights, _distances(nodes)), strict=True))
        return x


def _sort_by_mean(nodes: list[Node], place: Mapping[Node, int], neighbours: Mapping[Node, list[Node]]) -> None:
    """Sort a row by the mean place of its neighbours; a node without any keeps its own."""
    own = {node: float(i) for i, node in enumerate(nodes)}
    nodes.sort(
        key=lambda node: (
            sum(place[other] for other in neighbours[node]) / len(neighbours[node]) if neighbours[node] else own[node]
        )
    )


def _pull(node: Node, other: Node) -> float:
    """How much a bond is to be straight: most where it passes rows, least where it leaves a box sideways."""
    n_names = isinstance(node, str) + isinstance(other, str)
    return (8.0, 0.5, 16.0)[n_names]


def _distances(nodes: Sequence[Node]) -> list[float]:
    """The place of each node of a row that is packed as close as may be. [slots]"""
    widths = [1.0 if isinstance(node, str) else _BEND for node in nodes]
    places, at = [], 0.0
    for i, width in enumerate(widths):
        at += (widths[i - 1] + width) / 2 if i else 0.0
        places.append(at)
    return places


def _spread(wanted: Sequence[float], weights: Sequence[float], packed: Sequence[float]) -> list[float]:
    """The places nearest to those wanted that keep the packed distances at least."""
    blocks: list[tuple[float, float, int]] = []  # mean, weight, how many
    for want, weight, least in zip(wanted, weights, packed, strict=True):
        block = (want - least, weight, 1)
        while blocks and blocks[-1][0] > block[0]:
            mean, before, n = blocks.pop()
            both = before + block[1]
            block = ((mean * before + block[0] * block[1]) / both, both, n + block[2])
        blocks.append(block)
    shifts = [mean for mean, _, n in blocks for _ in range(n)]
    return [shift + least for shift, least in zip(shifts, packed, strict=True)]
