"""All bench tests. Adding one is one line here."""

from typing import Any, Final

from camerawright.bench import curtains, escapement, footage, shutter, sync
from camerawright.bench.contract import BenchTest

CATALOGUE: Final[tuple[BenchTest[Any], ...]] = (
    shutter.TEST,
    curtains.TEST,
    footage.TEST,
    sync.TEST,
    escapement.TEST,
)


def find_test(name: str) -> BenchTest[Any]:
    """The test of a name.

    Raises
    ------
    KeyError
        There is none.
    """
    return {test.name: test for test in CATALOGUE}[name]
