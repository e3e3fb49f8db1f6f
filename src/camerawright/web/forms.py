"""What was typed into a form, and the entry that it makes. What cannot be read is said field by field, all at once."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime
from typing import Final

from camerawright.journal.asked import asked, field_of
from camerawright.journal.entries import KINDS, Entry, new_id, part_key
from camerawright.journal.fields import parted
from camerawright.journal.typed import NotAnEntry, entry_typed
from camerawright.trouble import Trouble

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

    @property
    def asks_names(self) -> bool:
        """Whether it asks which part was meant."""
        return any(problem.unknown for problem in self.problems)

    def concerns(self, names: Sequence[str]) -> bool:
        """Whether it is about one of these fields: an error there, or a reason that repeats what was typed there."""
        if not self.errors.keys().isdisjoint(names):
            return True
        typed = [self.typed.get(name, "").strip().casefold() for name in names]
        return any(words in problem.what.casefold() for words in filter(None, typed) for problem in self.problems)

    @property
    def messages(self) -> list[tuple[str, str]]:
        """What is wrong, each with the label of its field."""
        return [(self._label(name), message) for name, message in self.errors.items()]

    def _label(self, name: str) -> str:
        within, _, field_name = name.rpartition(".")
        kind = self.typed.get(f"{within}.kind" if within else "kind", "")
        asked = field_of(KINDS[kind], field_name) if kind in KINDS else None
        return asked.label if asked else field_name.replace("_", " ").capitalize()


@dataclass(frozen=True, kw_only=True)
class Form:
    """One form on a page: a fresh entry id, and what was typed if it was refused just now."""

    name: str
    id: str = field(default_factory=new_id)
    given: Typed = field(default_factory=dict)
    refusal: Refusal | None = None
    names: Mapping[str, Sequence[str]] = field(default_factory=dict)  # that the page suggests

    def value(self, name: str) -> str:
        """What to show in a field: as typed, else as given."""
        return (self.refusal.typed if self.refusal else self.given).get(name, "")

    def error(self, name: str) -> str | None:
        """What is wrong in a field."""
        return self.refusal.errors.get(name) if self.refusal else None


def form_maker(refusal: Refusal | None, names: Mapping[str, Sequence[str]] | None = None) -> Callable[..., Form]:
    """For the templates: `form("removed", part="dial")` is a form with that field filled in.

    Parameters
    ----------
    names
        What is suggested while one types: parts, springs, tests, assemblies.
    """

    def form(name: str, **given: str | None) -> Form:
        mine = refusal if refusal and refusal.form == name else None
        filled = {key: value for key, value in given.items() if value}
        return Form(name=name, given=filled, refusal=mine, names=names or {})

    return form


def as_meant(typed: Typed) -> Typed:
    """What was typed, with the name that was chosen in the place of the one that nobody knows.

    The button says both in its field `meant`: ``speed dail = speed dial``.
    """
    said, _, name = typed.get("meant", "").partition(" = ")
    kind = KINDS.get(typed.get("kind", ""))
    if not name or kind is None:
        return typed
    put_right = dict(typed)
    for each in asked(kind):
        if each.among in {"parts", "springs"} and (text := typed.get(each.name)):
            names = parted(text) if each.text.between else [text]
            named = [name if part_key(one) == part_key(said) else one for one in names]
            put_right[each.name] = each.text.written(named) if each.text.between else named[0]
    del put_right["meant"]
    return put_right


BECOMES: Final = "becomes."
"""Before the names of the fields of what a correction puts in place."""


def entry_from(typed: Typed, *, at: datetime) -> Entry:
    """Make the entry that a form asks for.

    Parameters
    ----------
    typed
        The fields: `kind`, `id`, and the entry's own under their own names; `photo` is the hash of a photo that is kept
        already. What a correction puts in place has its fields after `becomes.`.
    at
        When it happened.

    Raises
    ------
    BadFields
        With every field that cannot be read.
    """
    kind = typed.get("kind", "")
    if kind not in KINDS or KINDS[kind].form is None:
        raise BadFields({"kind": f"no form makes an entry of the kind “{kind}”"})
    errors: dict[str, str] = {}
    becomes = {name.removeprefix(BECOMES): text for name, text in typed.items() if name.startswith(BECOMES)}
    new = None
    if becomes:
        try:
            new = entry_from(becomes, at=at)
        except BadFields as bad:
            errors = {f"{BECOMES}{name}": message for name, message in bad.errors.items()}
    try:
        entry = entry_typed(kind, typed, at=at, clock=min(at, datetime.now(UTC)))
    except NotAnEntry as wrong:
        errors |= {each.where: str(replace(each, where="")) for each in wrong.troubles}
    if errors:
        raise BadFields(errors)
    return entry.model_copy(update={"becomes": new}) if new else entry
