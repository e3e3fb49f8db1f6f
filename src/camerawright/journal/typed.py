"""From what was typed to an entry, and back into the fields of a form."""

from collections.abc import Iterator, Mapping, Sequence
from datetime import date, datetime, timedelta
from typing import Any, Final

from pydantic import ValidationError
from pydantic_core import ErrorDetails

from camerawright.journal.asked import asked
from camerawright.journal.entries import ENTRY, KINDS, Entry
from camerawright.journal.fields import DaysOn, UntilMorning
from camerawright.trouble import NotUnderstood, Trouble, Troubled


class NotAnEntry(Troubled):
    """What was typed makes no entry; `where` of each trouble is the name of a field."""

    def __init__(self, troubles: Sequence[Trouble]) -> None:
        super().__init__(troubles[0].what, troubles[0].mend, troubles[0].where)
        self.troubles = tuple(troubles)


def entry_typed(
    kind: str, typed: Mapping[str, str | Sequence[str]], *, at: datetime, clock: datetime | None = None
) -> Entry:
    """Make the entry that was typed.

    Parameters
    ----------
    typed
        The text of each field by its name, or the texts of a field that may hold several, one by one. A moment may be
        given by how long it is from when the entry happened: from now, unless `clock` is among the fields.
    at
        When it happened, in the order of the journal.
    clock
        Now, where a clock ran ahead and `at` with it.

    Raises
    ------
    NotAnEntry
        With every field that cannot be read.
    """
    values: dict[str, Any] = {name: typed[name] for name in ("id", "by") if typed.get(name)}
    wrong: dict[str, Trouble] = {}
    for field in asked(KINDS[kind]):
        given = typed.get(field.name, "")
        if not (given.strip() if isinstance(given, str) else given):
            continue
        try:
            value = field.read(given)
        except NotUnderstood as error:
            what = f"{error.where}: {error.what}" if error.where else error.what
            wrong[field.name] = Trouble(what=what, mend=error.mend, where=field.name)
        else:
            values[field.name] = value
    told = values.get("clock")  # when it happened, where that was told: a wait counts from there
    began = told if isinstance(told, datetime) else clock or at
    values |= {name: _from_now(value, began) for name, value in values.items() if isinstance(value, timedelta)}
    try:
        entry = ENTRY.validate_python({**values, "kind": kind, "at": at})
    except ValidationError as error:
        wrong = {trouble.where: trouble for trouble in out_of_bounds(error)} | wrong
    if wrong:
        raise NotAnEntry(list(wrong.values()))
    return entry


def _from_now(value: timedelta, now: datetime) -> datetime | date:
    """The moment, or the day by the clock on the wall, that is so far from now."""
    then = now + value
    if isinstance(value, UntilMorning):
        return then.astimezone().replace(tzinfo=None, hour=8, minute=0, second=0, microsecond=0).astimezone()
    return then.astimezone().date() if isinstance(value, DaysOn) else then


def out_of_bounds(error: ValidationError) -> Iterator[Trouble]:
    """What is wrong with each field of an entry, in plain words."""
    for each in error.errors():
        kind, *steps = [str(step) for step in each["loc"]] or [""]
        fields = {field.name: field for field in asked(KINDS[kind])} if kind in KINDS else {}
        if steps and steps[0] in fields and each["type"].startswith(("greater_than", "less_than")):
            each["ctx"] = {name: fields[steps[0]].bound(value) for name, value in each.get("ctx", {}).items()}
        yield Trouble(what=in_plain_words(each), mend="", where=steps[0] if steps else "kind")


_PLAIN: Final = {
    "missing": "fill this in",
    "string_too_short": "fill this in",
    "string_too_long": "write at most {max_length} characters",
    "greater_than": "give more than {gt}",
    "greater_than_equal": "give at least {ge}",
    "less_than_equal": "give at most {le}",
}


def in_plain_words(error: ErrorDetails) -> str:
    """What to do about it."""
    if error["type"] in _PLAIN:
        return _PLAIN[error["type"]].format(**error.get("ctx", {}))
    return error["msg"].removeprefix("Value error, ")


def typed_again(entry: Entry) -> dict[str, str]:
    """An entry as the fields of a form would hold it."""
    return {field.name: text for field in asked(type(entry)) if (text := field.written(getattr(entry, field.name)))}
