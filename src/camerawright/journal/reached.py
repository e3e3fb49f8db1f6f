"""What one step or more leads to."""

from collections.abc import Hashable, Iterable, Mapping
from typing import TypeVar

Node = TypeVar("Node", bound=Hashable)


def reached(starts: Iterable[Node], neighbours: Mapping[Node, Iterable[Node]]) -> set[Node]:
    """Everything that one step or more leads to from any of these.

    With a graph library (networkx 3.6) it is no shorter, a way back with checks takes half as long again, and every
    command waits 0.15 s for the import.
    """
    found: set[Node] = set()
    stack = list(starts)
    while stack:
        for neighbour in neighbours.get(stack.pop(), ()):
            if neighbour not in found:
                found.add(neighbour)
                stack.append(neighbour)
    return found
