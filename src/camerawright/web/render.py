"""Pages out of templates."""

from functools import cache
from html import escape
from os import sep
from pathlib import Path
from typing import Any, Final

from jinja2 import Environment, PackageLoader, StrictUndefined
from starlette.requests import Request
from starlette.responses import HTMLResponse, Response

from camerawright.journal.asked import asked, field_of
from camerawright.journal.entries import KINDS
from camerawright.journal.fields import turns_said
from camerawright.store.workshop import Workshop
from camerawright.web import words
from camerawright.wording.moments import moment
from camerawright.wording.numbers import counted
from camerawright.wording.verdicts import SIGNS

REFUSED: Final = 422
"""Status of a page that brings a form back."""


@cache
def _environment() -> Environment:
    """The templates, with everything escaped."""
    environment = Environment(
        loader=PackageLoader("camerawright.web"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    for name in (
        "fastener_lines",
        "shim_lines",
        "loose_lines",
        "lead_lines",
        "day",
        "money",
        "minutes",
        "settings",
        "out_and_in",
    ):
        environment.filters[name] = getattr(words, name)
    environment.filters |= {"when": moment, "turns": turns_said, "capitalized": words.capitalized}
    environment.globals |= {"count_of": counted, "verdict_signs": SIGNS}
    environment.globals |= {"kinds": KINDS, "asked": asked, "field_of": field_of, "choices_of": words.choices_of}
    return environment


def page(request: Request, template: str, *, status: int = 200, **context: Any) -> Response:
    """A finished page; never kept by the browser, since the bench moves on."""
    html = _environment().get_template(template).render(path=request.url.path, **context)
    html = without_paths(html, workshop_of(request).folder)
    return HTMLResponse(html, status_code=status, headers={"Cache-Control": "no-store"})


def without_paths(told: str, folder: Path) -> str:
    """What is told, with places within the workshop as seen from its folder: where that is, is nobody's business."""
    whole = {str(folder), str(folder.absolute()), str(folder.resolve())} - {"."}
    for path in sorted((each for spelling in whole for each in (spelling, escape(spelling))), key=len, reverse=True):
        told = told.replace(f"{path}{sep}", "").replace(path, "the workshop's folder")
    return told


def workshop_of(request: Request) -> Workshop:
    """The workshop that is served."""
    workshop = request.app.state.workshop
    assert isinstance(workshop, Workshop)
    return workshop
