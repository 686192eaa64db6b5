"""Cells of a returned file, page or message by the names of their columns; values come later."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

from service.domain.readings import FOUND
from service.domain.round_columns import BY_NAME, EDITABLE, OF_BOXES, SHEET_NAME, column_of
from service.errors import Invalid, Problem
from service.intake.collecting import Problems, one_problem
from service.intake.reading_cells import Cells
from service.intake.tables import RawTable

CELSIUS, FAHRENHEIT = "°C", "°F"
KEYS = ("round_code", "row_uid", "point_tag", "site")
#: Fields that only JSON has: a file and a page keep to the columns of the sheet.
ONLY_JSON = ("uid", "device_time", "skew_s")
KNOWN = tuple(dict.fromkeys((*KEYS, *(column.name for column in EDITABLE), *FOUND, *ONLY_JSON)))
NEEDED = ("round_code", "row_uid", "point_tag", "temperature_c")
_OF_BOXES = frozenset(column.name for column in OF_BOXES)


@dataclass(frozen=True, slots=True)
class Ways:
    """How numbers are written: stated by the sender; an empty ``decimal`` is to be found out."""

    decimal: str = ""
    temperature_unit: str = CELSIUS


@dataclass(frozen=True, slots=True)
class RawRows:
    """Cells by column name, all columns of one length; ``wheres`` names each row.

    ``boxes`` are cells of boxes that only some kinds ask for, where each has its own column.
    ``strict`` cells come from JSON and have their types already.
    """

    cells: Mapping[str, Cells]
    wheres: tuple[str, ...]
    ways: Ways
    strict: bool = False
    warnings: tuple[Problem, ...] = ()
    problems: tuple[Problem, ...] = ()
    boxes: Mapping[str, Cells] = field(default_factory=dict)


def rows_of_tables(tables: Sequence[RawTable], ways: Ways) -> RawRows:
    """The rows of a returned file; of a workbook the sheet *Readings*, or its only one.

    Raises
    ------
    service.errors.Invalid
        No such sheet, columns that are needed are missing, or titles in °C and in °F; all of
        them at once.
    """
    table = _sheet_of(tables)
    places: dict[str, int] = {}
    warnings = []
    fahrenheit = []
    for place, title in enumerate(table.header):
        column = column_of(title)
        if column is None and FAHRENHEIT in title:
            column = column_of(title.replace(FAHRENHEIT, CELSIUS))
            fahrenheit += [title] if column is not None else []
        if column is not None:
            places[column.name] = place
        elif any(row.cells[place] is not None for row in table.rows):
            warnings.append(_not_stored(table, title))
    columns = list(zip(*(row.cells for row in table.rows), strict=True)) or [()] * len(table.header)
    filled = {name: columns[place] for name, place in places.items()}
    problems = _missing(table, places)
    if fahrenheit and ways.temperature_unit == CELSIUS:
        problems += _mixed(table, places, filled=filled, fahrenheit=fahrenheit)
        ways = replace(ways, temperature_unit=FAHRENHEIT)
    if problems:
        raise Invalid(problems)
    prefix = f"sheet {table.sheet}, " if table.sheet else ""
    return RawRows(
        {name: cells for name, cells in filled.items() if name in KNOWN},
        tuple(f"{prefix}row {row.number}" for row in table.rows),
        ways,
        warnings=tuple(warnings),
        boxes={name: cells for name, cells in filled.items() if name in _OF_BOXES and any(cells)},
    )


def _sheet_of(tables: Sequence[RawTable]) -> RawTable:
    table = next((t for t in tables if t.sheet.casefold() == SHEET_NAME.casefold()), None)
    if table is None and len(tables) == 1:
        table = tables[0]
    if table is None:
        raise one_problem(
            "file",
            "",
            ", ".join(t.sheet for t in tables),
            message=f"No sheet is named {SHEET_NAME}.",
            remedy=f"Name the sheet with the readings {SHEET_NAME}.",
        )
    return table


def _not_stored(table: RawTable, title: str) -> Problem:
    return Problem(
        table.where(table.header_row),
        title,
        "",
        "This column is not one of the round file; it is not stored.",
        "Put what matters into the note.",
    )


def _missing(table: RawTable, places: Mapping[str, int]) -> list[Problem]:
    remedy = "Download the round's file again and copy the values into it."
    where = table.where(table.header_row)
    headers = [BY_NAME[name].header for name in NEEDED if name not in places]
    return [Problem(where, header, "", f"The column {header} is missing.", remedy) for header in headers]


def _mixed(
    table: RawTable, places: Mapping[str, int], *, filled: Mapping[str, Cells], fahrenheit: Sequence[str]
) -> list[Problem]:
    """A file has one unit: filled columns whose titles say °C, where another title says °F."""
    titles = [
        table.header[place]
        for name, place in places.items()
        if CELSIUS in table.header[place]
        and BY_NAME[name].editable
        and any(cell is not None and cell != "" for cell in filled[name])
    ]
    if not titles:
        return []
    return [
        Problem(
            table.where(table.header_row),
            titles[0],
            f"{fahrenheit[0]} and {titles[0]}",
            "The titles name two units; a file has one.",
            "Bring all its temperatures to one unit and name that one in every title.",
        )
    ]


def sent_row(body: Mapping[str, Any], **named: str) -> RawRows:
    """One row that was sent alone, with the unit in which its temperatures were typed."""
    record = {**body, **named}
    unit = record.pop("temperature_unit", CELSIUS)
    return rows_of_records([record], Ways(temperature_unit=unit if isinstance(unit, str) else ""))


def rows_of_records(records: Sequence[object], ways: Ways, *, strict: bool = True) -> RawRows:
    """Rows that came as JSON objects (or, not ``strict``, as the boxes of a page)."""
    problems = Problems()
    known = frozenset(KNOWN)
    wheres = tuple(f"row {number}" for number in range(1, len(records) + 1))
    sound: list[Mapping[str, Any]] = []
    for record, where in zip(records, wheres, strict=True):
        if not isinstance(record, Mapping):
            problems.add(where, "", record, message="A row is an object.", remedy="Send {…} for each row.")
            record = {}
        elif not known.issuperset(record):
            for name in record:
                if name not in known:
                    message = "This field is not one of a row."
                    problems.add(where, name, record[name], message=message, remedy="Leave it out.")
        sound.append(record)
    given: set[str] = set().union(*sound)
    used = [name for name in KNOWN if name in given]
    cells = {name: [record.get(name) for record in sound] for name in used}
    return RawRows(cells, wheres, ways, strict=strict, problems=tuple(problems.told))
