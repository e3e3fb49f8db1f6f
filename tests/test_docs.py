"""The documents, held to what they describe."""

import dataclasses
import importlib
import pkgutil
import re
import tomllib
from collections.abc import Iterator
from pathlib import Path

import pytest

from camerawright.bench.catalogue import CATALOGUE

ROOT = Path(__file__).parents[1]


def _page(name: str) -> str:
    return (ROOT / "docs" / name).read_text(encoding="utf-8")


SOURCES = _page("sources.md")
PUBLISHED = sorted((ROOT / "tests" / "published").glob("*.toml"))
MODULES = sorted((ROOT / "src").rglob("*.py"))


@pytest.mark.parametrize("path", PUBLISHED, ids=lambda path: path.stem)
def test_every_published_check_value_names_a_listed_source(path: Path) -> None:
    key = tomllib.loads(path.read_text(encoding="utf-8"))["key"]
    assert f"`{key}`" in SOURCES


LISTED = set(re.findall(r"^- `([^`]+)`: ", SOURCES, re.MULTILINE))
CITING = [
    path
    for folder in ("src", "tests", "docs", "benchmarks")
    for path in (ROOT / folder).rglob("*")
    if path.suffix in {".py", ".toml", ".md", ".typ", ".html"} and path.name not in {"sources.md", "test_docs.py"}
]


def _cited(text: str) -> set[str]:
    """Keys in brackets, as `source` of a row, and in backticks; `type: ignore[...]` and patterns are none."""
    text = re.sub(r"ignore\[[^\]]*\]", "", text)
    named = re.findall(r"\[([a-z0-9]+(?:-[a-z0-9]+)*)\]|source = \"([^\"]+)\"|`([a-z0-9]+(?:-[a-z0-9]+)*)`", text)
    bracketed = {key for key, _, _ in named if re.fullmatch(r"[a-z0-9]{2,}-.*", key) and re.search(r"[a-z]{3}", key)}
    rows = {key for _, row, _ in named for key in row.split(", ") if "-" in key and re.fullmatch(r"[a-z0-9-]+", key)}
    return bracketed | rows | ({key for each in named for key in each} & LISTED)


def test_every_key_that_is_cited_is_listed() -> None:
    """In source, tests, documents and data files."""
    cited = {path: _cited(path.read_text(encoding="utf-8")) for path in CITING}
    assert sum(map(len, cited.values())) > 200
    assert {(str(path.relative_to(ROOT)), key) for path, keys in cited.items() for key in keys - LISTED} == set()


WITHOUT_A_FIGURE = {
    "iso-10330": "its limits were not at hand, so nothing claims to conform to it",
    "iso-8601": "a form's field of a date sends and takes nothing else",
}
"""Sources of which no test checks anything, and why."""


def test_every_listed_source_stands_beside_a_check() -> None:
    tested = {path.stem for path in PUBLISHED}
    for path in (ROOT / "tests").rglob("*.py"):
        if path.name != "test_docs.py":
            tested |= _cited(path.read_text(encoding="utf-8"))
    assert LISTED - tested == WITHOUT_A_FIGURE.keys()


def test_every_listed_source_is_cited_somewhere() -> None:
    cited = set[str]().union(*(_cited(path.read_text(encoding="utf-8")) for path in CITING))
    cited |= {path.stem for path in PUBLISHED}
    assert LISTED - cited == set()


_FILM_SPEEDS = {"100", "125", "200", "400", "800", "1600", "3200"}


def test_every_standard_that_is_named_is_listed() -> None:
    """By its number, wherever it is named; ISO 100 and its like are speeds of film."""
    listed = set(re.findall(r"\d{2,}", SOURCES))
    for path in CITING:
        text = path.read_text(encoding="utf-8")
        numbers = re.findall(r"\b(?:ISO|ISO/IEC|IEC|RFC|EN|BS|JCGM|NFPA|JIS B|GOST|DIN)[ -](\d{3,5})\b", text)
        assert {number for number in numbers if number not in listed | _FILM_SPEEDS} == set(), path.name


@pytest.mark.parametrize("test", CATALOGUE, ids=lambda test: test.name)
def test_every_bench_test_says_how_to_set_it_up(test: object) -> None:
    name = getattr(test, "name")  # noqa: B009
    readme = ROOT / "src" / "camerawright" / "bench" / name / "README.md"
    assert readme.stat().st_size > 500
    assert getattr(test, "setup")  # noqa: B009


def test_every_link_between_the_documents_leads_somewhere() -> None:
    for page in (ROOT / "README.md", ROOT / "CHANGES.md", *(ROOT / "docs").rglob("*.md")):
        for target in re.findall(r"\]\(([^)#\s]+)[^)]*\)", page.read_text(encoding="utf-8")):
            if not target.startswith("http"):
                assert (page.parent / target).exists(), f"{page.name} links to {target}"


def test_every_document_that_the_code_names_is_there() -> None:
    for module in (*MODULES, *(ROOT / "src").rglob("*.md"), *(ROOT / "src").rglob("*.toml")):
        for named in re.findall(r"docs/[\w/-]+\.md", module.read_text(encoding="utf-8")):
            assert (ROOT / named).exists(), f"{module.name} names {named}"


def test_no_lock_tells_where_packages_came_from() -> None:
    for lock in ROOT.glob("requirements*.lock"):
        assert "://" not in lock.read_text(encoding="utf-8")


def _figures(test: str) -> Iterator[str]:
    """The fields of a bench test's results that carry an uncertainty."""
    package = importlib.import_module(f"camerawright.bench.{test}")
    for room in pkgutil.iter_modules(package.__path__, f"{package.__name__}."):
        if not room.name.endswith(".simulate"):
            for one in vars(importlib.import_module(room.name)).values():
                if isinstance(one, type) and dataclasses.is_dataclass(one) and one.__module__ == room.name:
                    yield from (field.name for field in dataclasses.fields(one) if "Quantity" in str(field.type))


@pytest.mark.parametrize("test", [test.name for test in CATALOGUE])
def test_every_figure_of_a_bench_test_is_in_the_word_list(test: str) -> None:
    words = _page("words.md")
    figures = set(_figures(test))
    assert figures
    assert {name for name in figures if f"`{name}`" not in words} == set()


@pytest.mark.parametrize("test", [test.name for test in CATALOGUE])
def test_the_page_on_accuracy_has_a_line_for_every_bench_test(test: str) -> None:
    assert re.search(rf"^\| .*`{test}`", _page("accuracy.md"), re.MULTILINE)


def test_every_room_is_in_the_house() -> None:
    rooms = {path.name for path in (ROOT / "src" / "camerawright").iterdir() if not path.name.startswith(("__", "py."))}
    picture, _, lines = _page("house.md").partition("| room |")
    assert {room for room in rooms if room.removesuffix(".py") not in picture.split()} == set()
    assert {room for room in rooms if f"\n| `{room}` |" not in lines} == set()


def test_every_dependency_has_its_line_and_the_heaviest_stands_first() -> None:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    wanted = [project["project"]["dependencies"], project["dependency-groups"]["dev"]]
    tables = _page("dependencies.md").split("\n## ")[1:]
    for requirements, table in zip(wanted, tables, strict=True):
        lines = re.findall(r"^\| ([a-z0-9-]+) \| ([0-9.]+) \|", table, re.MULTILINE)
        names = {match[0] for line in requirements if (match := re.match(r"[a-z0-9-]+", line))}
        assert {name for name, _ in lines} == names
        weights = [float(weight) for _, weight in lines]
        assert weights == sorted(weights, reverse=True)
