"""The catalogue: every folder of a bench test is in it, and no bench test imports another."""

import importlib
import pkgutil
import re
from pathlib import Path

import grimp
import pytest

from camerawright import bench
from camerawright.bench.catalogue import CATALOGUE
from camerawright.bench.contract import BenchTest
from camerawright.bench.options import for_command_line, quoted

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


@pytest.mark.parametrize("folder", FOLDERS)
def test_advice_names_an_option_by_its_label_which_the_terminal_spells_as_it_is_typed(folder: str) -> None:
    room = importlib.import_module(folder)
    options = getattr(room, "TEST", BenchTest).options
    for module in sorted(GRAPH.find_descendants(folder)):
        found = importlib.import_module(module)
        text = Path(str(found.__file__)).read_text(encoding="utf-8")
        for option in options:
            assert option.on_command_line not in text, module
        for name in re.findall(r"\{quoted\((\w+)\)\}", text):
            said = for_command_line(f"give it under {quoted(getattr(found, name))}", options)
            assert said in {f"give it under {option.on_command_line}" for option in options}
