"""Tolerance profiles: what they say, and how a bad one is refused."""

from pathlib import Path

import pytest

from camerawright.handbook.tolerances import (
    DEFAULT,
    builtin_profiles,
    find_profile,
    limits,
    parse_profile,
    read_profile,
)
from camerawright.trouble import NotUnderstood, Unreadable

ROW = 'from = "1"\nto = "1/125"\nlower_ev = "-1/3"\nupper_ev = 0.5\nsource = "common practice"\n'


def test_every_profile_that_comes_along_names_a_source_in_every_row() -> None:
    assert DEFAULT in {profile.name for profile in builtin_profiles()}
    for profile in builtin_profiles():
        assert all(row.limits.source for row in profile.rows)
        assert all(row.limits.lower_ev < 0 < row.limits.upper_ev for row in profile.rows)


def test_no_profile_claims_to_be_the_standard() -> None:
    """ISO 516 prints target values, 'not intended for application as a general inspection standard'."""
    for profile in builtin_profiles():
        assert all("ISO" not in row.limits.source for row in profile.rows)
        assert "ISO" not in profile.title


@pytest.mark.parametrize(
    ("target_s", "upper_ev"), [(1, 1 / 3), (1 / 128, 1 / 3), (1 / 100, 1 / 3), (1 / 200, 1 / 2), (1 / 1024, 1 / 2)]
)
def test_a_speed_has_the_limits_of_the_row_it_stands_in_or_nearest(target_s: float, upper_ev: float) -> None:
    found = limits(find_profile("user"), target_s)
    assert found is not None
    assert found.upper_ev == pytest.approx(upper_ev)


def test_a_speed_beyond_the_profile_has_no_limits() -> None:
    assert limits(find_profile("user"), 1 / 4096) is None


def test_a_profile_of_ones_own_is_read(tmp_path: Path) -> None:
    path = tmp_path / "own.toml"
    path.write_text(f'title = "Own"\n[[speeds]]\n{ROW}', encoding="utf-8")
    assert find_profile(str(path)) == read_profile(path)
    assert read_profile(path).rows[0].limits.lower_ev == pytest.approx(-1 / 3)


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("title = ", "not TOML"),
        ('title = "x"', r"no \[\[speeds\]\]"),
        ("colour = 1", "unknown key: colour; give title"),
        ('[[speeds]]\nfrom = "1"', "row 1: keys are missing or unknown; give exactly from"),
        (f"[[speeds]]\n{ROW}[[speeds]]\n{ROW}", "rows 1 and 2 overlap"),
        ("[[speeds]]\n" + ROW.replace('"1/125"', '"B"'), "row 1: 'B'"),
        ("[[speeds]]\n" + ROW.replace('"1/125"', '"4s"'), "slowest first"),
        ("[[speeds]]\n" + ROW.replace("0.5", '"half"'), "row 1, upper_ev"),
        ("[[speeds]]\n" + ROW.replace("0.5", "nan"), "row 1, upper_ev"),
        ("[[speeds]]\n" + ROW.replace("0.5", "-0.5"), "lower_ev is not below upper_ev; write the lower limit first"),
        ("[[speeds]]\n" + ROW.replace("common practice", " "), "source is empty"),
    ],
)
def test_a_bad_profile_is_refused_with_the_row_and_the_mend(text: str, message: str) -> None:
    with pytest.raises(Unreadable, match=message):
        parse_profile(text, "own")


def test_a_missing_profile_is_refused_with_what_there_is(tmp_path: Path) -> None:
    with pytest.raises(NotUnderstood, match="user"):
        find_profile("perfect")
    with pytest.raises(Unreadable, match="check the path"):
        find_profile(str(tmp_path / "none.toml"))
    binary = tmp_path / "binary.toml"
    binary.write_bytes(b"\xff\xfe\x00")
    with pytest.raises(Unreadable, match="UTF-8"):
        read_profile(binary)
