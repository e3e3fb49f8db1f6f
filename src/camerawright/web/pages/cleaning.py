"""The cleaning plan: the route of every part that is off, with the reasons."""

from dataclasses import dataclass

from starlette.requests import Request
from starlette.responses import Response

from camerawright.journal.state import Part
from camerawright.refit.routes import Route, route_of
from camerawright.web.forms import Refusal, form_maker
from camerawright.web.render import REFUSED, page
from camerawright.web.taking import here


@dataclass(frozen=True, kw_only=True)
class Routed:
    """A part and how it is cleaned."""

    part: Part
    route: Route

    @property
    def is_done(self) -> bool:
        """Whether it went through every turn of its route since it came off."""
        removed = self.part.removed
        done = {clean.route for clean in self.part.cleaned if removed is not None and clean.at >= removed.at}
        return all(turn.name in done for turn in self.route.turns())


def show(request: Request, refusal: Refusal | None = None) -> Response:
    """What is still to be cleaned first, each part with its route."""
    bench = here(request)
    routed = [Routed(part=part, route=route_of(part.removed)) for part in bench.state.off if part.removed is not None]
    return page(
        request,
        "cleaning.html",
        status=REFUSED if refusal else 200,
        here=bench,
        tab="cleaning",
        to_do=[each for each in routed if not each.is_done],
        done=[each for each in routed if each.is_done],
        refusal=refusal,
        form=form_maker(refusal),
    )
