"""An entry becomes another: its form comes back as it stands, and what is changed goes in as a correction."""

from typing import Final

from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response

from camerawright.job.now import JobNow
from camerawright.journal.asked import asked
from camerawright.journal.entries import Corrected, Entry
from camerawright.journal.sentences import sentence
from camerawright.journal.typed import typed_again
from camerawright.web.forms import BECOMES, Form, Refusal
from camerawright.web.render import REFUSED, page
from camerawright.web.taking import here

FORM: Final = "corrected"
_KEPT: Final = frozenset({"photo", "overruled", "entry"})
"""Fields that stay as they are: a correction changes what was said, not which entry it is."""


def can_become(entry: Entry) -> bool:
    """Whether an entry can be put right by another of its kind; for the rest an undo must do."""
    return not isinstance(entry, Corrected) and entry.form is not None


def show(request: Request, refusal: Refusal | None = None) -> Response:
    """The entry as it stands, to be changed."""
    bench = here(request)
    entry = _named(bench, request.path_params["entry"])
    filled = typed_again(entry) | {"kind": entry.kind, "id": entry.id, "by": entry.by or ""}
    given = {f"{BECOMES}{name}": text for name, text in filled.items()}
    names = [each.name for each in asked(type(entry)) if each.name not in _KEPT]
    return page(
        request,
        "correct.html",
        status=REFUSED if refusal else 200,
        here=bench,
        tab="journal",
        entry=entry,
        words=sentence(entry, bench.state.by_id),
        names=names,
        kept_fields={name: text for name, text in given.items() if name.removeprefix(BECOMES) not in names},
        refusal=refusal,
        form=Form(name=FORM, given=given, refusal=refusal),
    )


def _named(bench: JobNow, entry_id: str) -> Entry:
    """The entry as it stands now, whatever was corrected before."""
    entry = next((each for each in bench.state.entries if each.id == entry_id), None)
    if entry is None:
        raise HTTPException(404, f"{bench.job.id} has no entry {entry_id[:8]} that counts. It may be struck out.")
    if not can_become(entry):
        raise HTTPException(404, "You cannot change this entry. Undo it in the journal.")
    return entry
