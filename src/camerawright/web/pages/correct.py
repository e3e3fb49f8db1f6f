"""An entry becomes another: its form comes back as it stands, and what is changed goes in as a correction."""

from dataclasses import dataclass
from functools import cache
from typing import Any, Final, Literal, get_args, get_origin

from pydantic import BaseModel
from pydantic.fields import FieldInfo
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response

from camerawright.job.now import JobNow
from camerawright.journal.entries import Corrected, Entry
from camerawright.web.fields import READERS, typed_again
from camerawright.web.forms import BECOMES, ENTERED_ELSEWHERE, Form, Refusal
from camerawright.web.render import REFUSED, page
from camerawright.web.taking import here
from camerawright.web.words import FIELDS, about

FORM: Final = "corrected"
KEPT: Final = frozenset({"id", "kind", "by", "photo", "overruled", "entry"})
"""Fields that stay as they are: a correction changes what was said, not who said it or which entry it is."""
_ONE_A_LINE: Final = frozenset({"fasteners", "shims", "loose"})


@dataclass(frozen=True, kw_only=True)
class Asked:
    """One field of the form."""

    name: str
    label: str
    is_needed: bool
    options: tuple[tuple[str, str], ...] = ()  # a choice, if there are any
    rows: int = 0


def can_become(entry: Entry) -> bool:
    """Whether an entry can be put right by another of its kind; for the rest an undo must do."""
    return not isinstance(entry, Corrected) and entry.kind not in ENTERED_ELSEWHERE and bool(_asked(entry))


def show(request: Request, refusal: Refusal | None = None) -> Response:
    """The entry as it stands, to be changed."""
    bench = here(request)
    entry = _named(bench, request.path_params["entry"])
    filled = typed_again(entry)
    given = {f"{BECOMES}{name}": text for name, text in filled.items()}
    asked = _asked(entry)
    return page(
        request,
        "correct.html",
        status=REFUSED if refusal else 200,
        here=bench,
        tab="journal",
        entry=entry,
        words=about(entry, {each.id: each for each in bench.state.journal}),
        asked=asked,
        kept_fields={name: text for name, text in given.items() if name.removeprefix(BECOMES) in KEPT},
        lost=[each.label for each in asked if _is_lost(entry, each.name, filled)],
        refusal=refusal,
        form=Form(name=FORM, given=given, refusal=refusal),
    )


def _named(bench: JobNow, entry_id: str) -> Entry:
    """The entry as it stands now, whatever was corrected before."""
    entry = next((each for each in bench.state.entries if each.id == entry_id), None)
    if entry is None:
        raise HTTPException(404, f"There is no entry {entry_id[:8]} in force in {bench.job.id}: it may be struck out.")
    if not can_become(entry):
        raise HTTPException(404, f"An entry of the kind “{entry.kind}” has nothing to change: undo it in the journal.")
    return entry


def _asked(entry: Entry) -> tuple[Asked, ...]:
    """What may be changed of an entry, field by field."""
    return _asked_of(type(entry))


@cache
def _asked_of(kind: type[BaseModel]) -> tuple[Asked, ...]:
    """The same for all entries of a kind."""
    fields = kind.model_fields
    names = sorted(fields.keys() - KEPT - {"at"}, key=lambda name: (name == "words", list(fields).index(name)))
    return tuple(_field(name, fields[name]) for name in names)


def _field(name: str, field: FieldInfo) -> Asked:
    options = _options(field.annotation)
    if options and field.default is None:
        options = ("", *options)
    return Asked(
        name=name,
        label=FIELDS.get(name, name.replace("_", " ").capitalize()),
        is_needed=field.is_required(),
        options=tuple((value, value or "not said") for value in options),
        rows=3 if name in _ONE_A_LINE else 0,
    )


def _options(annotation: Any) -> tuple[str, ...]:
    """What may be chosen, where not everything may be."""
    if get_origin(annotation) is Literal:
        return get_args(annotation)
    if annotation is bool:
        return ("yes", "no")
    return tuple(each for part in get_args(annotation) for each in _options(part))


def _is_lost(entry: Entry, name: str, filled: dict[str, str]) -> bool:
    """Whether a field would not be read again as it was written: a name with a comma in a list of names."""
    if name not in filled or name not in READERS:
        return False
    value = getattr(entry, name)
    again = READERS[name](filled[name])
    return bool(again != (list(value) if isinstance(value, tuple) else value))
