"""Invented owners, cameras and entries, and every kind of entry at random."""

import typing
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import UTC, date, datetime, timedelta, timezone
from functools import cache
from types import NoneType
from typing import Any

from hypothesis import strategies as st
from pydantic import AwareDatetime, BaseModel, JsonValue, StringConstraints
from pydantic.fields import FieldInfo

from camerawright.journal.entries import Corrected, Entry, Happening, Noted
from camerawright.trouble import Refused
from camerawright.wording.names import shows
from camerawright.workshop.rows import Camera, Owner, Visit

INES = Owner(name="Ines Marrow", contact="ines@example.org")
TOBIAS = Owner(name="Tobias Fenn")
FALTER = Camera(maker="Orlmann", model="Falter 6x6", serial="40 117", variant="leaf shutter, coupled")
MARK = Camera(maker="Tessbury", model="Mark 35", serial="A-2210", variant="cloth shutter")
VISIT = Visit(
    taken_in=date(2026, 3, 2),
    owners_words="the slow speeds stick",
    film_inside=True,
    accessories=("case", "lens cap"),
    condition="bellows tight",
    wanted="all speeds within a third of a stop",
    profile="slide",
)
START = datetime(2026, 3, 2, 9, 0, tzinfo=UTC)


def note(n: int, words: str = "") -> Noted:
    """The n-th note of a day, a second after the one before."""
    return Noted(at=START + timedelta(seconds=n), note=words or f"note {n}")


@contextmanager
def refusal(*words: str) -> Iterator[None]:
    """Expect a refusal of one line that has all the words in it."""
    try:
        yield
    except Refused as refused:
        said = str(refused)
        assert "\n" not in said
        missing = [word for word in words if word not in said]
        assert not missing, f"{missing} not in {said!r}"
    else:
        raise AssertionError("it was not refused")


def _stripped(longest: int) -> st.SearchStrategy[str]:
    """Texts as the models keep them: without space around, and with something to see."""
    return st.text(st.characters(codec="utf-8", exclude_characters="\0"), max_size=longest).map(str.strip).filter(shows)


def _hexadecimal(digits: int) -> st.SearchStrategy[str]:
    """Hexadecimal of a fixed length."""
    return st.text("0123456789abcdef", min_size=digits, max_size=digits)


_JSON = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats(allow_nan=False, allow_infinity=False) | st.text(max_size=8),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=8), inner, max_size=3),
    max_leaves=5,
)
_PLAIN: list[tuple[Any, st.SearchStrategy[Any]]] = [
    (JsonValue, _JSON),
    (
        AwareDatetime,
        st.datetimes(
            min_value=datetime(1900, 1, 1),  # noqa: DTZ001
            max_value=datetime(2200, 1, 1),  # noqa: DTZ001
            timezones=st.integers(-14 * 60, 14 * 60).map(lambda minutes: timezone(timedelta(minutes=minutes))),
        ),
    ),
    (date, st.dates()),
    (NoneType, st.none()),
    (bool, st.booleans()),
    (str, st.text(max_size=8)),
    (int, st.integers(1, 99)),  # within the bounds of every counted field
    (float, st.floats(0.001, 20)),  # within the bounds of every length
]


def _of(hint: Any) -> st.SearchStrategy[Any]:
    """Values of the type that a field is declared with."""
    for plain, strategy in _PLAIN:
        if hint == plain:
            return strategy
    if limits := next((each for each in typing.get_args(hint)[1:] if isinstance(each, StringConstraints)), None):
        return _hexadecimal(int(str(limits.pattern)[-4:-2])) if limits.pattern else _stripped(20)
    if isinstance(hint, type) and issubclass(hint, BaseModel):
        return models(hint)
    within = typing.get_args(hint)
    assert within, f"no values for {hint}"
    return _MADE_OF.get(typing.get_origin(hint), _one_of)(within)


def _one_of(within: tuple[Any, ...]) -> st.SearchStrategy[Any]:
    """Values of any member of a union."""
    return st.one_of([_of(inner) for inner in within])


_MADE_OF: dict[Any, Callable[[tuple[Any, ...]], st.SearchStrategy[Any]]] = {
    typing.Annotated: lambda within: _of(within[0]),
    typing.Literal: st.sampled_from,
    tuple: lambda within: st.lists(_of(within[0]), max_size=3).map(tuple),
    dict: lambda within: st.dictionaries(_of(within[0]), _of(within[1]), min_size=1, max_size=3),
}


@cache
def models(model: type[BaseModel]) -> st.SearchStrategy[Any]:
    """Instances of a model, every field given."""
    hints = typing.get_type_hints(model, include_extras=True)
    return st.builds(model, **{name: _of_field(hints[name], field) for name, field in model.model_fields.items()})


def _of_field(hint: Any, field: FieldInfo) -> st.SearchStrategy[Any]:
    """Values of a field; of one that may not be empty, none that are."""
    is_filled = any(getattr(each, "min_length", None) for each in field.metadata)
    return _of(hint).filter(bool) if is_filled else _of(hint)


KINDS: tuple[type[BaseModel], ...] = (*typing.get_args(typing.get_args(Happening)[0]), Corrected)


def entries() -> st.SearchStrategy[Entry]:
    """Entries of any kind."""
    return st.one_of([models(kind) for kind in KINDS])
