"""All bench tests. Adding one is one line here."""

from importlib import import_module
from typing import Any, Final

from camerawright.bench.contract import BenchTest

_FOLDERS: Final = (
    "shutter",
    "curtains",
    "footage",
    "sync",
    "escapement",
    "register",
)

CATALOGUE: Final[tuple[BenchTest[Any], ...]] = tuple(
    import_module(f"camerawright.bench.{folder}").TEST for folder in _FOLDERS
)
BY_NAME: Final = {test.name: test for test in CATALOGUE}


def find_test(name: str) -> BenchTest[Any]:
    """The test of a name.

    Raises
    ------
    KeyError
        There is none.
    """
    return BY_NAME[name]
