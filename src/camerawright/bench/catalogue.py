"""All bench tests. Adding one is one line here."""

from typing import Any

from camerawright.bench import shutter, sync
from camerawright.bench.contract import BenchTest

CATALOGUE: tuple[BenchTest[Any], ...] = (shutter.TEST, sync.TEST)


def find_test(name: str) -> BenchTest[Any]:
    """The test of a name.

    Raises
    ------
    KeyError
        There is none.
    """
    return {test.name: test for test in CATALOGUE}[name]
