"""The ledger: what came out, went back, or is accounted for; part by part, or cell by cell of the tray."""

from collections.abc import Callable
from itertools import groupby

from starlette.requests import Request
from starlette.responses import Response

from camerawright.job.ledger import Line, ledger, open_lines
from camerawright.web.pages.bench import TRAY_CELLS
from camerawright.web.render import page
from camerawright.web.taking import here


def show(request: Request) -> Response:
    """All lines, or only those that do not balance yet."""
    bench = here(request)
    book = ledger(bench.state)
    only_open = request.query_params.get("open") == "1"
    by_cell = request.query_params.get("by") == "cell"
    lines = open_lines(book.lines) if only_open else book.lines
    return page(
        request,
        "ledger.html",
        here=bench,
        tab="ledger",
        book=book,
        groups=_grouped(lines, _cell if by_cell else _part),
        only_open=only_open,
        by_cell=by_cell,
    )


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
