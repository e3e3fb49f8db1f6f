"""The ledger: what came out, went back, or is accounted for; part by part, or cell by cell of the tray."""

from collections.abc import Callable
from itertools import groupby

from starlette.requests import Request
from starlette.responses import Response

from camerawright.job.ledger import Line, ledger, open_lines
from camerawright.job.now import JobNow
from camerawright.web.forms import Refusal, form_maker
from camerawright.web.pages.bench import TRAY_CELLS
from camerawright.web.render import REFUSED, page
from camerawright.web.taking import here
from camerawright.web.words import fastener_lines, shim_lines


def show(request: Request, refusal: Refusal | None = None) -> Response:
    """All lines, or only those that do not balance yet."""
    bench = here(request)
    book = ledger(bench.state)
    only_open = request.query_params.get("open") == "1"
    by_cell = request.query_params.get("by") == "cell"
    lines = open_lines(book.lines) if only_open else book.lines
    return page(
        request,
        "ledger.html",
        status=REFUSED if refusal else 200,
        here=bench,
        tab="ledger",
        book=book,
        groups=_grouped(lines, _cell if by_cell else _part),
        only_open=only_open,
        by_cell=by_cell,
        to_gauge=_to_gauge(bench),
        refusal=refusal,
        form=form_maker(refusal),
    )


def _to_gauge(bench: JobNow) -> list[tuple[str, str, str]]:
    """The parts with screws and shims whose size nobody took: the name, and their lines as a form reads them."""
    return [
        (part.name, fastener_lines(screws), shim_lines(stacks))
        for part in bench.state.parts.values()
        if part.out and part.removed
        for screws in [[each for each in part.removed.fasteners if each.size is None]]
        for stacks in [[each for each in part.removed.shims if each.thickness_mm is None]]
        if screws or stacks
    ]


def _grouped(lines: tuple[Line, ...], of: Callable[[Line], str]) -> list[tuple[str, list[Line]]]:
    """Lines with the same heading together, the headings in the order of the tray, or of coming off."""
    first = {heading: i for i, heading in reversed(list(enumerate(map(of, lines))))}
    cells = {f"cell {cell}": i for i, cell in enumerate(TRAY_CELLS)}

    def place(line: Line) -> tuple[int, int]:
        return cells.get(of(line), len(cells) if of is _cell else 0), first[of(line)]

    return [(heading, list(found)) for heading, found in groupby(sorted(lines, key=place), key=of)]


def _part(line: Line) -> str:
    return line.part


def _cell(line: Line) -> str:
    return f"cell {line.cell.upper()}" if line.cell else "in no cell"
