"""The order as a picture: what any picture of an order must keep, against networkx 3.6 and a drawing made by hand."""

import re
from itertools import pairwise

import networkx as nx
from hypothesis import given, settings
from hypothesis import strategies as st

from camerawright.web.pages.order import AT_FIRST
from camerawright.web.picture import BOX_W, Bond, Box, Picture, laid_out

Edge = tuple[str, str]
Point = tuple[float, float]


def drawn(names: list[str], edges: list[Edge]) -> Picture:
    """A picture of parts, each after those that the edges lead from."""
    return laid_out(
        [
            Box(
                key=name,
                anchor="",
                name=name,
                status="goes back",
                kind="part",
                after=tuple(Bond(first=a, then=b, reason="seen", is_certain=True) for a, b in edges if b == name),
            )
            for name in names
        ]
    )


def lines(picture: Picture) -> dict[Edge, list[Point]]:
    """The corners of each line, from its first to its then: the points before its rounding."""
    found = {}
    for box in picture.boxes:
        for bond in box.after:
            steps = re.findall(r"([MLQ])([-\d. ]+)", bond.path)
            numbers = [[float(each) for each in said.split()] for _, said in steps]
            corners = [at for (letter, _), at in zip(steps, numbers, strict=True) if letter == "Q"]
            found[bond.first, box.name] = [(at[0], at[1]) for at in (numbers[0], *corners, numbers[-1])]
    return found


@st.composite
def graphs(draw: st.DrawFn, *, rings: bool = False) -> tuple[list[str], list[Edge]]:
    """Names, and bonds between them: all from an earlier to a later one, unless rings are wanted."""
    names = [f"part {i}" for i in range(draw(st.integers(0, 12)))]
    pairs = [(a, b) for i, a in enumerate(names) for b in names[i + 1 :]]
    edges = draw(st.lists(st.sampled_from(pairs), max_size=25, unique=True)) if pairs else []
    if rings:
        edges = [edge[::-1] if draw(st.booleans()) else edge for edge in edges]
    return draw(st.permutations(names)), edges


@settings(deadline=None)
@given(graphs(rings=True))
def test_every_part_stands_once_within_the_picture_and_no_two_overlap(graph: tuple[list[str], list[Edge]]) -> None:
    names, edges = graph
    picture = drawn(names, edges)
    assert [box.name for box in picture.boxes] == names
    for i, box in enumerate(picture.boxes):
        assert BOX_W / 2 <= box.x <= picture.width - BOX_W / 2
        assert 0 <= box.y <= picture.height - box.height
        for other in picture.boxes[i + 1 :]:
            assert abs(box.x - other.x) >= BOX_W or box.y + box.height <= other.y or other.y + other.height <= box.y


@settings(deadline=None)
@given(graphs(rings=True))
def test_every_line_runs_from_the_edge_of_its_first_to_the_edge_of_its_then(
    graph: tuple[list[str], list[Edge]],
) -> None:
    picture = drawn(*graph)
    boxes = {box.name: box for box in picture.boxes}
    found = lines(picture)
    assert sorted(found) == sorted(graph[1])
    for edge, line in found.items():
        for name, (x, y) in zip(edge, (line[0], line[-1]), strict=True):
            box = boxes[name]
            assert abs(x - box.x) <= BOX_W / 2
            assert min(abs(y - box.y), abs(y - box.y - box.height)) < 1, "rounded to a pixel"


@settings(deadline=None)
@given(graphs())
def test_what_goes_back_first_stands_higher_and_what_waits_for_nothing_stands_highest(
    graph: tuple[list[str], list[Edge]],
) -> None:
    names, edges = graph
    boxes = {box.name: box for box in drawn(names, edges).boxes}
    top = {name: box.y for name, box in boxes.items()}
    assert all(top[first] + boxes[first].height < top[then] for first, then in edges)
    assert len({top[name] for name in set(names) - {then for _, then in edges}}) <= 1


@settings(deadline=None)
@given(graphs(rings=True))
def test_a_line_runs_upward_only_where_it_closes_a_ring(graph: tuple[list[str], list[Edge]]) -> None:
    """[sugiyama-1981] turns round only what closes a ring: networkx 3.6, `is_directed_acyclic_graph` and `has_path`."""
    names, edges = graph
    top = {box.name: box.y for box in drawn(names, edges).boxes}
    upward = [(first, then) for first, then in edges if top[first] >= top[then]]
    assert nx.is_directed_acyclic_graph(nx.DiGraph([edge for edge in edges if edge not in upward]))
    for first, then in upward:
        assert nx.has_path(nx.DiGraph(edges), then, first)


@settings(deadline=None)
@given(graphs())
def test_no_line_runs_through_a_box(graph: tuple[list[str], list[Edge]]) -> None:
    picture = drawn(*graph)
    for line in lines(picture).values():
        for (xa, ya), (xb, yb) in pairwise(line):
            for box in picture.boxes:
                left, right = box.x - BOX_W / 2 + 1, box.x + BOX_W / 2 - 1
                is_beside = max(xa, xb) <= left or min(xa, xb) >= right
                assert is_beside or max(ya, yb) <= box.y + 1 or min(ya, yb) >= box.y + box.height - 1, box.name


def test_no_word_of_a_box_is_cut_and_eight_boxes_stand_on_a_tablet() -> None:
    """At the size it first has: a tablet of 800 px shows some 480 px of the picture."""
    said = "waits: red film, on order at the glass works"
    box = Box(key="a", anchor="", name="rewind knob and its engraved disc", status=said, kind="part")
    (placed,) = laid_out([box]).boxes
    assert " ".join(line for _, line in placed.lines) == f"{box.name} {said}"
    names = [f"part {n}" for n in range(8)]
    assert drawn(names, list(pairwise(names))).height * AT_FIRST / 100 <= 480


def _crosses(a: tuple[Point, Point], b: tuple[Point, Point]) -> bool:
    """Whether two straight pieces cross each other."""

    def side(p: Point, q: Point, r: Point) -> float:
        return (q[0] - p[0]) * (r[1] - p[1]) - (q[1] - p[1]) * (r[0] - p[0])

    return side(*a, b[0]) * side(*a, b[1]) < 0 and side(*b, a[0]) * side(*b, a[1]) < 0


def test_what_can_be_drawn_without_a_crossing_is() -> None:
    # A tree given in the order that crosses most; drawn by hand without a crossing.
    edges = [("top", "left"), ("top", "right"), ("left", "a"), ("left", "b"), ("right", "c"), ("right", "d")]
    pieces = [
        piece
        for line in lines(drawn(["d", "a", "c", "b", "right", "left", "top"], edges)).values()
        for piece in pairwise(line)
    ]
    assert not any(_crosses(a, b) for i, a in enumerate(pieces) for b in pieces[i + 1 :])


def test_a_chain_stands_straight() -> None:
    names = [f"part {i}" for i in range(60)]
    picture = drawn(names, list(pairwise(names)))
    assert len({box.x for box in picture.boxes}) == 1
    assert len({box.y for box in picture.boxes}) == 60


def test_the_head_of_an_arrow_points_the_way_its_line_ends() -> None:
    """Straight down a chain; by hand."""
    (bond,) = drawn(["a", "b"], [("a", "b")]).boxes[1].after
    assert bond.arrow.endswith("rotate(0)")
