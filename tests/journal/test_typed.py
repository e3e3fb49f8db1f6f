"""What is typed makes an entry, and an entry is typed again as itself; what cannot be read names its field."""

import time
from collections.abc import Iterator
from datetime import UTC, date, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import ValidationError

from camerawright.journal.asked import asked, field_of
from camerawright.journal.entries import ENTRY, KINDS, Awaited, Entry, Reminded, Removed, Set, Worked
from camerawright.journal.typed import NotAnEntry, entry_typed, typed_again
from camerawright.trouble import NotUnderstood
from camerawright.wording.names import shows

NOW = datetime(2026, 3, 2, 9, tzinfo=UTC)
NAMES = st.text(st.characters(codec="utf-8", exclude_characters="\0"), max_size=40).map(str.strip).filter(shows)
KEYS = NAMES.map(lambda name: name.replace("=", "").strip()).filter(shows)  # `=` parts a name from its value


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
        ("until tomorrow", NOW + timedelta(days=1)),
        ("20m", NOW + timedelta(minutes=20)),
        ("1h 30m", NOW + timedelta(hours=1.5)),
        ("1h30m", NOW + timedelta(hours=1.5)),
        ("30 seconds", NOW + timedelta(seconds=30)),
        ("10 min.", NOW + timedelta(minutes=10)),
        ("a couple of hours", NOW + timedelta(hours=2)),
        ("at least 24 h", NOW + timedelta(days=1)),
        ("1 year", NOW + timedelta(days=365)),
        ("2026-03-05T12:00+01:00", datetime(2026, 3, 5, 11, tzinfo=UTC)),
    ],
)
def test_a_moment_may_be_given_by_how_long_from_now_it_is(typed: str, until: datetime) -> None:
    entry = entry_typed("awaited", {"part": "bellows", "awaiting": "it cures", "until": typed}, at=NOW)
    assert isinstance(entry, Awaited)
    assert entry.until == until


@pytest.mark.parametrize(
    "typed", ["soon", "-5 min", "30", "1e9 min", "9999-12-31", "999999999 w", "2-3 days", "3M", "1.30 h"]
)
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


@pytest.mark.parametrize(
    "typed",
    [
        "1.5",
        "1 1/2",
        "1:75",
        "0",
        "0.33 h",
        "20 s",
        "two or three hours",
        "25 h",
        "1 day",
        "half a day",
        "2 d",
        "1.30 h",
        "1,000",
        "1.000",
    ],
)
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
        ("mirror locked up", {"mirror": "locked up"}),
        ("self-timer run down", {"self-timer": "run down"}),
        ("the self-timer has run down", {"the self-timer": "run down"}),
        ("the shutter has been released", {"the shutter": "released"}),
        ("shutter speed 1/500", {"shutter speed": "1/500"}),
        ("wind-on lever half way", {"wind-on lever": "half way"}),
        ("back cover open", {"back cover": "open"}),
        ("main spring let down", {"main spring": "let down"}),
        ("lens cap on", {"lens cap": "on"}),
    ],
)
def test_a_setting_is_read_as_one_says_it(typed: str, settings: dict[str, str]) -> None:
    entry = entry_typed("set", {"settings": typed}, at=NOW)
    assert isinstance(entry, Set)
    assert entry.settings == settings


@pytest.mark.parametrize("typed", ["cocked", "shutter cocked and film out", "mirror down shutter cocked", "shutter ="])
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


def test_overnight_is_until_somebody_is_at_the_bench_again() -> None:
    for typed in ("overnight", "tomorrow morning"):
        entry = entry_typed("awaited", {"part": "bellows", "awaiting": "it cures", "until": typed}, at=NOW)
        assert isinstance(entry, Awaited)
        assert entry.until is not None
        assert f"{entry.until.astimezone():%Y-%m-%d %H:%M}" == "2026-03-03 08:00"


def test_m_may_be_months_where_days_are_counted() -> None:
    with pytest.raises(NotAnEntry, match="minutes, or months"):
        entry_typed("reminded", {"part": "shutter", "todo": "fire it", "due": "3m"}, at=NOW)


@pytest.mark.parametrize(
    ("typed", "turns"),
    [
        ("a turn", 1),
        ("a turn and a half", 1.5),
        ("1 turn and a half", 1.5),
        ("one turn and three quarters", 1.75),
        ("4 and a half", 4.5),
        ("1-3/4", 1.75),
        ("1⅓", 4 / 3),
        ("two thirds of a turn", 2 / 3),
        ("1.5 revolutions", 1.5),
        ("two full turns", 2),
        ("a couple of turns", 2),
        ("270°", 0.75),
        ("720 degrees", 2),
        ("half", 0.5),
        ("90 turns", 90),
    ],
)
def test_turns_are_read_as_one_says_them(typed: str, turns: float) -> None:
    field = field_of(KINDS["tension"], "turns")
    assert field is not None
    assert field.read(typed) == turns
    assert field.read(field.written(turns)) == pytest.approx(turns, rel=1e-11)


@pytest.mark.parametrize("typed", ["360", "90", "180", "about 4", "4 or 5", "5 clicks", "two turns and two", "1/0"])
def test_turns_that_are_unclear_are_asked_about(typed: str) -> None:
    field = field_of(KINDS["tension"], "turns")
    assert field is not None
    with pytest.raises(NotUnderstood):
        field.read(typed)


@pytest.mark.parametrize(
    ("typed", "turns"), [("1/4 anticlockwise", -0.25), ("1/4 cw", 0.25), ("-1/4", -0.25), ("half a turn ccw", -0.5)]
)
def test_an_adjuster_is_turned_the_way_that_is_said(typed: str, turns: float) -> None:
    field = field_of(KINDS["adjusted"], "turns")
    assert field is not None
    assert field.read(typed) == turns


@pytest.mark.parametrize(
    ("typed", "minor"),
    [("12.50", 1250), ("12,5", 1250), ("12", 1200), (".50", 50), ("0", 0), ("1 000", 100_000), ("1 250,50", 125_050),
     ("1.250,00", 125_000), ("1,250.00", 125_000), ("1'250.00", 125_000), ("1,250,000", 125_000_000), ("４.50", 450)],
)  # fmt: skip
def test_a_price_is_read_as_it_is_written(typed: str, minor: int) -> None:
    field = field_of(KINDS["supplied"], "price_minor")
    assert field is not None
    assert field.read(typed) == minor


@pytest.mark.parametrize(
    ("typed", "asks"),
    [
        ("1,250", "write 1250.00 or 1.25"),
        ("1.250", "write 1250.00 or 1.25"),
        ("1,000", "write 1000.00 or 1.00"),
        ("1.000", "write 1000.00 or 1.00"),
        ("10,000", "write 10000.00 or 10.00"),
        ("0.005", "not a price"),
        ("12 50", "not a price"),
        ("1,2500", "not a price"),
        ("1,250.000", "not a price"),
        ("£4", "not a price"),
        (".", "not a price"),
        ("", "not a price"),
    ],
)
def test_a_price_of_thousands_or_of_cents_is_asked_about(typed: str, asks: str) -> None:
    field = field_of(KINDS["supplied"], "price_minor")
    assert field is not None
    with pytest.raises(NotUnderstood, match=asks):
        field.read(typed)


@given(st.integers(0, 10**9))
def test_every_price_is_read_as_it_was_written(minor: int) -> None:
    field = field_of(KINDS["supplied"], "price_minor")
    assert field is not None
    assert field.read(field.written(minor)) == minor


@pytest.mark.parametrize("name", ["\u200b", "\u2060\ufeff", "\u00ad", "\u3164", "\u2800", "dial\0", "\0"])
def test_a_name_that_nobody_sees_is_no_name(name: str) -> None:
    with pytest.raises(NotAnEntry, match=r"nothing|U\+0000"):
        entry_typed("removed", {"part": name}, at=NOW)
    with pytest.raises(ValidationError):
        ENTRY.validate_python({"kind": "removed", "at": NOW, "part": name})


@pytest.fixture
def summer_time(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """A clock on the wall that goes forward on 29 March 2026 at 2 and back on 25 October at 3."""
    monkeypatch.setenv("TZ", "CET-1CEST,M3.5.0,M10.5.0/3")
    time.tzset()
    yield
    monkeypatch.undo()
    time.tzset()


@pytest.mark.usefixtures("summer_time")
def test_an_hour_that_is_skipped_or_comes_twice_is_asked_about() -> None:
    field = field_of(KINDS["removed"], "clock")
    assert field is not None
    with pytest.raises(NotUnderstood, match=r"no 02:30 on 2026-03-29; write 2026-03-29 01:30 or 2026-03-29 03:30"):
        field.read("2026-03-29 02:30")
    with pytest.raises(NotUnderstood, match=r"twice .*; write 2026-10-25 02:30\+02:00 or 2026-10-25 02:30\+01:00"):
        field.read("2026-10-25 02:30")
    for typed, utc in (("2026-03-29 03:30", 1), ("2026-03-29 01:59", 0), ("2026-10-25 02:30+01:00", 1)):
        assert field.read(typed).astimezone(UTC).hour == utc


@pytest.mark.usefixtures("summer_time")
@given(st.integers(0, 365 * 24 * 60))
def test_every_minute_of_a_year_is_read_as_it_was_written(minute: int) -> None:
    field = field_of(KINDS["removed"], "clock")
    assert field is not None
    at = datetime(2026, 1, 1, tzinfo=UTC) + timedelta(minutes=minute)
    assert field.read(field.written(at)) == at
