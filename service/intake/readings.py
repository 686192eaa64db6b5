"""Returned rows of a round, from a file, a page or JSON: cells → typed rows and every problem."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, time
from typing import Any

from service.domain.cells import Cell, Sign, cell_text
from service.domain.readings import FOUND, MEASURED, ExpectedRound, ExpectedRow, TypedRow, hash_of_content
from service.domain.round_columns import BY_NAME, EDITABLE, SHEET_NAME, column_of
from service.domain.words import LoadSource, Reason, SettingSource, VisitKind
from service.errors import Problem
from service.intake.collecting import Problems, one_problem
from service.intake.moments import Clock
from service.intake.reading_cells import (
    NUMBERS,
    Cells,
    decimal_sign,
    read_answers,
    read_boxes,
    read_flags,
    read_numbers,
    read_texts,
    read_words,
)
from service.intake.row_places import REFUSED, RowPlaces
from service.intake.tables import RawTable

CELSIUS, FAHRENHEIT = "°C", "°F"
KEYS = ("round_code", "row_uid", "point_tag", "site")
#: Boxes that only JSON has: a file and a page keep to the columns of the sheet.
MORE = (
    "uid",
    "humidity_percent",
    "distance_m",
    "minutes_at_load",
    "reflected_set_c",
    "transmission_set",
    *FOUND,
    "device_time",
    "skew_s",
)
KNOWN = (*KEYS, *(column.name for column in EDITABLE), *MORE)
#: A row with none of these is a point that was not read.
FILLED = ("temperature_c", "current_a", "reason", "picture", "note", "correction_reason", "place")
NEEDED = ("round_code", "row_uid", "point_tag", "temperature_c")
_TEXTS = (*KEYS, "uid", "place", "instrument_serial", "picture", "note", "correction_reason", "device_time")
_WORDS = ("reason", "visit_kind", "load_source", "emissivity_standing", "reflected_standing")
#: What a row holds that found nothing of its own.
_NOTHING = (None,) * len(FOUND)


@dataclass(frozen=True, slots=True)
class Ways:
    """How numbers are written: stated by the sender; an empty ``decimal`` is to be found out."""

    decimal: str = ""
    temperature_unit: str = CELSIUS


@dataclass(frozen=True, slots=True)
class RawRows:
    """Cells by column name, all columns of one length; ``wheres`` names each row.

    ``strict`` cells come from JSON and have their types already.
    """

    cells: Mapping[str, Cells]
    wheres: tuple[str, ...]
    ways: Ways
    strict: bool = False
    warnings: tuple[Problem, ...] = ()
    problems: tuple[Problem, ...] = ()


@dataclass(frozen=True, slots=True)
class ParsedRows:
    """Columns of values, before anybody knows which points they are of.

    ``tried`` says that a temperature or a reason stands in the row, readable or not.
    """

    columns: Mapping[str, Sequence[Any]]
    taken: Cells
    typed: Sequence[dict[str, Any]]
    blank: Sequence[bool]
    tried: Sequence[bool]
    wheres: tuple[str, ...]
    ways: Ways
    warnings: tuple[Problem, ...]


@dataclass(frozen=True, slots=True)
class ReadRows:
    """Typed rows in the order they came, how many were left blank, and what looks odd."""

    rows: tuple[TypedRow, ...]
    blank: int
    warnings: tuple[Problem, ...]


def rows_of_tables(tables: Sequence[RawTable], ways: Ways) -> RawRows:
    """The rows of a returned file; of a workbook the sheet *Readings*, or its only one.

    Raises
    ------
    service.errors.Invalid
        No such sheet, or columns that are needed are missing; all of them at once.
    """
    table = _sheet_of(tables)
    places: dict[str, int] = {}
    warnings = []
    for place, title in enumerate(table.header):
        column = column_of(title)
        if column is None and FAHRENHEIT in title:
            column = column_of(title.replace(FAHRENHEIT, CELSIUS))
            ways = replace(ways, temperature_unit=FAHRENHEIT) if column is not None else ways
        if column is not None:
            places[column.name] = place
        elif any(row.cells[place] is not None for row in table.rows):
            warnings.append(_not_stored(table, title))
    _refuse_missing(table, places)
    columns = list(zip(*(row.cells for row in table.rows), strict=True)) or [()] * len(table.header)
    cells = {name: columns[place] for name, place in places.items() if name in KNOWN}
    prefix = f"sheet {table.sheet}, " if table.sheet else ""
    wheres = tuple(f"{prefix}row {row.number}" for row in table.rows)
    return RawRows(cells, wheres, ways, warnings=tuple(warnings))


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


def _refuse_missing(table: RawTable, places: Mapping[str, int]) -> None:
    problems = Problems()
    for name in NEEDED:
        if name not in places:
            header = BY_NAME[name].header
            problems.add(
                table.where(table.header_row),
                header,
                "",
                message=f"The column {header} is missing.",
                remedy="Download the round's file again and copy the values into it.",
            )
    problems.refuse()


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
    used = [name for name in KNOWN if any(name in record for record in sound)]
    cells = {name: [record.get(name) for record in sound] for name in used}
    return RawRows(cells, wheres, ways, strict=strict, problems=tuple(problems.told))


def parse_rows(raw: RawRows, problems: Problems) -> ParsedRows:
    """Cells to values; needs no database, so that it may run before a transaction begins."""
    problems.take_all(raw.problems)
    wheres, strict, count = raw.wheres, raw.strict, len(raw.wheres)
    ways = _settled(raw, problems)
    decimal: Sign = "," if ways.decimal == "," else "."
    columns: dict[str, Sequence[Any]] = {}
    for name in NUMBERS:
        if name in raw.cells:
            columns[name] = read_numbers(
                name,
                raw.cells[name],
                decimal=decimal,
                fahrenheit=ways.temperature_unit == FAHRENHEIT,
                wheres=wheres,
                problems=problems,
                strict=strict,
            )
        else:
            columns[name] = [None] * count
    for name in (*_TEXTS, *_WORDS):
        cells = raw.cells.get(name)
        if cells is None or not any(c is not None for c in cells):
            columns[name] = [None if name in _WORDS else ""] * count
            continue
        texts = read_texts(name, cells, wheres=wheres, problems=problems, strict=strict)
        columns[name] = read_words(name, texts, wheres=wheres, problems=problems) if name in _WORDS else texts
    flags = raw.cells.get("fan_on_part") or [None] * count
    columns["fan_on_part"] = read_flags("fan_on_part", flags, wheres=wheres, problems=problems, strict=strict)
    columns["through_window"] = read_answers(
        "through_window",
        raw.cells.get("through_window") or [None] * count,
        wheres=wheres,
        problems=problems,
        strict=strict,
    )
    columns["boxes"] = read_boxes(raw.cells.get("boxes") or [None] * count, wheres=wheres, problems=problems)
    taken = raw.cells.get("taken_at") or [None] * count
    filled = [raw.cells[name] for name in FILLED if name in raw.cells]
    blank = [all(c is None or c == "" for c in row) for row in zip(*filled, strict=True)] or [True] * count
    answers = [raw.cells[name] for name in ("temperature_c", "reason") if name in raw.cells]
    tried = [any(c is not None and c != "" for c in row) for row in zip(*answers, strict=True)]
    return ParsedRows(
        columns, taken, _typed_cells(raw), blank, tried or [False] * count, wheres, ways, raw.warnings
    )


def _settled(raw: RawRows, problems: Problems) -> Ways:
    ways = raw.ways
    if ways.temperature_unit not in (CELSIUS, FAHRENHEIT):
        problems.add(
            "file",
            "temperature_unit",
            ways.temperature_unit,
            message="Temperatures are in °C or in °F.",
            remedy="Say which of the two.",
        )
    if ways.decimal in (".", ",") or raw.strict:
        return ways
    sign, example = decimal_sign(raw.cells[name] for name in NUMBERS if name in raw.cells)
    if sign is None:
        problems.add(
            "file",
            "decimal",
            example,
            message="It is not clear which sign is the decimal sign.",
            remedy="Say whether this file writes a decimal comma or a decimal point.",
        )
    return replace(ways, decimal=sign or ".")


def _typed_cells(raw: RawRows) -> list[dict[str, Any]]:
    """The cells as they came, without the empty ones and those that only name the point."""
    names = [name for name in raw.cells if name not in KEYS or name == "site"]
    columns = [
        [_plain(c) for c in raw.cells[name]]
        if any(isinstance(c, date | time) for c in raw.cells[name])
        else raw.cells[name]
        for name in names
    ]
    return [
        {name: cell for name, cell in zip(names, row, strict=True) if cell is not None}
        for row in zip(*columns, strict=True)
    ] or [{} for _ in raw.wheres]


def _plain(cell: Cell) -> Cell:
    return cell_text(cell) if isinstance(cell, date | time) else cell


def match_rows(parsed: ParsedRows, expected: ExpectedRound, problems: Problems) -> ReadRows:
    """Values to typed rows of this round; every row that cannot be placed is a problem."""
    reader = _RowReader(parsed, expected, problems)
    read = (reader.row(i) for i, blank in enumerate(parsed.blank) if not blank)
    rows = tuple(row for row in read if row is not None)
    warnings = [
        *parsed.warnings,
        *(_no_picture(row) for row in rows if row.expected is None and not row.picture),
    ]
    if reader.untimed:
        warnings.append(
            Problem(
                "file",
                "taken_at",
                f"{reader.untimed} rows",
                "These rows carry no time.",
                "They are given the time of the row above, or the start of the round; type it to keep it.",
            )
        )
    return ReadRows(rows, sum(parsed.blank), tuple(warnings))


def _no_picture(row: TypedRow) -> Problem:
    return Problem(
        row.where,
        "picture",
        "",
        "This hot part off the round has no picture number.",
        "Give it if there is one, so that others find the part.",
    )


def _rows_of_found(parsed: ParsedRows) -> Sequence[tuple[Any, ...]]:
    """By row what was found on this visit; files without such columns cost nothing."""
    columns = [parsed.columns[name] for name in FOUND]
    if all(column.count(None) == len(column) for column in columns):
        return [_NOTHING] * len(parsed.wheres)
    return list(zip(*columns, strict=True))


def _named(found: tuple[Any, ...]) -> tuple[Any, ...]:
    """What was found, by name, so that a row without any keeps the content it always had."""
    if found == _NOTHING:
        return ()
    named = zip(FOUND, found, strict=True)
    return tuple((name, _hashable(value)) for name, value in named if value is not None)


def _hashable(value: Any) -> Any:
    if isinstance(value, Mapping):
        return sorted(value.items())
    return value.value if isinstance(value, SettingSource) else value


class _RowReader:
    """Reads one row after another; rows without a time take that of the row above."""

    def __init__(self, parsed: ParsedRows, expected: ExpectedRound, problems: Problems) -> None:
        self.parsed, self.expected = parsed, expected
        self.places = RowPlaces(expected, problems)
        self.clock = Clock(expected.planned_on, expected.start_min)
        self.values = parsed.columns
        self.measured = list(zip(*(parsed.columns[name] for name in MEASURED), strict=True))
        self.found = _rows_of_found(parsed)
        self.last: datetime | None = None
        self.untimed = 0

    def row(self, i: int) -> TypedRow | None:
        """The typed row, or None after its problems were told."""
        value, where = self.values, self.parsed.wheres[i]
        place, uid, note = value["place"][i], value["uid"][i], value["note"][i]
        code, row_uid, tag = value["round_code"][i], value["row_uid"][i], value["point_tag"][i]
        found = self.places.row(where, code=code, uid=row_uid, tag=tag, place=place)
        if found is REFUSED:
            return None
        point = found if isinstance(found, ExpectedRow) else None
        site_id = point.site_id if point else self.places.site(where, value["site"][i])
        if (
            site_id is None
            or not self.places.says_something(where, point, tried=self.parsed.tried[i], note=note)
            or not self.places.once(where, point, uid)
        ):
            return None
        taken = self._moment(i, point.time_zone if point else self.expected.sites[site_id][2])
        return None if taken is None else self._typed(i, point, site_id, taken)

    def _moment(self, i: int, zone: str) -> tuple[datetime, bool] | None:
        """The instant, and whether its clock time was typed."""
        cell = self.parsed.taken[i]
        if cell is None or cell == "":
            self.untimed += 1
            return self.last or self.clock.planned_start(zone), False
        read = self.clock.read(cell, zone)
        if read is None:
            self.places.refuse_moment(self.parsed.wheres[i], cell)
        elif read[1]:
            self.last = read[0]
        return read

    def _typed(
        self, i: int, point: ExpectedRow | None, site_id: int, taken: tuple[datetime, bool]
    ) -> TypedRow:
        value, where, (moment, clocked) = self.values, self.parsed.wheres[i], taken
        visit_kind = value["visit_kind"][i] or (point.visit_kind if point else VisitKind.ROUTINE)
        load_source = value["load_source"][i] or LoadSource.SERVICE
        reason: Reason | None = value["reason"][i]
        instrument_id = self.places.instrument(where, value["instrument_serial"][i])
        place, picture, note = value["place"][i], value["picture"][i], value["note"][i]
        temperature_c, measured, found = value["temperature_c"][i], self.measured[i], self.found[i]
        content = hash_of_content(
            (
                moment.timestamp() if clocked else None,
                visit_kind.value,
                load_source.value,
                reason and reason.value,
                temperature_c,
                *measured,
                instrument_id,
                picture,
                note,
                place,
                *_named(found),
            )
        )
        fields: tuple[Any, ...] = (
            where,
            point,
            value["uid"][i],
            site_id,
            place,
            moment,
            clocked,
            visit_kind,
            load_source,
            reason,
            temperature_c,
            *measured,
            *found,
            instrument_id,
            picture,
            note,
            value["correction_reason"][i],
            value["device_time"][i],
            value["skew_s"][i],
            content,
            self.parsed.typed[i],
        )
        return TypedRow(*fields)
