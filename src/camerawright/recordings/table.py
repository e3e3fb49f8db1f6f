"""Tables of readings in: a CSV file, or rows typed on a page, which are kept as the same CSV."""

import csv
import io
import math
import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import numpy as np
from numpy.typing import NDArray

from camerawright.trouble import Unreadable

MAX_BYTES: Final = 1_000_000
MAX_ROWS: Final = 10_000
"""Nobody reads a gauge as often."""

_DELIMITERS: Final = ("\t", ";", ",")
_NUMBER: Final = re.compile(r"[+-]?([0-9]+([.,][0-9]*)?|[.,][0-9]+)(e[+-]?[0-9]{1,3})?", re.IGNORECASE)
_COMMENT: Final = "#"


@dataclass(frozen=True, kw_only=True)
class Column:
    """One column of a table: its name, which ends in the unit, and what it holds, for a form's heading.

    A column that is not `is_needed` may be left out as a whole.
    """

    name: str
    says: str
    is_needed: bool = True


@dataclass(frozen=True, eq=False)
class Table:
    """Readings in named columns, each of shape (n,), in the order of the rows. `name` is the file's, without folder."""

    columns: Mapping[str, NDArray[np.float64]]
    name: str = ""


def read_table(path: Path, columns: Sequence[Column]) -> Table:
    """Read a CSV file whose first line names the columns.

    The columns may stand in any order, parted by commas, semicolons or tabs. The decimal sign is a point or a comma.
    Empty lines are skipped, and those that begin with #.

    Raises
    ------
    Unreadable
        Missing, a folder, empty, too long, not UTF-8; a column is missing, unknown or named twice; a cell is empty or
        no number.
    """
    try:
        with path.open("rb") as file:
            data = file.read(MAX_BYTES + 1)
    except IsADirectoryError:
        raise Unreadable("this is a folder", "give the table in it", path.name) from None
    except FileNotFoundError:
        raise Unreadable("no such file", "check the path", str(path)) from None
    except (OSError, ValueError) as error:
        why = getattr(error, "strerror", None) or str(error)
        raise Unreadable(why, "check the path and the permissions", path.name) from None
    return table_of(data, columns, path.name)


def table_of(data: bytes, columns: Sequence[Column], name: str = "") -> Table:
    """The table in the bytes of a CSV file; as `read_table`."""
    lines = _cells(_text(data, name), name)
    n_header, header = next(lines, (0, ()))
    if not header:
        raise Unreadable("the table is empty", f"begin with a line that names the columns: {_wanted(columns)}", name)
    places = _places(header, columns, f"line {n_header}", name)
    rows = [_row(cells, places, f"line {n}", name) for n, cells in lines]
    if not rows:
        raise Unreadable("there are no readings below the names of the columns", "write one in each line", name)
    if len(rows) > MAX_ROWS:
        raise Unreadable(f"{len(rows)} rows are too many", f"keep to {MAX_ROWS}", name)
    return Table(dict(zip(places, np.array(rows).T, strict=True)), name)


def typed(rows: Iterable[Mapping[str, str]], columns: Sequence[Column]) -> bytes:
    """The CSV file of rows that were typed, as they were typed, to be kept and read like any other.

    A row that was left empty is left out, and so is a column that nobody filled in and that is not needed.
    """
    cells = [{name: " ".join(text.split()) for name, text in row.items()} for row in rows]
    filled = [row for row in cells if any(row.values())]
    names = [one.name for one in columns if one.is_needed or any(row.get(one.name) for row in filled)]
    return _csv([names, *([row.get(name, "") for name in names] for row in filled)])


def written(table: Table) -> bytes:
    """The CSV file of a table that was never one."""
    rows = zip(*table.columns.values(), strict=True)
    return _csv([list(table.columns), *([f"{value:.12g}" for value in row] for row in rows)])


def _csv(rows: Iterable[Sequence[str]]) -> bytes:
    out = io.StringIO(newline="")
    csv.writer(out, lineterminator="\n").writerows(rows)
    return out.getvalue().encode()


def _text(data: bytes, name: str) -> str:
    if len(data) > MAX_BYTES:
        raise Unreadable("the file is too long for a table of readings", f"keep to {MAX_BYTES // 1000} kB", name)
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise Unreadable("this is no text in UTF-8", "save the table as CSV in UTF-8", name) from None


def _cells(text: str, name: str) -> Iterator[tuple[int, list[str]]]:
    """The cells of each line that holds any, with the line's number. The first such line tells what parts them."""
    delimiter = ""
    for n, line in enumerate(text.splitlines(), 1):
        if not line.strip() or line.lstrip().startswith(_COMMENT):
            continue
        delimiter = delimiter or next((sign for sign in _DELIMITERS if sign in line), ",")
        try:
            cells = [cell.strip() for cell in next(csv.reader([line], delimiter=delimiter))]
        except csv.Error as error:
            raise Unreadable(f"line {n}: this is no table ({error})", "save it as CSV", name) from None
        while cells and not cells[-1]:  # spreadsheets end a line with empty cells
            cells.pop()
        if cells:
            yield n, cells


def _wanted(columns: Sequence[Column]) -> str:
    """The names of the columns, as the first line has them."""
    optional = ", ".join(one.name for one in columns if not one.is_needed)
    return ",".join(one.name for one in columns if one.is_needed) + (
        f" (and {optional} if you like)" if optional else ""
    )


def _places(header: Sequence[str], columns: Sequence[Column], at: str, name: str) -> dict[str, int]:
    """Where each column stands. "Depth [mm]" is taken for depth_mm."""
    mend = f"name the columns in the first line: {_wanted(columns)}"
    known = {one.name for one in columns}
    places: dict[str, int] = {}
    for i, title in enumerate(header):
        found = re.sub(r"[^a-z0-9]+", "_", title.casefold()).strip("_")
        if found not in known:
            what = (
                f"column {i + 1} is called “{title[:40]}”, which is unknown" if title else f"column {i + 1} has no name"
            )
            raise Unreadable(f"{at}: {what}", mend, name)
        if found in places:
            raise Unreadable(f"{at}: the column {found} is there twice", "leave one out", name)
        places[found] = i
    missing = [one.name for one in columns if one.is_needed and one.name not in places]
    if missing:
        raise Unreadable(f"{at}: the column {missing[0]} is missing", mend, name)
    return places


def _row(cells: Sequence[str], places: Mapping[str, int], at: str, name: str) -> list[float]:
    """The numbers of one line, in the order of the columns."""
    if len(cells) > len(places):
        mend = "if the decimal sign is a comma, part the columns by semicolons"
        raise Unreadable(f"{at}: there are {len(cells)} cells for {len(places)} columns", mend, name)
    return [_number(cells[i] if i < len(cells) else "", f"{at}, column {column}", name) for column, i in places.items()]


def _number(cell: str, at: str, name: str) -> float:
    """A number with a point or a comma, and either kind of minus."""
    if not cell:
        raise Unreadable(f"{at}: the cell is empty", "write the number, or take the whole row out", name)
    text = cell.replace("\N{MINUS SIGN}", "-")
    value = float(text.replace(",", ".")) if _NUMBER.fullmatch(text) else math.nan
    if not math.isfinite(value):
        raise Unreadable(f"{at}: “{cell[:40]}” is not a number", "write the number alone, without its unit", name)
    return value
