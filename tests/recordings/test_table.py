"""Tables of readings: CSV as spreadsheets of any country write it, rows typed on a page, and what is refused."""

import math
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from camerawright.recordings.table import MAX_BYTES, MAX_ROWS, Column, Table, read_table, table_of, typed, written
from camerawright.trouble import Unreadable

X, Y, DEPTH = Column(name="x_mm", says="to the right"), Column(name="y_mm", says="up"), Column(name="depth_mm", says="")
U = Column(name="u_mm", says="how sure", is_needed=False)
COLUMNS = (X, Y, DEPTH, U)
READINGS = {"x_mm": [-16.5, 16.5], "y_mm": [0.0, 10.0], "depth_mm": [44.96, 44.97]}


def held(table: Table) -> dict[str, list[float]]:
    """Its columns as lists."""
    return {name: list(column) for name, column in table.columns.items()}


def refusal(text: str | bytes) -> str:
    """What is said of a file that cannot be read."""
    with pytest.raises(Unreadable) as refused:
        table_of(text if isinstance(text, bytes) else text.encode(), COLUMNS, "gate.csv")
    return str(refused.value)


@pytest.mark.parametrize(
    "text",
    [
        "x_mm,y_mm,depth_mm\n-16.5,0,44.96\n16.5,10,44.97\n",
        "x_mm;y_mm;depth_mm\r\n-16,5;0;44,96\r\n16,5;10;44,97\r\n",  # as a spreadsheet with a decimal comma writes it
        "x_mm\ty_mm\tdepth_mm\n-16.5\t0\t44.96\n16.5\t10\t44.97",
        'x_mm,y_mm,depth_mm\n"-16,5",0,"44,96"\n"16,5",10,"44,97"\n',
        "\ufeffX [mm] , Y (mm), Depth mm\n-16.5, 0, 44.96\n\n16.5, 10, 44.97\n",
        "# first try\nx_mm,y_mm,depth_mm\n  # left\n-16.5,0,44.96\n,,\n16.5,10,44.97\n",
        "x_mm;y_mm;depth_mm;;\n\N{MINUS SIGN}16,5;+0;44,96;;\n16,5;1e1;44,97;;\n",
        "x_mm,y_mm,depth_mm\r-16.5,.0,44.96\r16.5,10.,44.97\r",
    ],
)
def test_the_same_readings_are_read_from_every_kind_of_csv(text: str) -> None:
    table = table_of(text.encode(), COLUMNS, "gate.csv")
    assert held(table) == READINGS
    assert table.name == "gate.csv"


def test_columns_may_stand_in_any_order_and_an_optional_one_may_be_there() -> None:
    table = table_of(b"depth_mm,u_mm,x_mm,y_mm\n44.96,0.01,1,2\n", COLUMNS)
    assert held(table) == {"depth_mm": [44.96], "u_mm": [0.01], "x_mm": [1.0], "y_mm": [2.0]}


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "gate.csv: the table is empty; begin with a line that names the columns: x_mm,y_mm,depth_mm"),
        ("# nothing yet\n\n", "the table is empty"),
        ("x_mm,y_mm,depth_mm\n", "there are no readings below the names of the columns"),
        ("16,0,44.96\n", "line 1: column 1 is called “16”, which is unknown; name the columns in the first line"),
        ("x_mm,y_mm,depth_in\n1,2,3\n", "column 3 is called “depth_in”"),
        ("x_mm,,depth_mm\n1,2,3\n", "column 2 has no name"),
        ("x_mm,depth_mm\n1,2\n", "the column y_mm is missing; name the columns in the first line: x_mm,y_mm,depth_mm"),
        ("x_mm,y_mm,X [mm],depth_mm\n1,2,3,4\n", "the column x_mm is there twice"),
        (
            "x_mm,y_mm,depth_mm\n1,2,44.9\n\n1,2,44.9 mm\n",
            "gate.csv: line 4, column depth_mm: “44.9 mm” is not a number",
        ),
        ("x_mm,y_mm,depth_mm\n1,,44.9\n", "line 2, column y_mm: the cell is empty"),
        ("x_mm,y_mm,depth_mm\n1,2\n", "line 2, column depth_mm: the cell is empty"),
        ("x_mm,y_mm,depth_mm\n1,2,44,96\n", "line 2: there are 4 cells for 3 columns; if the decimal sign is a comma"),
        ("x_mm;y_mm;depth_mm\n1;2;1.234,5\n", "“1.234,5” is not a number"),
        ("x_mm,y_mm,depth_mm\n1,2,nan\n", "“nan” is not a number"),
        ("x_mm,y_mm,depth_mm\n1,2,1e999\n", "“1e999” is not a number"),
        ("x_mm,y_mm,depth_mm\n1,2,4_4\n", "“4_4” is not a number"),
        ("x_mm,y_mm,depth_mm\n1,2,٤٤\n", "is not a number"),
        ("x_mm,y_mm,depth_mm\n" + "9" * 200_000, "line 2: this is no table"),
        ("x_mm,y_mm,depth_mm\n" + "1,2,3\n" * (MAX_ROWS + 1), f"{MAX_ROWS + 1} rows are too many"),
        (b"#" * (MAX_BYTES + 1), "too long for a table of readings"),
        ("x_mm,y_mm,depth_mm\n1,2,3\n".encode("utf-16"), "this is no text in UTF-8; save the table as CSV in UTF-8"),
        (b"\x89PNG\r\n\x1a\n\0\0", "this is no text in UTF-8"),
    ],
)
def test_what_cannot_be_read_is_told_with_its_place_and_the_mend(text: str | bytes, says: str) -> None:
    assert says in refusal(text)


def test_a_file_that_is_not_there_and_a_folder_are_refused(tmp_path: Path) -> None:
    with pytest.raises(Unreadable, match="no such file"):
        read_table(tmp_path / "gate.csv", COLUMNS)
    with pytest.raises(Unreadable, match="this is a folder"):
        read_table(tmp_path, COLUMNS)
    with pytest.raises(Unreadable, match="check the path"):
        read_table(tmp_path / ("x" * 5000), COLUMNS)


def test_typed_rows_are_the_file_that_a_hand_would_write() -> None:
    rows = [
        {"x_mm": " -16,5", "y_mm": "0", "depth_mm": "44,96", "u_mm": ""},
        {"x_mm": "", "y_mm": " ", "depth_mm": "", "u_mm": ""},
        {"x_mm": "16.5", "y_mm": "10", "depth_mm": "44.97"},
    ]
    written = typed(rows, COLUMNS)
    assert written.decode() == 'x_mm,y_mm,depth_mm\n"-16,5",0,"44,96"\n16.5,10,44.97\n'
    assert held(table_of(written, COLUMNS)) == READINGS


def test_typed_rows_with_an_empty_cell_are_refused_by_name() -> None:
    full = {"x_mm": "1", "y_mm": "2", "depth_mm": "3", "u_mm": "0.01"}
    assert "line 3, column u_mm: the cell is empty" in refusal(typed([full, full | {"u_mm": ""}], COLUMNS))


def test_a_table_is_written_as_it_is_read() -> None:
    table = table_of(b"x_mm;y_mm;depth_mm\n-16,5;0;44,96\n16,5;10;44,97\n", COLUMNS)
    assert written(table) == b"x_mm,y_mm,depth_mm\n-16.5,0,44.96\n16.5,10,44.97\n"
    assert held(table_of(written(table), COLUMNS)) == held(table)


NUMBERS = st.floats(allow_nan=False, allow_infinity=False)
ROWS = st.lists(st.tuples(NUMBERS, NUMBERS, NUMBERS), min_size=1, max_size=20)


@given(ROWS, st.sampled_from([",", ";", "\t"]), st.booleans(), st.permutations(["x_mm", "y_mm", "depth_mm"]))
def test_what_is_written_is_read_again_to_the_last_digit(
    rows: list[tuple[float, float, float]], delimiter: str, has_comma: bool, names: list[str]
) -> None:
    """Round trip over every number there is, every delimiter, and both decimal signs where they can be told apart."""
    text = "\n".join([delimiter.join(names), *(delimiter.join(map(repr, row)) for row in rows)])
    if has_comma and delimiter != ",":
        text = text.replace(".", ",")
    table = table_of(text.encode(), COLUMNS)
    for name, column in zip(names, zip(*rows, strict=True), strict=True):
        assert list(table.columns[name]) == list(column)


@given(ROWS)
def test_typed_rows_are_read_again_to_the_last_digit(rows: list[tuple[float, float, float]]) -> None:
    names = ["x_mm", "y_mm", "depth_mm"]
    written = typed(({name: f" {value!r}" for name, value in zip(names, row, strict=True)} for row in rows), COLUMNS)
    assert list(zip(*held(table_of(written, COLUMNS)).values(), strict=True)) == rows


LINES = st.text(st.sampled_from("x_mmydepth0123456789.,;\t\"'#-+e \n\r\0\x85√"))


def told(data: bytes) -> tuple[Table | None, Unreadable | None]:
    """The table, or why there is none."""
    try:
        return table_of(data, COLUMNS, "rubbish.csv"), None
    except Unreadable as refused:
        return None, refused


@given(
    st.one_of(st.binary(), st.text().map(str.encode), LINES.map(lambda text: f"x_mm,y_mm,depth_mm\n{text}".encode()))
)
def test_rubbish_is_refused_or_read_as_finite_numbers(data: bytes) -> None:
    table, refused = told(data)
    if table is None:
        assert refused is not None
        assert refused.what
        assert refused.mend
        assert refused.where == "rubbish.csv"
    else:
        assert set(table.columns) >= {"x_mm", "y_mm", "depth_mm"}
        assert all(math.isfinite(value) for column in table.columns.values() for value in column)
        assert len({len(column) for column in table.columns.values()}) == 1


@given(st.lists(st.dictionaries(st.sampled_from([one.name for one in COLUMNS]), st.text())))
def test_whatever_is_typed_is_refused_or_read(rows: list[dict[str, str]]) -> None:
    table, refused = told(typed(rows, COLUMNS))
    assert table is None or len(table.columns["x_mm"]) <= len(rows)
    assert (table is None) != (refused is None)
