"""Files as people send them, and as nobody should: read right, or refused in words."""

import csv
import io
import resource
import time
from contextlib import suppress
from datetime import date, datetime

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from service.domain.cells import bared, decimal_signs, guarded, read_day, read_number
from service.errors import Invalid
from service.intake import delimited, workbooks
from service.intake.limits import MOST_BYTES, MOST_CHARACTERS, MOST_COLUMNS, MOST_ROWS
from service.intake.tables import RawTable, read_tables
from tests.intake.workbooks import CRAFTED, MIB, hyperlinked, sound, with_sheet, workbook

LINES = 'Tag;Name;Amps\nA1;Käfig, links;12,5\nA2;"a;b ""c""\nd";7\n'


def one_table(content: bytes) -> RawTable:
    (table,) = read_tables(content)
    return table


def told(content: bytes) -> Invalid:
    """How the file is refused: every problem in words with a remedy."""
    with pytest.raises(Invalid) as refused:
        read_tables(content)
    assert refused.value.problems
    for problem in refused.value.problems:
        assert problem.where
        assert problem.message.endswith((".", "?"))
        assert problem.remedy.endswith((".", "?"))
    return refused.value


def read_or_refused(content: bytes) -> tuple[RawTable, ...]:
    """Its tables, or none when it is refused; any other error is a fault."""
    with suppress(Invalid):
        return read_tables(content)
    return ()


# ---- CSV -------------------------------------------------------------------------------------


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "cp1252"])
@pytest.mark.parametrize("newline", ["\n", "\r\n", "\r"])
def test_a_csv_reads_the_same_in_every_encoding_and_with_every_line_end(encoding: str, newline: str) -> None:
    table = one_table(LINES.replace("\nd", "|d").replace("\n", newline).encode(encoding))
    assert table.header == ("Tag", "Name", "Amps")
    assert [row.cells for row in table.rows] == [("A1", "Käfig, links", "12,5"), ("A2", 'a;b "c"|d', "7")]
    assert [row.number for row in table.rows] == [2, 3]


@pytest.mark.parametrize("separator", [",", ";", "\t", "|"])
def test_the_separator_is_counted_outside_quotes(separator: str) -> None:
    others = "".join(s for s in ",;\t|" if s != separator)
    lines = [separator.join(("Tag", "Name")), separator.join(("A1", f'"{others * 9}"'))]
    assert one_table("\n".join(lines).encode()).rows[0].cells == ("A1", (others * 9).strip())


def test_three_lines_with_a_quoted_separator_are_enough() -> None:
    """The file on which the standard library's sniffer fails (stack.md §7)."""
    table = one_table(b'Tag;Name\nA1;"a;b"\nA2;c\n')
    assert [row.cells for row in table.rows] == [("A1", "a;b"), ("A2", "c")]


def test_a_quote_inside_an_unquoted_cell_does_not_hide_separators() -> None:
    assert delimited.separator_of('Tag;Size\nA1;12" pipe, long\nA2;3" pipe, short\n') == ";"


def test_a_first_line_that_names_the_separator_is_believed_and_left_out() -> None:
    table = one_table(b"sep=;\nTag;Name,more\nA1;b,c\n")
    assert (table.header, table.header_row, table.rows[0].number) == (("Tag", "Name,more"), 2, 3)


def test_a_line_break_in_a_cell_is_one_row() -> None:
    table = one_table(b'Tag,Note\nA1,"first\nsecond"\nA2,x\n')
    assert [(row.number, row.cells[1]) for row in table.rows] == [(2, "first\nsecond"), (3, "x")]


def test_empty_lines_are_skipped_but_counted() -> None:
    assert [row.number for row in one_table(b"Tag,Name\n\nA1,x\n,\nA2,y\n").rows] == [3, 5]


BAD_TEXTS = {
    "nothing": b"",
    "spaces and line ends": b"  \n\n \t\n",
    "NUL": b"Tag,Name\nA\x001,x\n",
    "UTF-16 without its mark": "Tag,Name\nA1,x\n".encode("utf-16-le"),
    "a byte that no encoding here has": b"Tag,Name\nA\x81,x\n",
    "half a UTF-16 character": b"\xff\xfeT\x00a",
    "a quote that is not closed": b'Tag,Name\nA1,"x\nA2,y\n',
    "text after a closing quote": b'Tag,Name\nA1,"x"y\n',
    "two titles alike": b"Tag,tag\nA1,x\n",
    "a cell beyond the titles": b"Tag,Name\nA1,x,y\n",
    "a cell without title": b"Tag,,Name\nA1,y,x\n",
    "a control character": b"Tag,Name\nA1,x\x07\n",
    "a title of a thousand and one letters": b"T" * (MOST_CHARACTERS + 1) + b",Name\nA1,x\n",
    "a cell of a thousand and one letters": b"Tag,Name\nA1," + b"x" * (MOST_CHARACTERS + 1) + b"\n",
    "too many columns": b",".join(b"c%d" % n for n in range(MOST_COLUMNS + 1)) + b"\nx\n",
    "one line of a hundred thousand cells": b"," * 100_000 + b"x\n",
    "too many rows": b"Tag\n" + b"x\n" * (MOST_ROWS + 1),
    "too many bytes": b"Tag\n" + b"x" * MOST_BYTES,
    "one line as long as the limit": b"x" * (MOST_BYTES - 1),
    "an old workbook": b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + b"\0" * 600,
    "the start of an archive": b"PK\x03\x04" + b"\0" * 60,
}


@pytest.mark.parametrize("name", BAD_TEXTS)
def test_a_bad_file_is_refused_in_words(name: str) -> None:
    assert told(BAD_TEXTS[name])


def test_every_bad_row_is_told_not_the_first_only() -> None:
    refused = told(b"Tag,Name\nA1,x,1\nA2,y\nA3,z,2\n" + b"A4,\x07\n")
    assert [problem.where for problem in refused.problems] == ["row 2", "row 4", "row 5"]


def test_a_thousand_problems_are_told_and_all_are_counted() -> None:
    refused = told(b"Tag\n" + b"a,b\n" * 3000)
    assert (len(refused.problems), refused.total) == (1000, 3000)
    assert "3000 problems" in refused.message


@given(st.binary(max_size=600))
@example(b'"')
@example(b"sep=;")
@example(b"\xef\xbb\xbf")
@settings(max_examples=400, deadline=None, derandomize=True)
def test_any_bytes_are_a_table_or_a_refusal(content: bytes) -> None:
    if content.startswith((b"PK\x03\x04", b"PK\x05\x06")):
        return
    tables = read_or_refused(content)
    assert all(len(row.cells) == len(table.header) for table in tables for row in table.rows)


CELLS = st.text(st.characters(exclude_categories=("Cs", "Cc")), max_size=30).map(str.strip)
ROWS = st.lists(st.tuples(CELLS, CELLS, CELLS), min_size=1, max_size=8)


@given(
    rows=ROWS, separator=st.sampled_from(",;\t"), encoding=st.sampled_from(["utf-8", "utf-8-sig", "utf-16"])
)
@settings(max_examples=300, deadline=None, derandomize=True)
def test_what_is_written_comes_back(rows: list[tuple[str, ...]], separator: str, encoding: str) -> None:
    buffer = io.StringIO()
    writer = csv.writer(buffer, delimiter=separator, quoting=csv.QUOTE_ALL)
    writer.writerow(["one", "two", "three"])
    writer.writerows([guarded(cell) for cell in row] for row in rows)
    expected = [
        tuple(cell.strip(" \u00a0") or None for cell in row)
        for row in rows
        if any(c.strip(" \u00a0") for c in row)
    ]
    table = one_table(buffer.getvalue().encode(encoding))
    assert [row.cells for row in table.rows] == expected


@given(st.text(max_size=40))
@settings(max_examples=300, deadline=None, derandomize=True)
def test_guarding_is_undone_exactly_and_leaves_no_formula(text: str) -> None:
    assert bared(guarded(text)) == text
    assert not guarded(text).startswith(("=", "+", "-", "@", "\t", "\r"))


# ---- numbers and days ------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("cell", "decimal", "value"),
    [
        ("36.7", ".", 36.7),
        ("36,7", ",", 36.7),
        ("−3,2", ",", -3.2),
        ("+4", ".", 4.0),
        (".5", ".", 0.5),
        ("1,234.5", ".", 1234.5),
        ("1.234,5", ",", 1234.5),
        ("1 234,5", ",", 1234.5),
        ("1\u202f234\u202f567", ".", 1234567.0),
        ("1'234.5", ".", 1234.5),
        ("1e3", ".", 1000.0),
        (25, ",", 25.0),
        (25.5, ",", 25.5),
    ],
)
def test_a_number_is_read_by_the_sign_of_its_file(cell: str | float, decimal: str, value: float) -> None:
    assert read_number(cell, decimal=decimal, where="row 2", field="x") == (value, None)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    "cell",
    ["36.7 °C", "36,7", "1,23,4", "12,34.5", "1.2.3", "NaN", "inf", "1e999", "--1", "", "O.5", "1,2345.6"],
)
def test_what_is_no_number_is_told(cell: str) -> None:
    value, problem = read_number(cell, decimal=".", where="row 2", field="Amps")
    assert value is None
    assert problem is not None
    assert (problem.where, problem.field) == ("row 2", "Amps")


def test_the_other_decimal_sign_is_named() -> None:
    _, problem = read_number("36,7", decimal=".", where="row 2", field="Amps")
    assert problem is not None
    assert "decimal sign here is a point" in problem.remedy


@pytest.mark.parametrize(
    ("cells", "sign", "asked"),
    [
        (["0,95", "12"], ",", False),
        (["0.95", "12"], ".", False),
        (["1.234,5"], ",", False),
        (["0,95", "1.5"], None, True),
        (["1,234", "12"], None, True),
        (["1,234", "0,5"], ",", False),
        (["12", 3.5, None], None, False),
    ],
)
def test_a_whole_file_shows_its_decimal_sign_or_a_person_is_asked(
    cells: list[str | float | None], sign: str | None, asked: bool
) -> None:
    signs = decimal_signs(cells)
    assert (signs.sign, signs.must_be_asked) == (sign, asked)


def test_a_day_is_never_guessed() -> None:
    assert read_day("2026-11-25", where="", field="") == (date(2026, 11, 25), None)
    assert read_day("25.11.2026", where="", field="") == (date(2026, 11, 25), None)
    for bad in ("3/4/2026", "31.2.2026", "2026-13-01", "soon"):
        assert read_day(bad, where="", field="")[1] is not None


# ---- workbooks -------------------------------------------------------------------------------


def test_a_workbook_gives_typed_cells_with_their_row_numbers() -> None:
    rows = [
        [],
        ["Tag", "Number", "On"],
        [],
        ["A1", 25, datetime(2026, 1, 2)],
        ["A2", 25.5, datetime(2026, 1, 2, 3, 4)],
    ]
    table = one_table(workbook({"Points": rows}))
    assert (table.sheet, table.header_row, table.header) == ("Points", 2, ("Tag", "Number", "On"))
    assert [row.cells for row in table.rows] == [
        ("A1", 25, date(2026, 1, 2)),
        ("A2", 25.5, datetime(2026, 1, 2, 3, 4)),
    ]
    assert table.where(table.rows[0]) == "sheet Points, row 4"
    assert isinstance(table.rows[0].cells[1], int)


def test_sheets_are_read_in_order_and_empty_ones_left_out() -> None:
    content = workbook({"B": [["x"], [1]], "Empty": [], "A": [["y"], [2]]})
    assert [table.sheet for table in read_tables(content)] == ["B", "A"]


def test_an_error_cell_is_told_not_taken_for_empty() -> None:
    xml = '<sheetData><row r="1"><c r="A1"><v>1</v></c></row><row r="7"><c r="C7" t="e"><v>#N/A</v></c></row></sheetData>'
    (problem,) = told(with_sheet(xml)).problems
    assert (problem.where, problem.field) == ("sheet Points, row 7", "column C")


def test_a_dimension_that_exaggerates_does_no_harm() -> None:
    xml = '<dimension ref="A1:XFD1048576"/><sheetData><row r="1"><c r="A1"><v>1</v></c></row><row r="2"><c r="A2"><v>2</v></c></row></sheetData>'
    assert one_table(with_sheet(xml)).rows[0].cells == (2,)


def test_a_mail_address_in_a_cell_is_harmless() -> None:
    assert one_table(hyperlinked()).rows[0].cells == ("A1", "L1")


@pytest.mark.parametrize("name", CRAFTED)
def test_a_crafted_workbook_is_refused_within_bounds(name: str) -> None:
    content = CRAFTED[name]()
    began = time.monotonic()
    refused = told(content)
    assert time.monotonic() - began < 30
    assert refused.problems[0].where in ("file", "sheet Points")
    # a child begins as large as its parent, so the parent's size is no fault of the reader
    own = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    most = max(own * 1024, workbooks.MEMORY_BYTES) + 8 * MIB
    assert resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss * 1024 <= most


def test_the_reader_gives_up_when_its_processor_time_is_over(monkeypatch: pytest.MonkeyPatch) -> None:
    """With no second at all nothing can be read: the limit is in force, and is told in words."""
    monkeypatch.setattr(workbooks, "PROCESSOR_SECONDS", 0)
    assert "memory or time" in told(sound()).problems[0].message


def test_the_reader_gives_up_when_its_memory_is_over(monkeypatch: pytest.MonkeyPatch) -> None:
    """With less than Python itself needs nothing can be read: the limit is in force."""
    monkeypatch.setattr(workbooks, "MEMORY_BYTES", 4 * MIB)
    assert "memory or time" in told(sound()).problems[0].message


@given(st.integers(0, 10**9), st.integers(1, 255))
@settings(max_examples=25, deadline=None, derandomize=True)
def test_one_changed_byte_is_read_or_refused_never_more(position: int, change: int) -> None:
    content = bytearray(sound())
    content[position % len(content)] ^= change
    assert len(read_or_refused(bytes(content))) <= 1


def test_fifty_thousand_rows_are_read_in_seconds() -> None:
    content = b"Tag,Name,Amps\n" + b"".join(b"T%d,Line terminal,%d\n" % (n, n) for n in range(MOST_ROWS))
    began = time.monotonic()
    assert len(one_table(content).rows) == MOST_ROWS
    assert time.monotonic() - began < 10
