"""What was typed into a form, and the entry that it makes. What cannot be read is said field by field, all at once."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from decimal import Decimal, InvalidOperation
from typing import Any, Final, get_args

from pydantic import BaseModel, ValidationError

from camerawright.journal import entries as journal
from camerawright.journal.entries import ENTRY, Entry, new_id
from camerawright.journal.notation import NotUnderstood, fastener, shim
from camerawright.journal.rules import Problem
from camerawright.workshop.rows import CURRENCY_MINOR_DIGITS

Typed = Mapping[str, str]
"""What stood in each field, to the letter."""


class BadFields(Exception):
    """Fields that cannot be read: a message for each."""

    def __init__(self, errors: Mapping[str, str]) -> None:
        self.errors = dict(errors)
        super().__init__("; ".join(f"{name}: {message}" for name, message in errors.items()))


@dataclass(frozen=True, kw_only=True)
class Refusal:
    """A form that was not taken: it comes back with everything typed, and with each reason."""

    form: str  # which of the page's forms
    typed: Typed
    errors: Mapping[str, str] = field(default_factory=dict)
    problems: tuple[Problem, ...] = ()

    @property
    def can_overrule(self) -> bool:
        """Whether a stated reason would let it through."""
        return not self.errors and bool(self.problems) and all(problem.can_overrule for problem in self.problems)


@dataclass(frozen=True, kw_only=True)
class Form:
    """One form on a page: a fresh entry id, and what was typed if it was refused just now."""

    name: str
    id: str = field(default_factory=new_id)
    given: Typed = field(default_factory=dict)
    refusal: Refusal | None = None

    def value(self, name: str) -> str:
        """What to show in a field: as typed, else as given."""
        return (self.refusal.typed if self.refusal else self.given).get(name, "")

    def error(self, name: str) -> str | None:
        """What is wrong in a field."""
        return self.refusal.errors.get(name) if self.refusal else None


def form_maker(refusal: Refusal | None) -> Callable[..., Form]:
    """For the templates: `form("removed", part="dial")` is a form with that field filled in."""

    def form(name: str, **given: str | None) -> Form:
        mine = refusal if refusal and refusal.form == name else None
        return Form(name=name, given={key: value for key, value in given.items() if value}, refusal=mine)

    return form


# -- from fields to an entry -------------------------------------------------------------------------------------------


def _kinds() -> dict[str, type[BaseModel]]:
    """Every kind of entry, by its word."""
    models = {model for model in vars(journal).values() if isinstance(model, type) and issubclass(model, BaseModel)}
    return {
        model.model_fields["kind"].default: model
        for model in models
        if "kind" in model.model_fields and get_args(model.model_fields["kind"].annotation)
    }


KINDS: Final = _kinds()
ENTERED_ELSEWHERE: Final = frozenset({"measured"})
"""Kinds that no form makes: a reading is computed from its recording."""


def entry_from(typed: Typed, *, at: datetime) -> Entry:
    """Make the entry that a form asks for.

    Parameters
    ----------
    typed
        The fields: `kind`, `id`, and the entry's own under their own names. `fasteners`, `shims` hold one a line;
        `under`, `needs`, `soil` are separated by commas or lines; `photo` is the hash of a photo that is kept already.
    at
        When it happened.

    Raises
    ------
    BadFields
        With every field that cannot be read.
    """
    kind = typed.get("kind", "")
    model = KINDS.get(kind)
    if model is None or kind in ENTERED_ELSEWHERE:
        raise BadFields({"kind": f"no form makes an entry of the kind “{kind}”"})
    errors: dict[str, str] = {}
    values: dict[str, Any] = {"kind": kind, "at": at}
    for name in model.model_fields:
        text = typed.get(name, "").strip()
        if not text or name in values:
            continue
        try:
            values[name] = READERS.get(name, str)(text)
        except ValueError as error:
            errors[name] = str(error)
    try:
        entry = ENTRY.validate_python(values)
    except ValidationError as error:
        raise BadFields(_messages(error) | errors) from None
    if errors:
        raise BadFields(errors)
    return entry


def _messages(error: ValidationError) -> dict[str, str]:
    """What is wrong with each field, in plain words."""
    found: dict[str, str] = {}
    for each in error.errors():
        steps = [str(step) for step in each["loc"][1:]]  # the first is the kind
        name = steps[0] if steps else "kind"
        what = "fill this in" if each["type"] == "missing" else each["msg"]
        found.setdefault(name, what)
    return found


def _lines(read: Callable[[str], Any]) -> Callable[[str], list[Any]]:
    """One thing a line; every line that cannot be read is named."""

    def read_lines(text: str) -> list[Any]:
        values, wrong = [], []
        for line in filter(str.strip, text.splitlines()):
            try:
                values.append(read(line))
            except NotUnderstood as error:
                wrong.append(str(error))
        if wrong:
            raise ValueError("; ".join(wrong))
        return values

    return read_lines


def names(text: str) -> list[str]:
    """Names separated by commas or lines."""
    return [name.strip() for line in text.splitlines() for name in line.split(",") if name.strip()]


def _settings(text: str) -> dict[str, str]:
    """`shutter = released`, separated by commas or lines."""
    found = {}
    for pair in names(text):
        what, is_pair, value = pair.partition("=")
        if not is_pair or not what.strip() or not value.strip():
            raise ValueError(f"“{pair}”: write it like “shutter = released, focus = infinity”")
        found[what.strip()] = value.strip()
    return found


def _yes(text: str) -> bool:
    """A box that was ticked, or a choice."""
    return text.casefold() in {"yes", "true", "on", "1"}


def _whole(text: str) -> int:
    """A whole number."""
    try:
        return int(text)
    except ValueError:
        raise ValueError(f"“{text}” is not a whole number") from None


def _price_minor(text: str) -> int:
    """A price as it is written, "12.50" or "12,50", in the minor unit."""
    try:
        amount = Decimal(text.replace(",", ".").replace(" ", "")).scaleb(CURRENCY_MINOR_DIGITS)
        if amount != amount.to_integral_value() or not abs(amount) < 10**12:
            raise InvalidOperation
    except InvalidOperation:
        raise ValueError(f"“{text}” is not a price: write it like 12.50") from None
    return int(amount)


READERS: Final[Mapping[str, Callable[[str], Any]]] = {
    "fasteners": _lines(fastener),
    "shims": _lines(shim),
    "under": names,
    "needs": names,
    "soil": names,
    "settings": _settings,
    "looked_beneath": _yes,
    "escapes": _yes,
    "certain": _yes,
    "minutes": _whole,
    "count": _whole,
    "price_minor": _price_minor,
}
"""How a field is read; one word is one idea, so a name has one reader in every form."""
