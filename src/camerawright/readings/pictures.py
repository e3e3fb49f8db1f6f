"""Pictures of readings as bytes: SVG for pages and papers, PNG for the picture of all marked speeds."""

from collections.abc import Iterable
from io import BytesIO
from typing import Any

from camerawright.bench.contract import BenchTest
from camerawright.readings.rows import Row


def card_figure(test: BenchTest[Any], table: Iterable[Row]) -> Any:
    """All readings of a test in one picture, or None."""
    table = tuple(table)
    found = [row.as_found.against for row in table if row.as_found]
    left = [row.as_left.against for row in table if row.as_left]
    return test.marked.card(found, left) if test.marked and (found or left) else None


def card_png(test: BenchTest[Any], table: Iterable[Row], *, dpi: int = 150) -> bytes | None:
    """All readings of a test in one picture, as PNG, or nothing to draw."""
    figure = card_figure(test, table)
    return None if figure is None else png(figure, dpi=dpi)


def svg(figure: Any) -> bytes:
    """A figure as the bytes of an SVG file, the same each time."""
    from matplotlib import rc_context  # noqa: PLC0415  slow to import

    out = BytesIO()
    with rc_context({"svg.hashsalt": "camerawright"}):
        figure.savefig(out, format="svg", metadata={"Date": None})
    return out.getvalue()


def png(figure: Any, *, dpi: int = 110) -> bytes:
    """A figure as the bytes of a PNG file."""
    out = BytesIO()
    figure.savefig(out, format="png", dpi=dpi)
    return out.getvalue()
