"""The documents, held to what they describe."""

import re
import tomllib
from pathlib import Path

import pytest

from camerawright.bench.catalogue import CATALOGUE

ROOT = Path(__file__).parents[1]
SOURCES = (ROOT / "docs" / "sources.md").read_text(encoding="utf-8")
PUBLISHED = sorted((ROOT / "tests" / "published").glob("*.toml"))
MODULES = sorted((ROOT / "src").rglob("*.py"))


@pytest.mark.parametrize("path", PUBLISHED, ids=lambda path: path.stem)
def test_every_published_check_value_names_a_listed_source(path: Path) -> None:
    key = tomllib.loads(path.read_text(encoding="utf-8"))["key"]
    assert f"`{key}`" in SOURCES


def test_every_key_cited_in_the_code_is_listed() -> None:
    """A key looks like [iso-516]; brackets of patterns and type comments hold no letter-digit pair of that shape."""
    cited = {
        key
        for module in MODULES
        for key in re.findall(
            r"\[((?:iso|jcgm|bs|jis|gost|asme|iec|nfpa|niosh|osha)-[a-z0-9-]+)\]", module.read_text("utf-8")
        )
    }
    assert cited
    assert {key for key in cited if f"`{key}`" not in SOURCES} == set()


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


def test_no_lock_tells_where_packages_came_from() -> None:
    for lock in ROOT.glob("requirements*.lock"):
        assert "://" not in lock.read_text(encoding="utf-8")
