"""Bytes of a CSV or XLSX file → raw tables with row numbers; knows formats and limits, no nouns."""

import re
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime, time
from typing import Literal

from service.domain.cells import Cell, bared
from service.intake.collecting import Problems, one_problem
from service.intake.delimited import read_records
from service.intake.limits import MOST_BYTES, MOST_CHARACTERS, MOST_COLUMNS, MOST_ROWS
from service.intake.workbooks import read_sheets

Kind = Literal["csv", "xlsx"]

_CONTROL = re.compile(r"[\x00-\x08\x0b\x0c\x0e-\x1f\x7f\ufffe\uffff]")
_ZIP, _OLE = b"PK\x03\x04", b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"


@dataclass(frozen=True, slots=True)
class RawRow:
    """One row as found: ``number`` is the row number a spreadsheet shows (the first is 1)."""

    number: int
    cells: tuple[Cell, ...]


@dataclass(frozen=True, slots=True)
class RawTable:
    """One sheet, or the whole of a CSV file (``sheet`` is then empty).

    ``header`` holds the titles as written, trimmed; every row has as many cells as it. Cells
    of a CSV file are texts; of a workbook they are typed. Texts are trimmed, bared of the
    apostrophe that guards against formulas, and None when empty.
    """

    sheet: str
    kind: Kind
    header_row: int
    header: tuple[str, ...]
    rows: tuple[RawRow, ...]

    def where(self, row: RawRow | int) -> str:
        number = row if isinstance(row, int) else row.number
        return f"sheet {self.sheet}, row {number}" if self.sheet else f"row {number}"

    def records(self) -> Iterator[tuple[RawRow, dict[str, Cell]]]:
        """Every row with its cells by title."""
        for row in self.rows:
            yield row, dict(zip(self.header, row.cells, strict=True))


def read_tables(content: bytes, *, skip: Callable[[str], bool] = lambda sheet: False) -> tuple[RawTable, ...]:
    """The tables of a CSV or XLSX file, told apart by content, never by name.

    Sheets without any cell are left out. The first row that is not empty holds the titles.

    Parameters
    ----------
    content : bytes
        The whole file.
    skip : callable
        True for the name of a sheet that is for people and is not looked at.

    Raises
    ------
    service.errors.Invalid
        The file cannot be read, breaks a limit, or its titles are unusable; all problems at once.
    """
    if len(content) > MOST_BYTES:
        raise one_problem(
            "file",
            "",
            f"{len(content) / 1048576:.1f} MiB",
            message=f"The file is larger than {MOST_BYTES // 1048576} MiB.",
            remedy="Split it, or save only the sheets that are to be read.",
        )
    if content.startswith(_OLE):
        raise one_problem(
            "file",
            "",
            "an old or password-protected workbook",
            message="This workbook cannot be opened.",
            remedy="Save it as .xlsx without a password.",
        )
    sheets: Sequence[tuple[str, Sequence[Sequence[Cell]]]]
    if content.startswith(_ZIP) or content.startswith(b"PK\x05\x06"):
        kind: Kind = "xlsx"
        sheets = read_sheets(content)
    else:
        kind = "csv"
        sheets = [("", read_records(content))]
    problems = Problems()
    tables = [_table(name, kind, rows, problems) for name, rows in sheets if not skip(name)]
    problems.refuse()
    found = tuple(table for table in tables if table is not None)
    if not found:
        raise one_problem(
            "file",
            "",
            "no cells",
            message="The file is empty.",
            remedy="Fill in the template and send that.",
        )
    return found


def _table(sheet: str, kind: Kind, records: Sequence[Sequence[Cell]], problems: Problems) -> RawTable | None:
    place = f"sheet {sheet}, " if sheet else ""
    cleaned = [(n, _cleaned(record)) for n, record in enumerate(records, start=1)]
    filled = [(n, record) for n, record in cleaned if any(cell is not None for cell in record)]
    if not filled:
        return None
    header_row, titles = filled[0]
    header = _header(titles, f"{place}row {header_row}", problems)
    if len(filled) - 1 > MOST_ROWS:
        problems.add(
            (sheet and f"sheet {sheet}") or "file",
            "",
            f"{len(filled) - 1} rows",
            message=f"More than {MOST_ROWS} rows.",
            remedy="Split the file.",
        )
        return None
    rows = [RawRow(n, _fitted(record, header, f"{place}row {n}", problems)) for n, record in filled[1:]]
    return _without_untitled(RawTable(sheet, kind, header_row, header, tuple(rows)), titles, problems)


def _without_untitled(table: RawTable, titles: tuple[Cell, ...], problems: Problems) -> RawTable:
    """The table without columns that have neither title nor cells; cells without title are told."""
    untitled = [n for n in range(len(table.header)) if titles[n] is None]
    if not untitled:
        return table
    for n in untitled:
        first = next((row for row in table.rows if row.cells[n] is not None), None)
        if first is not None:
            problems.add(
                table.where(first),
                table.header[n],
                first.cells[n],
                message="A cell in a column without title.",
                remedy="Give the column a title of the template, or clear it.",
            )
    kept = [n for n in range(len(table.header)) if titles[n] is not None]
    rows = tuple(RawRow(row.number, tuple(row.cells[n] for n in kept)) for row in table.rows)
    return RawTable(table.sheet, table.kind, table.header_row, tuple(table.header[n] for n in kept), rows)


def _cleaned(record: Sequence[Cell]) -> tuple[Cell, ...]:
    # most cells of a returned file are empty: they are not worth a call
    return tuple([None if cell is None or cell == "" else _clean(cell) for cell in record])


def _clean(cell: Cell) -> Cell:
    if isinstance(cell, str):
        text = bared(cell.strip(" \u00a0\t\r\n"))
        return text or None
    if isinstance(cell, float) and cell.is_integer() and abs(cell) < 2**53:
        return int(cell)
    if isinstance(cell, datetime) and cell.time() == time():
        return cell.date()
    return cell


def _header(titles: tuple[Cell, ...], where: str, problems: Problems) -> tuple[str, ...]:
    while titles and titles[-1] is None:
        titles = titles[:-1]
    if len(titles) > MOST_COLUMNS:
        problems.add(
            where,
            "",
            f"{len(titles)} columns",
            message=f"More than {MOST_COLUMNS} columns.",
            remedy="Keep only the columns of the template.",
        )
        titles = titles[:MOST_COLUMNS]
    seen: set[str] = set()
    for position, title in enumerate(titles, start=1):
        text = "" if title is None else str(title)
        if len(text) > MOST_CHARACTERS or _CONTROL.search(text):
            problems.add(
                where,
                f"column {column_letters(position)}",
                text,
                message="This cannot be the title of a column.",
                remedy="The first row must hold the titles, as in the template.",
            )
        folded = text.casefold()
        if folded and folded in seen:
            problems.add(
                where,
                f"column {column_letters(position)}",
                text,
                message="Two columns have the same title.",
                remedy="Keep one of them, or rename it.",
            )
        seen.add(folded)
    return tuple(
        f"column {column_letters(n)}" if title is None else str(title)
        for n, title in enumerate(titles, start=1)
    )


def _fitted(
    record: tuple[Cell, ...], header: tuple[str, ...], where: str, problems: Problems
) -> tuple[Cell, ...]:
    """The record with exactly one cell per title; what cannot be is a problem."""
    texts = [cell for cell in record if type(cell) is str]
    sound = not texts or (max(map(len, texts)) <= MOST_CHARACTERS and not _CONTROL.search("\n".join(texts)))
    if sound and len(record) <= len(header):
        return record + (None,) * (len(header) - len(record))
    for position, cell in enumerate(record, start=1):
        title = header[position - 1] if position <= len(header) else f"column {column_letters(position)}"
        if position > len(header) and cell is not None:
            problems.add(
                where,
                title,
                cell,
                message="A cell beyond the last title.",
                remedy="Give its column a title, or put text with a separator in it in double quotes.",
            )
            break
        if isinstance(cell, str):
            if len(cell) > MOST_CHARACTERS:
                problems.add(
                    where,
                    title,
                    cell,
                    message=f"More than {MOST_CHARACTERS} characters in one cell.",
                    remedy="Shorten the text.",
                )
            elif _CONTROL.search(cell):
                problems.add(
                    where,
                    title,
                    cell,
                    message="A control character in the text.",
                    remedy="Type this cell anew.",
                )
    width = len(header)
    return record[:width] + (None,) * (width - len(record))


def column_letters(position: int) -> str:
    """1 is A, 27 is AA: as a spreadsheet names its columns."""
    letters = ""
    while position > 0:
        position, rest = divmod(position - 1, 26)
        letters = chr(65 + rest) + letters
    return letters
