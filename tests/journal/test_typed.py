"""What is typed makes an entry, and an entry is typed again as itself; what cannot be read names its field."""

from datetime import UTC, date, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from camerawright.journal.asked import asked, field_of
from camerawright.journal.entries import ENTRY, KINDS, Awaited, Entry, Reminded, Removed, Set, Worked
from camerawright.journal.typed import NotAnEntry, entry_typed, typed_again
from camerawright.trouble import NotUnderstood

NOW = datetime(2026, 3, 2, 9, tzinfo=UTC)
NAMES = st.text(st.characters(codec="utf-8"), min_size=1, max_size=40).map(str.strip).filter(bool)
KEYS = NAMES.map(lambda name: name.replace("=", "").strip()).filter(bool)  # `=` parts a name from its value


def _again(entry: Entry) -> Entry:
    """The entry that its own text makes."""
    return entry_typed(entry.kind, {**typed_again(entry), "id": entry.id}, at=entry.at)


@given(
    part=NAMES,
    under=st.lists(NAMES, max_size=3),
    settings=st.dictionaries(KEYS, NAMES, min_size=1, max_size=3),
    turns=st.floats(0.125, 100).map(lambda number: float(f"{number:.6g}")),
    count=st.integers(1, 99),
    price=st.integers(0, 10**6),
    until=st.timedeltas(timedelta(0), timedelta(days=9000)).map(lambda later: NOW + later),
)
def test_an_entry_is_typed_again_as_itself(
    part: str, under: list[str], settings: dict[str, str], turns: float, count: int, price: int, until: datetime
) -> None:
    for given_fields in (
        {"kind": "removed", "part": part, "under": under, "looked_beneath": False},
        {"kind": "removed", "part": part, "loose": [{"what": "ball", "count": count}], "torque": "free"},
        {"kind": "needs state", "part": part, "settings": settings, "moves": "both", "reason": "r"},
        {"kind": "tension", "spring": part, "act": "tensioned", "turns": turns, "direction": "clockwise"},
        {"kind": "adjusted", "adjuster": part, "after": "x", "turns": -turns, "marked": "1/25", "test": "shutter"},
        {"kind": "ordered", "first": part, "then": "x", "reason": "r", "certain": False, "bond": "pinned by"},
        {"kind": "supplied", "item": part, "count": count, "price_minor": price},
        {"kind": "awaited", "part": part, "awaiting": "r", "until": until},
        {"kind": "reminded", "part": part, "todo": "r", "due": until.date()},
    ):
        entry = ENTRY.validate_python({"at": NOW, **given_fields})
        assert _again(entry) == entry


@pytest.mark.parametrize("kind", KINDS)
def test_every_field_of_every_kind_is_read_or_named_never_a_crash(kind: str) -> None:
    for field in asked(KINDS[kind]):
        for text in ("x", "=", "1/0", "9" * 400, "2026-13-40", "nan", "inf", "½½", '"', "999999 d", "0001-01-01"):
            try:
                field.read(text)
            except NotUnderstood:
                continue


@pytest.mark.parametrize(
    ("typed", "until"),
    [
        ("20 min", NOW + timedelta(minutes=20)),
        ("1.5 h", NOW + timedelta(hours=1.5)),
        ("1,5h", NOW + timedelta(hours=1.5)),
        ("3 days", NOW + timedelta(days=3)),
        ("3 weeks", NOW + timedelta(days=21)),
        ("an hour and a half", NOW + timedelta(hours=1.5)),
        ("for a fortnight", NOW + timedelta(days=14)),
        ("tomorrow", NOW + timedelta(days=1)),
        ("2026-03-05T12:00+01:00", datetime(2026, 3, 5, 11, tzinfo=UTC)),
    ],
)
def test_a_moment_may_be_given_by_how_long_from_now_it_is(typed: str, until: datetime) -> None:
    entry = entry_typed("awaited", {"part": "bellows", "awaiting": "it cures", "until": typed}, at=NOW)
    assert isinstance(entry, Awaited)
    assert entry.until == until


@pytest.mark.parametrize("typed", ["soon", "-5 min", "30", "1e9 min", "9999-12-31", "999999999 w", "2-3 days"])
def test_a_moment_that_is_none_is_named(typed: str) -> None:
    with pytest.raises(NotAnEntry) as wrong:
        entry_typed("awaited", {"part": "x", "awaiting": "y", "until": typed}, at=NOW)
    assert [trouble.where for trouble in wrong.value.troubles] == ["until"]


def test_a_day_may_be_given_by_how_long_from_now_it_is() -> None:
    told = {"part": "shutter", "todo": "fire it once more"}
    for typed, due in (("2026-03-04", date(2026, 3, 4)), ("2 days", date(2026, 3, 4)), ("tomorrow", date(2026, 3, 3))):
        entry = entry_typed("reminded", {**told, "due": typed}, at=NOW)
        assert isinstance(entry, Reminded)
        assert entry.due == due


@pytest.mark.parametrize(
    ("typed", "minutes"),
    [("90", 90), ("ninety", 90), ("1:30", 90), ("0:05", 5), ("1.5 h", 90), ("4,5 h", 270), ("1 h 30", 90),
     ("an hour and a half", 90), ("half an hour", 30), ("45 min", 45)],
)  # fmt: skip
def test_time_worked_is_read_as_one_says_it(typed: str, minutes: int) -> None:
    entry = entry_typed("worked", {"minutes": typed, "task": "x"}, at=NOW)
    assert isinstance(entry, Worked)
    assert entry.minutes == minutes


@pytest.mark.parametrize("typed", ["1.5", "1 1/2", "1:75", "0", "0.33 h", "20 s", "two or three hours", "25 h"])
def test_time_worked_that_is_unclear_is_asked_about(typed: str) -> None:  # 1.5: hours or minutes?
    with pytest.raises(NotAnEntry) as wrong:
        entry_typed("worked", {"minutes": typed, "task": "x"}, at=NOW)
    assert [trouble.where for trouble in wrong.value.troubles] == ["minutes"]


@pytest.mark.parametrize(
    ("typed", "settings"),
    [
        ("shutter=released", {"shutter": "released"}),
        ("film out", {"film": "out"}),
        ("no film", {"film": "out"}),
        ("film has been taken out", {"film": "out"}),
        ("focus infinity", {"focus": "infinity"}),
        ("focus at infinity", {"focus": "infinity"}),
        ("the shutter is cocked", {"the shutter": "cocked"}),
        ("shutter not cocked", {"shutter": "not cocked"}),
        ("speed dial: B", {"speed dial": "B"}),
        ("shutter cocked, film out", {"shutter": "cocked", "film": "out"}),
        ("focus at rest = infinity", {"focus at rest": "infinity"}),
    ],
)
def test_a_setting_is_read_as_one_says_it(typed: str, settings: dict[str, str]) -> None:
    entry = entry_typed("set", {"settings": typed}, at=NOW)
    assert isinstance(entry, Set)
    assert entry.settings == settings


@pytest.mark.parametrize("typed", ["cocked", "shutter cocked and film out", "self-timer run down", "shutter ="])
def test_a_setting_without_its_name_or_its_value_is_asked_about(typed: str) -> None:
    with pytest.raises(NotAnEntry):
        entry_typed("set", {"settings": typed}, at=NOW)


@pytest.mark.parametrize(
    ("kind", "name", "typed", "expected"),
    [
        ("tension", "direction", "anti-clockwise", "anticlockwise"),
        ("tension", "direction", "counter clockwise", "anticlockwise"),
        ("tension", "direction", "CW", "clockwise"),
        ("sits", "aspect", "teeth from mark", "teeth from the mark"),
        ("sits", "aspect", "pre-load", "preload"),
        ("sits", "aspect", "which way up", "which way round"),
        ("lubricated", "amount", "a touch", "touch"),
        ("lubricated", "amount", "a trace", "touch"),
        ("lubricated", "amount", "A smear", "film"),
        ("lubricated", "amount", "none", "dry"),
        ("turned", "act", "nipped-up", "nipped up"),
    ],
)
def test_a_choice_is_read_as_one_says_it(kind: str, name: str, typed: str, expected: str) -> None:
    field = field_of(KINDS[kind], name)
    assert field is not None
    assert field.read(typed) == expected
    for choice in field.choices:
        assert field.read(choice) == choice  # no word stands for another choice


def test_several_are_given_one_by_one_or_in_one_field() -> None:
    one_by_one = {"part": "x", "under": ["a, b", "c"], "fasteners": ["3 x M1.7", "1 x M2"]}
    in_one_field = {"part": "x", "under": '"a, b", c', "fasteners": "3 x M1.7\n\n1 x M2"}
    first, second = (entry_typed("removed", typed, at=NOW) for typed in (one_by_one, in_one_field))
    assert isinstance(first, Removed)
    assert isinstance(second, Removed)
    assert (first.under, first.fasteners) == (second.under, second.fasteners)
    assert first.under == ("a, b", "c")


def test_every_field_that_is_wrong_is_named_at_once() -> None:
    typed = {"part": " ", "fasteners": "some screws\n3 x 4", "torque": "gorilla", "cell": "x" * 121}
    with pytest.raises(NotAnEntry) as wrong:
        entry_typed("removed", typed, at=NOW)
    told = {trouble.where: str(trouble) for trouble in wrong.value.troubles}
    assert told.keys() == {"part", "fasteners", "torque", "cell"}
    assert "fill this in" in told["part"]
    assert "some screws" in told["fasteners"]
    assert "3 x 4" in told["fasteners"]
    assert "free, normal, tight, seized" in told["torque"]
    assert "at most 120 characters" in told["cell"]


def test_a_limit_is_told_as_it_would_be_typed() -> None:
    """Prices are kept in the smallest coin and typed in whole ones."""
    kind = next(name for name, each in KINDS.items() if "price_minor" in each.model_fields)
    with pytest.raises(NotAnEntry, match="give at most 10000000"):
        entry_typed(kind, {"item": "foam", "price_minor": "1000000000"}, at=NOW)


def test_a_day_is_a_day_and_a_test_is_one_that_there_is() -> None:
    entry = entry_typed("reminded", {"part": "x", "todo": "y", "due": "2031-05-04", "test": "Shutter"}, at=NOW)
    assert getattr(entry, "due", None) == date(2031, 5, 4)
    assert getattr(entry, "test", None) == "shutter"
    with pytest.raises(NotAnEntry, match="there is no bench test “sundial”"):
        entry_typed("reminded", {"part": "x", "todo": "y", "test": "sundial"}, at=NOW)


@pytest.mark.parametrize(
    ("when", "began"), [({}, NOW), ({"clock": "2026-03-01 07:00+00:00"}, NOW - timedelta(hours=26))]
)
def test_a_wait_counts_from_when_it_happened(when: dict[str, str], began: datetime) -> None:
    for kind, fields, until in (
        ("awaited", {"part": "mount", "awaiting": "the glue", "until": "20 min"}, "until"),
        ("tried", {"part": "a", "fastener": "NE", "rung": "solvent and wait", "outcome": "no change",
                   "wait_until": "20 min"}, "wait_until"),
    ):  # fmt: skip
        entry = entry_typed(kind, {**fields, **when}, at=NOW, clock=NOW)
        assert getattr(entry, until) == began + timedelta(minutes=20)
        assert entry.moment == began
