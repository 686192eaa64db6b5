"""A round as CSV and as a workbook to be filled in; no cell of it can become a formula."""

import csv
import io
from collections.abc import Sequence
from datetime import date, datetime

import xlsxwriter

from service.domain.cells import guarded
from service.domain.round_columns import SHEET_NAME, Cell, Column, RoundFile
from service.domain.words import LoadSource, Reason, VisitKind

#: name of the second sheet of the workbook
HELP_NAME = "How to fill it in"
_WIDTHS = {
    "row_uid": 20,
    "equipment": 30,
    "view": 28,
    "point_tag": 20,
    "point_name": 22,
    "taken_at": 18,
    "note": 30,
}


def round_file_csv(file: RoundFile) -> bytes:
    """UTF-8 with a byte order mark, commas, CRLF (RFC 4180).

    Texts that a spreadsheet would run as a formula begin with an apostrophe; the reader takes
    it off again. Numbers stay numbers.
    """
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow([column.header for column in file.columns])
    for row in file.rows:
        writer.writerow([_text(row.get(column.name)) for column in file.columns])
    return ("\ufeff" + out.getvalue()).encode()


def _text(cell: Cell) -> object:
    if isinstance(cell, datetime):
        return cell.strftime("%Y-%m-%d %H:%M")
    if isinstance(cell, date):
        return cell.isoformat()
    return guarded(cell) if isinstance(cell, str) else cell


def round_file_xlsx(file: RoundFile) -> bytes:
    """A workbook: the rows, with only the boxes to be filled in open, and a sheet that says how."""
    out = io.BytesIO()
    book = xlsxwriter.Workbook(
        out,
        {
            "in_memory": True,
            "strings_to_formulas": False,
            "strings_to_urls": False,
            "strings_to_numbers": False,
        },
    )
    # one fixed instant, so that the same round gives the same bytes
    book.set_properties({"title": file.code, "created": datetime(2000, 1, 1)})  # noqa: DTZ001
    _write_rows(book, file)
    _write_help(book, file.columns)
    book.close()
    return out.getvalue()


def _write_rows(book: xlsxwriter.Workbook, file: RoundFile) -> None:
    sheet = book.add_worksheet(SHEET_NAME)
    head = book.add_format({"bold": True, "text_wrap": True, "valign": "top", "bottom": 2})
    fixed = book.add_format({"font_color": "#5F6A6E"})
    open_text = book.add_format({"locked": False, "num_format": "@"})
    open_number = book.add_format({"locked": False})
    day = book.add_format({"font_color": "#5F6A6E", "num_format": "yyyy-mm-dd"})
    for place, column in enumerate(file.columns):
        sheet.write_string(0, place, column.header, head)
        sheet.set_column(place, place, _WIDTHS.get(column.name, 12))
    for number, row in enumerate(file.rows, start=1):
        for place, column in enumerate(file.columns):
            cell = row.get(column.name)
            form = (open_number if column.number else open_text) if column.editable else fixed
            if cell is None or cell == "":
                sheet.write_blank(number, place, None, form)
            elif isinstance(cell, str):
                sheet.write_string(number, place, guarded(cell), form)
            elif isinstance(cell, date):
                sheet.write_datetime(number, place, cell, day)
            else:
                sheet.write_number(number, place, cell, form)
    last = max(len(file.rows), 1)
    for place, column in enumerate(file.columns):
        _offer_words(sheet, column, place=place, last=last)
    sheet.freeze_panes(1, 0)
    # a hint, not a lock: without a password anybody may lift it
    sheet.protect("", {"sort": False, "format_columns": True, "format_rows": True})


def _offer_words(sheet: xlsxwriter.worksheet.Worksheet, column: Column, *, place: int, last: int) -> None:
    words = {
        "reason": [reason.value for reason in Reason],
        "visit_kind": [kind.value for kind in VisitKind],
        "load_source": [source.value for source in LoadSource],
        "fan_on_part": ["yes", "no"],
    }.get(column.name, list(column.words))
    if words:
        rule = {"validate": "list", "source": words, "error_type": "warning"}
        sheet.data_validation(1, place, last, place, rule)


def _write_help(book: xlsxwriter.Workbook, columns: Sequence[Column]) -> None:
    sheet = book.add_worksheet(HELP_NAME)
    bold = book.add_format({"bold": True})
    sheet.set_column(0, 0, 24)
    sheet.set_column(1, 1, 70)
    lines: list[tuple[str, str]] = [
        ("Safety", "Local codes, the site's rules, the permit and the label on the door come first. "
                   "Only the qualified person opens covers. This file permits nothing."),
        ("Not read", "Leave the temperature empty and give the letter of the reason."),
    ]  # fmt: skip
    lines += [(column.header, column.meaning) for column in columns]
    lines += [(f"Reason {reason.value}", reason.word) for reason in Reason]
    for number, (name, meaning) in enumerate(lines):
        sheet.write_string(number, 0, name, bold)
        sheet.write_string(number, 1, meaning)
