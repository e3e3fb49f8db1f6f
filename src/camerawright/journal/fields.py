"""The types of an entry's fields: what each may hold, and how it is read, written and said.

Whatever a type writes, it reads as the same again. What cannot be read is `NotUnderstood`, which says what to write.
"""

import csv
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from decimal import Decimal
from io import StringIO
from typing import Annotated, Any, Final, Literal

from pydantic import AfterValidator, AwareDatetime, BaseModel, ConfigDict, Field, StringConstraints, ValidationInfo

from camerawright.trouble import NotUnderstood
from camerawright.wording.durations import (
    OVERNIGHT,
    is_bare_m,
    minutes_by_clock,
    minutes_said,
    says_days,
    without_until,
)
from camerawright.wording.moments import by_the_wall_clock, comes_twice, moment
from camerawright.wording.names import name_key, shows
from camerawright.wording.numbers import short
from camerawright.wording.spoken import value

CLOSING: Final = "closing"
"""What a reminder or hold point is tied to when no part's refit is meant."""
CURRENCY_MINOR_DIGITS: Final = 2
MOST_SIGNS: Final = 4000
"""Of one text: a page of typing, and more than four names in one line need."""
MOST_SIGNS_OF_SEVERAL: Final = 20_000
"""Of all that stands in a field that holds several: 160 of the longest names."""


class Record(BaseModel):
    """Frozen, and refuses what it does not know: a mistyped field is an error, not silence."""

    model_config = ConfigDict(frozen=True, extra="forbid", defer_build=True)


part_key: Final = name_key
"""What makes two spellings the same part."""


def not_too_long(text: str, most: int) -> str:
    """The text, if it is within bounds: nothing that is read sign by sign may be without end."""
    if len(text) > most:
        mend = f"write at most {most} characters; the rest fits in an entry of its own"
        raise NotUnderstood(f"“{text.strip()[:40]} …” has {len(text)} characters", mend)
    return text


# What is said of a type beside what it may hold: `Annotated[str, AsText(...), Among(...)]`.


@dataclass(frozen=True, kw_only=True)
class AsText:
    """How a value is typed, by the repairer and back into a form.

    `between` parts the values of a field that holds several: a line break, or a comma. `each` is what one of them is
    called. `say` is how the value sounds in a sentence, where that is not how it is typed. `stands_for` is what the
    help of a command calls it.
    """

    read: Callable[[str], Any] = str
    write: Callable[[Any], str] = str
    say: Callable[[Any], str] | None = None
    between: Literal["", "\n", ", "] = ""
    gather: Callable[[Iterable[Any]], Any] = tuple
    each: str = ""
    stands_for: str = "TEXT"

    def read_field(self, text: str) -> Any:
        """Read what stands in one field of a form."""
        if not self.between:
            return self.read(not_too_long(text, MOST_SIGNS))
        not_too_long(text, MOST_SIGNS_OF_SEVERAL)
        return self.read_each(filter(str.strip, text.splitlines()) if self.between == "\n" else parted(text))

    def read_each(self, texts: Iterable[str]) -> Any:
        """Read several values; every one that cannot be read is named."""
        texts = list(texts)
        not_too_long("\n".join(texts), MOST_SIGNS_OF_SEVERAL)
        values, wrong = [], []
        for text in texts:
            try:
                values.append(self.read(not_too_long(text, MOST_SIGNS)))
            except NotUnderstood as error:
                wrong.append(error)
        if wrong:
            raise NotUnderstood("; ".join(map(str, wrong)), "")
        return self.gather(values)

    def written(self, value: Any) -> str:
        """The text that is read as this value again."""
        if not self.between:
            return self.write(value)
        several = value.items() if isinstance(value, Mapping) else value
        return self.between.join(
            _quoted(self.write(one)) if self.between == ", " else self.write(one) for one in several
        )

    def said(self, value: Any) -> str:
        """The value within a sentence."""
        if not self.between:
            return (self.say or self.write)(value)
        several = value.items() if isinstance(value, Mapping) else value
        return (" + " if self.between == "\n" else ", ").join(map(self.say or self.write, several))


@dataclass(frozen=True)
class Called:
    """What the terminal calls a field, where that is shorter or plainer than its name."""

    name: str


@dataclass(frozen=True)
class Among:
    """Names that are suggested while one types: those of parts, springs, tests, assemblies."""

    names: str
    help: str = ""


@dataclass(frozen=True, eq=False)
class AlsoSaid:
    """What else stands for a choice: “a trace” for “touch”."""

    words: Mapping[str, Any]


@dataclass(frozen=True, eq=False)
class Reads:
    """How each choice sounds in a sentence, where that is not the choice itself."""

    words: Mapping[Any, str]


def parted(text: str) -> list[str]:
    """Texts separated by commas or lines; one in quotes may hold both."""
    try:
        rows = list(csv.reader(StringIO(text, newline=""), skipinitialspace=True))
    except csv.Error as error:
        raise NotUnderstood(f"“{text[:40]}”: {error}", "write names with commas between them") from None
    return [name.strip() for row in rows for name in row if name.strip()]


def _quoted(text: str) -> str:
    """In quotes where it would be taken for two."""
    doubled = text.replace('"', '""')
    return f'"{doubled}"' if any(sign in text for sign in ',"\n\r') else text


def _setting(text: str) -> tuple[str, str]:
    """A setting of the machine."""
    from camerawright.journal.settings_text import setting  # noqa: PLC0415  only where one is typed

    return setting(text)


def _whole(text: str) -> int:
    """A whole number."""
    number = value(text)
    if number is None or number.denominator != 1 or "," in text or "." in text:  # 1,000 may be one, or a thousand
        raise NotUnderstood(f"“{text}” is not a whole number", "write it like 3")
    return int(number)


def _turns(text: str) -> float:
    """Turns as they are counted; a minus is the other way."""
    from camerawright.wording.turns import turns_typed  # noqa: PLC0415  only where they are typed

    return turns_typed(text)


def _signed_turns(text: str) -> float:
    """Turns as they are counted, clockwise positive."""
    from camerawright.wording.turns import signed_turns_typed  # noqa: PLC0415  only where they are typed

    return signed_turns_typed(text)


def _turns_written(turns: float) -> str:
    from camerawright.wording.turns import turns_written  # noqa: PLC0415  only where a form holds them

    return turns_written(turns)


def turns_said(clockwise: float) -> str:
    """Turns with their direction; clockwise is positive."""
    return f"{_turns_counted(abs(clockwise))} {'clockwise' if clockwise > 0 else 'anticlockwise'}"


def _turns_counted(turns: float) -> str:
    return f"{short(turns, 4)} {'turn' if turns == 1 else 'turns'}"


def _moment(text: str) -> datetime | timedelta:
    """A moment by the clock on the wall, unless it says by which; or how long from now: `20 min`, `3 weeks`."""
    if (minutes := minutes_said(text)) is not None:
        return timedelta(minutes=float(minutes))
    said = without_until(text)
    if said == "tomorrow":
        return timedelta(days=1)
    if said in OVERNIGHT:
        return UntilMorning(days=1)
    try:
        given = datetime.fromisoformat(text.strip())
        return by_the_wall_clock(given) if given.tzinfo is None else given
    except (ValueError, OverflowError, OSError):  # the latter: a year that no clock here reaches
        raise NotUnderstood(f"“{text}” is not a moment", "write it like 2026-03-02 14:30, 20 min or 3 weeks") from None


def _moment_written(given: datetime) -> str:
    """To the minute where that is all there is to it; by which clock where an hour comes twice."""
    if given.second or given.microsecond:
        return given.isoformat()
    return given.astimezone().isoformat(" ", "minutes") if comes_twice(given) else moment(given)


class DaysOn(timedelta):
    """A day, by how long from now it is."""


class UntilMorning(timedelta):
    """Eight o'clock, so many days on: when somebody is at the bench again."""


def _day(text: str) -> date | DaysOn:
    """A day, or how long from now it is."""
    said = without_until(text)
    if (minutes := minutes_said(said)) is not None:
        if is_bare_m(said):
            raise NotUnderstood(f"“{text}”: minutes, or months?", "write it like 3 months")
        return DaysOn(minutes=float(minutes))
    if said in {"today", "tomorrow", *OVERNIGHT}:
        return DaysOn(days=said != "today")
    try:
        return date.fromisoformat(said)
    except ValueError:
        raise NotUnderstood(f"“{text}” is not a day", "write it like 2026-03-02, tomorrow or 3 weeks") from None


def _minutes(text: str) -> int:
    """Whole minutes: `90`, `1:30`, `1,5 h`, `an hour and a half`."""
    by_clock, number = minutes_by_clock(text), value(text)
    is_decimal = number is not None and ("," in text or "." in text)
    if by_clock is None and number is not None and (number.denominator != 1 or is_decimal):
        raise NotUnderstood(f"“{text}”: hours or minutes?", "write it like 90, 1:30 or 1.5 h")
    minutes = by_clock or minutes_said(text) or number
    if minutes and says_days(text):
        raise NotUnderstood(f"“{text}”: how many hours of work?", "write it like 7.5 h; a day is 24 h by the clock")
    if minutes is None or minutes.denominator != 1:
        raise NotUnderstood(f"“{text}” is not a time in whole minutes", "write it like 90, 1:30 or 1.5 h")
    return int(minutes)


def _price_minor(text: str) -> int:
    """A price as it is written, "12.50" or "12,50", in the minor unit."""
    from camerawright.wording.money import price_minor  # noqa: PLC0415  only where one is typed

    return price_minor(text, CURRENCY_MINOR_DIGITS)


def _price(minor: int) -> str:
    return str(Decimal(minor).scaleb(-CURRENCY_MINOR_DIGITS))


def _speed(text: str) -> str:
    """A marked speed in its one spelling."""
    from camerawright.handbook.exposure import marked_speed  # noqa: PLC0415  only where one is typed

    return marked_speed(text).text


def _test(text: str) -> str:
    """The name of a bench test that there is."""
    from camerawright.bench.catalogue import CATALOGUE  # noqa: PLC0415  heavy, and only where one is typed

    names = [test.name for test in CATALOGUE]
    if part_key(text) not in names:
        raise NotUnderstood(f"there is no bench test “{text}”", f"use one of {', '.join(names)}")
    return part_key(text)


def _within_the_calendar(at: datetime) -> datetime:
    """Refuse moments that no time zone's clock can show: they are typing errors."""
    if not 1900 <= at.year <= 2200:
        raise ValueError(f"the year {at.year} is out of reach; give one between 1900 and 2200")
    return at


def _can_be_seen(text: str, info: ValidationInfo) -> str:
    """Refuse what shows nothing on a screen or on paper, and the sign at which other programs end a text.

    What is kept already is read all the same: one such name would make the whole journal unreadable.
    """
    if info.context == KEPT:
        return text
    if not shows(text):
        raise ValueError("fill this in: it shows nothing")
    if "\0" in text:
        raise ValueError("it holds a sign that no text has (U+0000); type it once more")
    return text


KEPT: Final = "kept"
"""What says to the models of entries that a line was taken in before, by rules that may have been looser."""

# The types.

Name = Annotated[
    str, StringConstraints(strip_whitespace=True, min_length=1, max_length=120), AfterValidator(_can_be_seen)
]
Words = Annotated[
    str, StringConstraints(strip_whitespace=True, min_length=1, max_length=4000), AfterValidator(_can_be_seen)
]
Reason = Annotated[Words, Called("because"), AsText(stands_for="WHY")]
Moment = Annotated[
    AwareDatetime,
    AfterValidator(_within_the_calendar),
    AsText(read=_moment, write=_moment_written, say=moment, stands_for="WHEN"),
]
Day = Annotated[date, AsText(read=_day, write=date.isoformat, stands_for="YYYY-MM-DD")]
Minutes = Annotated[int, AsText(read=_minutes, stands_for="MINUTES")]
Sha256 = Annotated[str, StringConstraints(pattern=r"^[0-9a-f]{64}$")]
Photo = Annotated[Sha256, AsText(stands_for="FILE")]
EntryId = Annotated[str, StringConstraints(pattern=r"^[0-9a-f]{32}$"), AsText(stands_for="ENTRY")]

Part = Annotated[Name, Among("parts", "The part, by its name on this camera.")]
OtherPart = Annotated[Name, Among("parts"), AsText(stands_for="PART")]
Parts = Annotated[tuple[Name, ...], Among("parts"), AsText(between=", ", each="part", stands_for="PART")]
Names = Annotated[tuple[Name, ...], AsText(between=", ")]
Spring = Annotated[Name, Among("springs")]
Test = Annotated[Name, Among("tests"), AsText(read=_test, stands_for="TEST")]
Speed = Annotated[Name, AsText(read=_speed, stands_for="SPEED")]
Settings = Annotated[
    dict[Name, Name],
    Field(min_length=1),
    AsText(
        read=_setting,
        write=" = ".join,
        say=" ".join,
        between=", ",
        gather=dict,
        each="setting",
        stands_for="NAME=VALUE",
    ),
]
Whole = Annotated[int, AsText(read=_whole, stands_for="N")]
Turns = Annotated[float, AsText(read=_turns, write=_turns_written, say=_turns_counted, stands_for="TURNS")]
SignedTurns = Annotated[float, AsText(read=_signed_turns, write=_turns_written, say=turns_said, stands_for="TURNS")]
Price = Annotated[int, AsText(read=_price_minor, write=_price, stands_for="PRICE"), Called("price")]
