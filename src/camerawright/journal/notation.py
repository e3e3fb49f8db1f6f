"""The fields that hold what came out with a part, a line of text for each kind; `*_text` say how it is written.

Those are loaded where a line is read or written: to compile their patterns takes longer than most commands.
"""

from collections.abc import Iterable
from itertools import chain
from typing import Annotated, Any

from pydantic import Field

from camerawright.journal.fields import AsText, Called
from camerawright.journal.hardware import Fastener, Lead, Loose, Shim


def fasteners(text: str) -> tuple[Fastener, ...]:
    """Read a line as fasteners."""
    from camerawright.journal import fastener_text

    return fastener_text.fasteners(text)


def written_fastener(of: Fastener) -> str:
    """The line that is read as these again."""
    from camerawright.journal import fastener_text

    return fastener_text.written_fastener(of)


def shims(text: str) -> tuple[Shim, ...]:
    """Read a line as stacks of like shims."""
    from camerawright.journal import shim_text

    return shim_text.shims(text)


def written_shim(of: Shim) -> str:
    """The line that is read as these again."""
    from camerawright.journal import shim_text

    return shim_text.written_shim(of)


def loose_parts(text: str) -> tuple[Loose, ...]:
    """Read a line as loose parts."""
    from camerawright.journal import loose_text

    return loose_text.loose_parts(text)


def written_loose(of: Loose) -> str:
    """The line that is read as these again."""
    from camerawright.journal import loose_text

    return loose_text.written_loose(of)


def leads(text: str) -> tuple[Lead, ...]:
    """Read a line as leads."""
    from camerawright.journal import lead_text

    return lead_text.leads(text)


def written_lead(of: Lead) -> str:
    """The line that is read as these again."""
    from camerawright.journal import lead_text

    return lead_text.written_lead(of)


def _in_one(lines: Iterable[Iterable[Any]]) -> tuple[Any, ...]:
    """A line may name several kinds."""
    return tuple(chain.from_iterable(lines))


Fasteners = Annotated[
    tuple[Fastener, ...],
    AsText(read=fasteners, write=written_fastener, between="\n", gather=_in_one, each="kind"),
    Called("screw"),
    Field(title="Fasteners", examples=["3 x M1.7 x 4 cheese"]),
]
Shims = Annotated[
    tuple[Shim, ...],
    AsText(read=shims, write=written_shim, between="\n", gather=_in_one, each="place"),
    Called("shim"),
    Field(title="Shims", examples=["1 x 0.10 NE corner"]),
]
LooseParts = Annotated[
    tuple[Loose, ...],
    AsText(read=loose_parts, write=written_loose, between="\n", gather=_in_one, each="kind"),
    Field(title="Loose parts", description="Springs, balls, pawls and rollers.", examples=["1 x ball 1.5 mm"]),
]
Leads = Annotated[
    tuple[Lead, ...],
    AsText(read=leads, write=written_lead, between="\n", gather=_in_one, each="kind"),
    Called("lead"),
    Field(title="Leads", description="Colour, from where to where.", examples=["red from battery tag to meter"]),
]
