"""The fields that hold what came out with a part, a line of text for each kind; `*_text` say how it is written."""

from collections.abc import Iterable
from itertools import chain
from typing import Annotated, Any

from pydantic import Field

from camerawright.journal import fastener_text, lead_text, loose_text, shim_text
from camerawright.journal.fastener_text import fastener, fasteners, written_fastener
from camerawright.journal.fields import AsText, Called
from camerawright.journal.hardware import Fastener, Lead, Loose, Shim
from camerawright.journal.lead_text import leads, written_lead
from camerawright.journal.loose_text import loose, loose_parts, written_loose
from camerawright.journal.shim_text import shim, shims, written_shim

__all__ = [
    "Fasteners",
    "Leads",
    "LooseParts",
    "Shims",
    "fastener",
    "loose",
    "shim",
    "written_fastener",
    "written_lead",
    "written_loose",
    "written_shim",
]


def _in_one(lines: Iterable[Iterable[Any]]) -> tuple[Any, ...]:
    """A line may name several kinds."""
    return tuple(chain.from_iterable(lines))


Fasteners = Annotated[
    tuple[Fastener, ...],
    AsText(read=fasteners, write=written_fastener, between="\n", gather=_in_one, each="kind"),
    Called("screw"),
    Field(title="Fasteners", examples=[fastener_text.EXAMPLE]),
]
Shims = Annotated[
    tuple[Shim, ...],
    AsText(read=shims, write=written_shim, between="\n", gather=_in_one, each="place"),
    Called("shim"),
    Field(title="Shims", examples=[shim_text.EXAMPLE]),
]
LooseParts = Annotated[
    tuple[Loose, ...],
    AsText(read=loose_parts, write=written_loose, between="\n", gather=_in_one, each="kind"),
    Field(title="Loose parts", description="Springs, balls, pawls and rollers.", examples=[loose_text.EXAMPLE]),
]
Leads = Annotated[
    tuple[Lead, ...],
    AsText(read=leads, write=written_lead, between="\n", gather=_in_one, each="kind"),
    Called("lead"),
    Field(title="Leads", description="Colour, from where to where.", examples=[lead_text.EXAMPLE]),
]
