"""The catalogue: every folder of a bench test is in it, and no bench test imports another."""

import importlib
import pkgutil

import grimp
import pytest

from camerawright import bench
from camerawright.bench.catalogue import CATALOGUE
from camerawright.bench.contract import BenchTest

FOLDERS = [found.name for found in pkgutil.iter_modules(bench.__path__, "camerawright.bench.") if found.ispkg]
GRAPH = grimp.build_graph("camerawright", cache_dir=None)


def test_every_folder_with_a_bench_test_is_in_the_catalogue_once() -> None:
    found = [getattr(importlib.import_module(folder), "TEST", None) for folder in FOLDERS]
    assert {test.name for test in found if test} == {test.name for test in CATALOGUE}
    assert len({test.name for test in CATALOGUE}) == len(CATALOGUE)
    assert all(isinstance(test, BenchTest) for test in CATALOGUE)


@pytest.mark.parametrize("folder", FOLDERS)
def test_nothing_in_the_room_imports_a_bench_test_but_itself(folder: str) -> None:
    own = {folder} | GRAPH.find_descendants(folder)
    users = {user for module in own for user in GRAPH.find_modules_that_directly_import(module)} - own
    assert {user for user in users if user.startswith("camerawright.bench.")} == set()
