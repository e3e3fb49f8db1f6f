"""What was computed from journals, kept while they stay as they are.

A journal only grows, and the store hands out the same tuple until it does: so a result is good as long as the very
tuples it was computed from come again.
"""

import threading
from collections import OrderedDict
from collections.abc import Callable, Hashable
from typing import Generic, TypeVar

Result = TypeVar("Result")


class Remembered(Generic[Result]):
    """The last results by name, each with the tuples it rests on."""

    def __init__(self, n_most: int) -> None:
        self._n_most = n_most
        self._lock = threading.Lock()
        self._kept: OrderedDict[Hashable, tuple[tuple[object, ...], Result]] = OrderedDict()

    def get(self, name: Hashable, rests_on: tuple[object, ...], compute: Callable[[], Result]) -> Result:
        """The result kept under a name if it rests on these very objects, else a new one."""
        kept = self.kept(name, rests_on)
        if kept is None:
            kept = compute()
            self.keep(name, rests_on, kept)
        return kept

    def kept(self, name: Hashable, rests_on: tuple[object, ...] = ()) -> Result | None:
        """The result kept under a name if it rests on these very objects."""
        with self._lock:
            kept = self._kept.get(name)
        if kept and len(kept[0]) == len(rests_on) and all(a is b for a, b in zip(kept[0], rests_on, strict=True)):
            return kept[1]
        return None

    def keep(self, name: Hashable, rests_on: tuple[object, ...], result: Result) -> None:
        """Keep a result in the place of the one before; the one that was kept first goes when there are too many."""
        with self._lock:
            self._kept[name] = (rests_on, result)
            self._kept.move_to_end(name)
            while len(self._kept) > self._n_most:
                self._kept.popitem(last=False)
