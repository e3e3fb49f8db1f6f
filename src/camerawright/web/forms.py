"""What was typed into a form, and the entry that it makes. What cannot be read is said field by field, all at once."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import Any, Final, get_args

from pydantic import BaseModel, ValidationError

from camerawright.journal import entries as journal
from camerawright.journal.entries import ENTRY, Entry, new_id
from camerawright.trouble import Trouble
from camerawright.web.fields import READERS, read_minutes

Typed = Mapping[str, str]
"""What stood in each field, to the letter."""


class BadFields(Exception):
    """Fields of a form that cannot be read, and what to say beside each."""

    def __init__(self, errors: Mapping[str, str]) -> None:
        self.errors = dict(errors)
        super().__init__("; ".join(f"{name}: {message}" for name, message in errors.items()))


@dataclass(frozen=True, kw_only=True)
class Refusal:
    """A form that was not taken: it comes back with everything typed, and with each reason."""

    form: str  # which of the page's forms
    typed: Typed
    errors: Mapping[str, str] = field(default_factory=dict)
    problems: tuple[Trouble, ...] = ()

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


BECOMES: Final = "becomes."
"""Before the names of the fields of what a correction puts in place."""
MINUTES: Final = "_minutes"
"""After the name of a moment: how many minutes from now that is."""


def entry_from(typed: Typed, *, at: datetime) -> Entry:
    """Make the entry that a form asks for.

    Parameters
    ----------
    typed
        The fields: `kind`, `id`, and the entry's own under their own names. `fasteners`, `shims`, `loose` hold one a
        line; `under`, `needs`, `soil`, `frees`, `materials` are separated by commas or lines; `photo` is the hash of a
        photo that is kept already. A moment may be given in minutes from now (`until_minutes`). What a correction puts
        in place has its fields after `becomes.`.
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
    values, errors = _read(model, typed, at)
    becomes = {name.removeprefix(BECOMES): text for name, text in typed.items() if name.startswith(BECOMES)}
    if becomes:
        try:
            values["becomes"] = entry_from(becomes, at=at)
        except BadFields as bad:
            errors |= {f"{BECOMES}{name}": message for name, message in bad.errors.items()}
    try:
        entry = ENTRY.validate_python({**values, "kind": kind, "at": at})
    except ValidationError as error:
        raise BadFields(_messages(error) | errors) from None
    if errors:
        raise BadFields(errors)
    return entry


def _read(model: type[BaseModel], typed: Typed, at: datetime) -> tuple[dict[str, Any], dict[str, str]]:
    """The values of the fields that were filled in, and what is wrong with the others."""
    values: dict[str, Any] = {}
    errors: dict[str, str] = {}
    for name in model.model_fields.keys() - {"kind", "at", "becomes"}:
        text, minutes = typed.get(name, "").strip(), typed.get(f"{name}{MINUTES}", "").strip()
        try:
            if text:
                values[name] = READERS.get(name, str)(text)
            elif minutes:
                values[name] = at + timedelta(minutes=read_minutes(minutes))
        except ValueError as error:
            errors[name if text else f"{name}{MINUTES}"] = str(error)
    return values, errors


def _messages(error: ValidationError) -> dict[str, str]:
    """What is wrong with each field, in plain words."""
    found: dict[str, str] = {}
    for each in error.errors():
        steps = [str(step) for step in each["loc"][1:]]  # the first is the kind
        name = steps[0] if steps else "kind"
        what = "fill this in" if each["type"] == "missing" else each["msg"]
        found.setdefault(name, what)
    return found
