"""The register as a workbook or a flat CSV: empty to be filled in, or as it stands; reads back the same."""

import csv
import io
from collections.abc import Iterable, Mapping, Sequence
from datetime import date
from typing import Any

import xlsxwriter

from service.domain.cells import guarded
from service.domain.fields import CHOSEN, Field, FieldKind, Value, typed_text
from service.domain.register import Noun
from service.domain.register_columns import SHEETS, Sheet, flat_fields, sheet_fields

#: one row of a sheet: values by (noun, field name)
Filled = Mapping[tuple[Noun, str], Value]
READ_ME = "Read me"
_LEAST_ROWS = 1_000
_INTRODUCTION = (
    "The register, one sheet per kind of thing, from the site down. Fill in what you have; the rest may come later.",
    "Every row says where its thing stands: the code of its site, and the code or tag of what it stands in.",
    "Client code may stay empty where you keep one client only.",
    "Codes and tags are how things are known: write them the same everywhere, capitals included.",
    "An empty cell leaves what the register has. A single - empties the field.",
    "The file may be sent again: what has not changed stays as it is.",
    "Nothing is stored unless the whole file is sound; every problem is told with its sheet, row and column.",
    "Sheets whose name begins with Notes or Read me are not read.",
    "Stand-off and PPE are typed by the site; the sheet gives no one permission.",
)


def register_workbook(filled: Mapping[Noun, Sequence[Filled]] | None = None) -> bytes:
    """A workbook with a sheet per noun, its titles explained and its choices offered.

    Parameters
    ----------
    filled : mapping of Noun to rows, optional
        What the register holds; without it the sheets are empty.

    Returns
    -------
    bytes
        XLSX. Texts are never formulas or links.
    """
    buffer = io.BytesIO()
    options = {
        "in_memory": True,
        "strings_to_formulas": False,
        "strings_to_urls": False,
        "strings_to_numbers": False,
        "nan_inf_to_errors": False,
    }
    book = xlsxwriter.Workbook(buffer, options)
    styles = {
        "title": book.add_format({"bold": True, "bottom": 2, "text_wrap": True, "valign": "top"}),
        "needed": book.add_format(
            {"bold": True, "bottom": 2, "text_wrap": True, "valign": "top", "bg_color": "#DDEBEC"}
        ),
        "day": book.add_format({"num_format": "yyyy-mm-dd"}),
        "text": book.add_format({"num_format": "@"}),
        "wrap": book.add_format({"text_wrap": True, "valign": "top"}),
        "heading": book.add_format({"bold": True, "font_size": 14}),
    }
    _write_read_me(book, styles)
    for sheet in SHEETS:
        _write_sheet(book, sheet, list((filled or {}).get(sheet.noun, ())), styles)
    book.close()
    return buffer.getvalue()


def _write_read_me(book: Any, styles: Mapping[str, Any]) -> None:
    page = book.add_worksheet(READ_ME)
    page.set_column(0, 0, 16)
    page.set_column(1, 1, 28)
    page.set_column(2, 2, 90)
    page.write_string(0, 0, "How to fill in this file", styles["heading"])
    line = 1
    for text in _INTRODUCTION:
        page.write_string(line, 0, text)
        line += 1
    line += 1
    for position, title in enumerate(("Sheet", "Column", "What it takes")):
        page.write_string(line, position, title, styles["title"])
    for sheet in SHEETS:
        for _, field in sheet_fields(sheet):
            line += 1
            page.write_string(line, 0, sheet.name)
            page.write_string(line, 1, field.column)
            page.write_string(line, 2, explained(field), styles["wrap"])


def explained(field: Field) -> str:
    """What a column takes, in one line."""
    parts = ["Needed." if field.required else "", field.help]
    if field.kind in CHOSEN:
        parts.append(f"One of: {', '.join(choice for choice in field.choices if choice)}.")
    elif field.choices:
        parts.append(f"Such as {', '.join(field.choices)}.")
    elif field.kind is FieldKind.FLAG:
        parts.append("yes or no.")
    elif field.kind is FieldKind.DAY:
        parts.append("A day: 2026-11-25.")
    elif field.kind is FieldKind.INTEGER:
        parts.append("A whole number.")
    elif field.kind is FieldKind.NUMBER:
        parts.append("A number.")
    if field.low is not None and field.high is not None:
        parts.append(f"{field.low:g} to {field.high:g}{f' {field.unit}' if field.unit else ''}.")
    if field.default not in (None, "", False) and not field.required:
        parts.append(f"Empty on a new one means {typed_text(field.default)}.")
    return " ".join(part for part in parts if part)


def _write_sheet(book: Any, sheet: Sheet, rows: Sequence[Filled], styles: Mapping[str, Any]) -> None:
    page = book.add_worksheet(sheet.name)
    page.freeze_panes(1, 0)
    last = max(_LEAST_ROWS, len(rows) + _LEAST_ROWS)
    columns = sheet_fields(sheet)
    for position, (noun, field) in enumerate(columns):
        needed = field.required and not (noun is Noun.CLIENT and sheet.noun is not Noun.CLIENT)
        page.write_string(0, position, field.column, styles["needed" if needed else "title"])
        style = styles["day"] if field.kind is FieldKind.DAY else None
        is_key = field.required and field.kind is FieldKind.TEXT
        page.set_column(position, position, _width(field), styles["text"] if is_key else style)
        _offer(page, position, last, field)
    for line, row in enumerate(rows, start=1):
        for position, (noun, field) in enumerate(columns):
            _write_cell(page, line, position, row.get((noun, field.name)), styles)


def _width(field: Field) -> float:
    return min(28.0, max(10.0, len(field.column) * 0.9, 18.0 if field.kind is FieldKind.TEXT else 0.0))


def _offer(page: Any, position: int, last: int, field: Field) -> None:
    """A list to choose from, or a line of help, at the cells of a column."""
    choices = [choice for choice in field.choices if choice]
    if field.kind is FieldKind.FLAG:
        choices = ["yes", "no"]
    rule: dict[str, Any] = {"validate": "any"}
    listed = field.kind in {*CHOSEN, FieldKind.FLAG} and len(",".join(choices)) <= 255
    if listed:
        rule = {"validate": "list", "source": choices, "error_type": "warning"}
    rule |= {"input_title": field.column[:32], "input_message": explained(field)[:255]}
    page.data_validation(1, position, last, position, rule)


def _write_cell(page: Any, line: int, position: int, value: Value, styles: Mapping[str, Any]) -> None:
    if value is None or value == "":
        return
    if isinstance(value, bool):
        page.write_string(line, position, "yes" if value else "no")
    elif isinstance(value, int | float):
        page.write_number(line, position, value)
    elif isinstance(value, date):
        page.write_datetime(line, position, value, styles["day"])
    else:
        # a text that begins with an apostrophe would lose it on the way back
        page.write_string(line, position, guarded(value) if value.startswith("'") else value)


def register_csv(filled: Iterable[Filled] = ()) -> bytes:
    """The flat form: one row per point with where it stands; UTF-8 with its mark, commas.

    Parameters
    ----------
    filled : iterable of rows
        Nothing for the empty form.

    Returns
    -------
    bytes
        Texts that a spreadsheet could take for a formula carry an apostrophe; numbers stay numbers.
    """
    buffer = io.StringIO()
    writer = csv.writer(buffer, lineterminator="\r\n")
    columns = flat_fields()
    writer.writerow([field.column for _, field in columns])
    for row in filled:
        writer.writerow([_csv_cell(row.get((noun, field.name))) for noun, field in columns])
    return b"\xef\xbb\xbf" + buffer.getvalue().encode()


def _csv_cell(value: Value) -> str:
    text = typed_text(value)
    return guarded(text) if isinstance(value, str) else text
