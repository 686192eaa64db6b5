"""The auditor's list of a year as CSV and as a workbook; no cell of it can become a formula."""

import csv
import io
from collections.abc import Iterable
from datetime import date, datetime

import xlsxwriter

from service.domain.cells import guarded
from service.domain.year import AuditedEquipment, EquipmentPage

#: title of each column, what it tells, and its width on the sheet
COLUMNS = (
    ("site", "", 22),
    ("area", "", 22),
    ("tag", "", 16),
    ("equipment", "", 26),
    ("class", "as typed in the register", 20),
    ("criticality", "need for reliability: high, medium or low", 11),
    ("behind a cover", "hinged or bolted: opening it needs a permit", 14),
    ("points in use", "measuring places", 8),
    ("stands", "within its date, due, late (past its due window), never read, or no points", 16),
    ("last read", "the latest reading of any of its points, also one that could not clear", 12),
    (
        "last could clear",
        "the day since which each of its points has had a reading that could clear it; empty while one has none",
        12,
    ),
    ("next due", "of the point that is due first; of the late ones where there are any", 12),
    ("late after", "the last day in time: a tenth of the interval after it is due, for a proof 30 days after the repair", 12),
    ("rule and source", "why it is due then", 70),
    ("why late", "reasons of its late points, each with their number", 50),
)  # fmt: skip
SHEET_NAME = "Equipment"
HELP_NAME = "What it says"


def year_table_csv(page: EquipmentPage) -> bytes:
    """UTF-8 with a byte order mark, one row an equipment; numbers and days stay such."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(["as at", *(title for title, _, _ in COLUMNS)])
    for row in page.rows:
        writer.writerow([page.on.isoformat(), *(_text(cell) for cell in _cells(row))])
    return ("\ufeff" + out.getvalue()).encode()


def year_table_xlsx(page: EquipmentPage, *, title: str) -> bytes:
    """A workbook: the list, filterable, and a sheet that says what each column counts."""
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
    # one fixed instant, so that the same list gives the same bytes
    book.set_properties({"title": title, "created": datetime(2000, 1, 1)})  # noqa: DTZ001
    _write_list(book, page.rows)
    _write_help(book, page, title)
    book.close()
    return out.getvalue()


def why_told(why: Iterable[tuple[str, int]]) -> str:
    """Locked or no permit (3 points); on no round since (1 point)."""
    return "; ".join(f"{word} ({points} point{'' if points == 1 else 's'})" for word, points in why)


def _cells(row: AuditedEquipment) -> tuple[object, ...]:
    covered, own = row.covered, row.covered.equipment
    return (
        own.site, own.area, own.tag, own.name, own.equipment_class, own.criticality,
        "yes" if own.behind_cover else "no", covered.points, covered.coverage.value, covered.seen_on,
        covered.cleared_on, covered.due_on, covered.late_after, covered.rule, why_told(row.why),
    )  # fmt: skip


def _text(cell: object) -> object:
    if isinstance(cell, date):
        return cell.isoformat()
    return guarded(cell) if isinstance(cell, str) else cell


def _write_list(book: xlsxwriter.Workbook, rows: Iterable[AuditedEquipment]) -> None:
    sheet = book.add_worksheet(SHEET_NAME)
    head = book.add_format({"bold": True, "text_wrap": True, "valign": "top", "bottom": 2})
    day = book.add_format({"num_format": "yyyy-mm-dd", "align": "left"})
    for place, (title, _, width) in enumerate(COLUMNS):
        sheet.write_string(0, place, title, head)
        sheet.set_column(place, place, width)
    number = 0
    for number, row in enumerate(rows, start=1):
        for place, cell in enumerate(_cells(row)):
            if isinstance(cell, date):
                sheet.write_datetime(number, place, cell, day)
            elif isinstance(cell, str):
                sheet.write_string(number, place, guarded(cell))
            elif isinstance(cell, int):
                sheet.write_number(number, place, cell)
    sheet.freeze_panes(1, 3)
    sheet.autofilter(0, 0, number, len(COLUMNS) - 1)


def _write_help(book: xlsxwriter.Workbook, page: EquipmentPage, title: str) -> None:
    sheet = book.add_worksheet(HELP_NAME)
    bold = book.add_format({"bold": True})
    sheet.set_column(0, 0, 20)
    sheet.set_column(1, 1, 100)
    lines = [
        ("List", title),
        ("As at", page.on.isoformat()),
        (
            "Safety",
            "This list permits nothing: the site's rules, the permit, the label on the door and local codes come "
            "first, and only the qualified person opens covers.",
        ),
        *((name, meaning) for name, meaning, _ in COLUMNS if meaning),
    ]
    for number, (name, meaning) in enumerate(lines):
        sheet.write_string(number, 0, name, bold)
        sheet.write_string(number, 1, guarded(meaning))
