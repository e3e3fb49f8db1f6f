"""What each kind of entry asks for, field by field: commands, forms and sentences are made from this."""

import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from types import UnionType
from typing import Annotated, Any, Final, Literal, TypeVar, Union, get_args, get_origin

from pydantic.fields import FieldInfo

from camerawright.journal.entry import AnEntry
from camerawright.journal.fields import AlsoSaid, Among, AsText, Called, EntryId, Photo, Reads
from camerawright.trouble import NotUnderstood

Mark = TypeVar("Mark")

_NOBODY_IS_ASKED: Final = frozenset({"kind", "id", "at", "by"})
_LAST: Final = ("is_new", "words", "overruled", "clock")
_YES_NO: Final = {"yes": True, "no": False}


@dataclass(frozen=True, kw_only=True, eq=False)
class Asked:
    """One field of a kind of entry. `choices` are the words there are, where it takes one of a few."""

    name: str
    called: str  # in the terminal
    label: str
    help: str  # more to say
    about: str  # what all fields of its type are
    example: str
    is_needed: bool
    default: Any
    choices: Mapping[str, Any]
    also: Mapping[str, Any]  # what else stands for a choice
    text: AsText
    among: str  # which names are suggested
    reads: Mapping[Any, str]  # how a value sounds, where that is not how it is typed
    is_photo: bool
    is_entry: bool  # names another entry

    @property
    def is_flag(self) -> bool:
        """Whether it is yes or no."""
        return self.choices is _YES_NO

    def read(self, given: str | Iterable[str]) -> Any:
        """The value of what stands in a field of a form, or of what was given one by one.

        Raises
        ------
        NotUnderstood
            Saying what to write.
        """
        if not isinstance(given, str):
            return self.text.read_each(given)
        if not self.choices:
            return self.text.read_field(given)
        spoken = {_bare(word): one for word, one in (*self.also.items(), *self.choices.items())}
        if _bare(given) not in spoken:
            raise NotUnderstood(f"“{given}” is not among the choices", f"give one of {', '.join(self.choices)}")
        return spoken[_bare(given)]

    def written(self, value: Any) -> str:
        """The text that is read as this value again."""
        if value is None or value == ():
            return ""
        return (
            next(word for word, one in self.choices.items() if one == value)
            if self.choices
            else self.text.written(value)
        )

    def bound(self, value: Any) -> Any:
        """The least or the most that is allowed, as it would be typed."""
        return self.written(value) if isinstance(value, int | float) and not self.choices else value

    def said(self, value: Any) -> str:
        """The value within a sentence; nothing where it is not worth a word."""
        if self.reads and value in self.reads:
            return self.reads[value]
        return "" if isinstance(value, bool) or not value else self.text.said(value)


@cache
def asked(kind: type[AnEntry]) -> tuple[Asked, ...]:
    """What a kind of entry asks for: its own fields in order, then what all kinds share."""
    fields = kind.model_fields
    own = [name for name in fields if name not in AnEntry.model_fields and name not in {*_NOBODY_IS_ASKED, *_LAST}]
    return tuple(_asked(name, fields[name]) for name in (*own, *(name for name in _LAST if name in fields)))


def field_of(kind: type[AnEntry], name: str) -> Asked | None:
    """The field of that name, if the kind asks for it."""
    return next((each for each in asked(kind) if each.name == name), None)


def _asked(name: str, field: FieldInfo) -> Asked:
    marks = [*field.metadata, *_marks(field.annotation)]
    among = _one(Among, marks)
    called = _one(Called, marks)
    reads = _one(Reads, marks)
    also = _one(AlsoSaid, marks)
    label = field.title or name.replace("_", " ").capitalize()
    return Asked(
        name=name,
        called=called.name if called else name.replace("_", "-"),
        label=label,
        help=field.description or "",
        about=among.help if among else "",
        example=str(field.examples[0]) if field.examples else "",
        is_needed=field.is_required(),
        default=field.default,
        choices=_choices(field.annotation),
        also=also.words if also else {},
        text=_one(AsText, marks) or AsText(),
        among=among.names if among else "",
        reads=reads.words if reads else {},
        is_photo=_is(Photo, marks),
        is_entry=_is(EntryId, marks),
    )


def _bare(word: str) -> str:
    """A choice without articles, hyphens and spaces, so that “anti-clockwise” and “teeth from mark” are found."""
    return re.sub(r"\b(?:an?|the)\s|[\W_]", "", word.casefold())


def _one(kind: type[Mark], marks: Iterable[object]) -> Mark | None:
    """The mark of a kind that stands nearest to the field."""
    return next((mark for mark in marks if isinstance(mark, kind)), None)


def _is(alias: Any, marks: Iterable[object]) -> bool:
    return any(mark is one for mark in marks for one in get_args(alias)[1:] if isinstance(one, AsText))


def _marks(annotation: Any) -> Iterator[object]:
    """What stands beside the types that a field may hold."""
    if get_origin(annotation) is Annotated:
        yield from annotation.__metadata__
        yield from _marks(get_args(annotation)[0])
    elif get_origin(annotation) in {Union, UnionType}:
        for inner in get_args(annotation):
            yield from _marks(inner)


def _choices(annotation: Any) -> Mapping[str, Any]:
    """What may be chosen, where not everything may be."""
    if annotation is bool:
        return _YES_NO
    if get_origin(annotation) is Literal:
        return {str(word): word for word in get_args(annotation)}
    inner = get_args(annotation)
    if get_origin(annotation) is Annotated:
        return _choices(inner[0])
    found = [_choices(one) for one in inner] if get_origin(annotation) in {Union, UnionType} else []
    return next(filter(None, found), {})
