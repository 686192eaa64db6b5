"""Returned rows of a round, from a file, a page or JSON: cells → typed rows and every problem."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, time
from typing import Any

from service.domain.cells import Cell, Sign, cell_text, shown
from service.domain.readings import ExpectedRound, ExpectedRow, TypedRow, hash_of_content
from service.domain.round_columns import BY_NAME, EDITABLE, SHEET_NAME, column_of
from service.domain.words import LoadSource, Reason, VisitKind
from service.errors import Problem
from service.intake.collecting import Problems, one_problem
from service.intake.moments import Clock
from service.intake.reading_cells import (
    NUMBERS,
    Cells,
    decimal_sign,
    read_flags,
    read_numbers,
    read_texts,
    read_words,
)
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
    "device_time",
    "skew_s",
)
KNOWN = (*KEYS, *(column.name for column in EDITABLE), *MORE)
#: A row with none of these is a point that was not read.
FILLED = ("temperature_c", "current_a", "reason", "picture", "note", "correction_reason", "place")
NEEDED = ("round_code", "row_uid", "point_tag", "temperature_c")
_TEXTS = (*KEYS, "uid", "place", "instrument_serial", "picture", "note", "correction_reason", "device_time")
_WORDS = ("reason", "visit_kind", "load_source")


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
    places: dict[str, int] = {}
    fahrenheit = False
    warnings = []
    for place, title in enumerate(table.header):
        column = column_of(title)
        if column is None and FAHRENHEIT in title:
            column = column_of(title.replace(FAHRENHEIT, CELSIUS))
            fahrenheit = fahrenheit or column is not None
        if column is not None:
            places[column.name] = place
        elif any(row.cells[place] is not None for row in table.rows):
            warnings.append(
                Problem(
                    table.where(table.header_row),
                    title,
                    "",
                    "This column is not one of the round file; it is not stored.",
                    "Put what matters into the note.",
                )
            )
    problems = Problems()
    for name in NEEDED:
        if name not in places:
            problems.add(
                table.where(table.header_row),
                BY_NAME[name].header,
                "",
                message=f"The column {BY_NAME[name].header} is missing.",
                remedy="Download the round's file again and copy the values into it.",
            )
    problems.refuse()
    columns = list(zip(*(row.cells for row in table.rows), strict=True)) or [()] * len(table.header)
    cells = {name: columns[place] for name, place in places.items() if name in KNOWN}
    if fahrenheit:
        ways = replace(ways, temperature_unit=FAHRENHEIT)
    prefix = f"sheet {table.sheet}, " if table.sheet else ""
    wheres = tuple(f"{prefix}row {row.number}" for row in table.rows)
    return RawRows(cells, wheres, ways, warnings=tuple(warnings))


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
    placed = _Placing(expected, problems)
    clock = Clock(expected.planned_on, expected.start_min)
    columns = parsed.columns
    value = {name: columns[name] for name in columns}
    rows: list[TypedRow] = []
    last: datetime | None = None
    untimed = 0
    for i, (where, blank) in enumerate(zip(parsed.wheres, parsed.blank, strict=True)):
        if blank:
            continue
        place = value["place"][i]
        found = placed.row(
            where,
            code=value["round_code"][i],
            uid=value["row_uid"][i],
            tag=value["point_tag"][i],
            place=place,
        )
        if found is _REFUSED:
            continue
        point = found if isinstance(found, ExpectedRow) else None
        reason: Reason | None = value["reason"][i]
        temperature_c: float | None = value["temperature_c"][i]
        site_id = point.site_id if point else placed.site(where, value["site"][i])
        if site_id is None or not placed.says_something(
            where, point, tried=parsed.tried[i], note=value["note"][i]
        ):
            continue
        if not placed.once(where, point, value["uid"][i]):
            continue
        zone = point.time_zone if point else expected.sites[site_id][2]
        cell = parsed.taken[i]
        if cell is None or cell == "":
            moment, clocked, untimed = last or clock.planned_start(zone), False, untimed + 1
        else:
            read = clock.read(cell, zone)
            if read is None:
                placed.refuse_moment(where, cell)
                continue
            moment, clocked = read
            if clocked:
                last = moment
        visit_kind = value["visit_kind"][i] or (point.visit_kind if point else VisitKind.ROUTINE)
        load_source = value["load_source"][i] or LoadSource.SERVICE
        instrument_id = placed.instrument(where, value["instrument_serial"][i])
        ambient_c, reflected_c = value["ambient_c"][i], value["reflected_c"][i]
        humidity, wind, fan = value["humidity_percent"][i], value["wind_m_s"][i], value["fan_on_part"][i]
        current_a, neutral_a = value["current_a"][i], value["neutral_a"][i]
        distance, minutes = value["distance_m"][i], value["minutes_at_load"][i]
        emissivity, reflected_set = value["emissivity_set"][i], value["reflected_set_c"][i]
        transmission, picture, note = value["transmission_set"][i], value["picture"][i], value["note"][i]
        content = hash_of_content(
            (
                moment.timestamp() if clocked else None,
                visit_kind.value,
                load_source.value,
                reason and reason.value,
                temperature_c,
                ambient_c,
                reflected_c,
                humidity,
                wind,
                fan,
                current_a,
                neutral_a,
                distance,
                minutes,
                emissivity,
                reflected_set,
                transmission,
                instrument_id,
                picture,
                note,
                place,
            )
        )
        rows.append(
            TypedRow(
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
                ambient_c,
                reflected_c,
                humidity,
                wind,
                fan,
                current_a,
                neutral_a,
                distance,
                minutes,
                emissivity,
                reflected_set,
                transmission,
                instrument_id,
                picture,
                note,
                value["correction_reason"][i],
                value["device_time"][i],
                value["skew_s"][i],
                content,
                parsed.typed[i],
            )
        )
    warnings = list(parsed.warnings)
    warnings += [
        Problem(
            row.where,
            "picture",
            "",
            "This hot part off the round has no picture number.",
            "Give it if there is one, so that others find the part.",
        )
        for row in rows
        if row.expected is None and not row.picture
    ]
    if untimed:
        warnings.append(
            Problem(
                "file",
                "taken_at",
                f"{untimed} rows",
                "These rows carry no time.",
                "They are given the time of the row above, or the start of the round; type it to keep it.",
            )
        )
    return ReadRows(tuple(rows), sum(parsed.blank), tuple(warnings))


_REFUSED = object()


class _Placing:
    """Finds the point of each row, and keeps what a whole file must not do."""

    def __init__(self, expected: ExpectedRound, problems: Problems) -> None:
        self.expected, self.problems = expected, problems
        self.by_uid = {row.uid: row for row in expected.rows}
        self.by_tag: dict[str, list[ExpectedRow]] = {}
        for row in expected.rows:
            self.by_tag.setdefault(row.point_tag, []).append(row)
        self.seen: dict[object, str] = {}
        self.unknown: dict[str, None] = {}

    def row(self, where: str, *, code: str, uid: str, tag: str, place: str) -> object:
        """The expected row; None for a part off the round; ``_REFUSED`` after a problem."""
        if code and code != self.expected.code:
            return self._refuse(
                where,
                "round_code",
                code,
                message=f"This row belongs to another round; this one is {self.expected.code}.",
                remedy="Send it to its own round.",
            )
        if uid:
            found = self.by_uid.get(uid)
            if found is None:
                return self._refuse(
                    where,
                    "row_uid",
                    uid,
                    message="This round has no row with this id.",
                    remedy="Copy the values into the round's own file; the ids in it are not to be changed.",
                )
            if tag and tag != found.point_tag:
                return self._refuse(
                    where,
                    "point_tag",
                    tag,
                    message=f"The row id is that of point {found.point_tag}.",
                    remedy="Rows may have been sorted apart: restore row id and point tag from the file.",
                )
            return found
        named = self.by_tag.get(tag, []) if tag else []
        if len(named) == 1:
            return named[0]
        if len(named) > 1:
            return self._refuse(
                where,
                "point_tag",
                tag,
                message="More than one site of this round has a point of this tag.",
                remedy="Give the row id of the file.",
            )
        if place:
            return None
        if tag:
            return self._refuse(
                where,
                "point_tag",
                tag,
                message="This point is not on this round.",
                remedy="For a hot part met off the round say where it is, in Place off the round.",
            )
        return self._refuse(
            where,
            "row_uid",
            "",
            message="Nothing says which point this row is of.",
            remedy="Restore its row id, or say the place of a hot part met off the round.",
        )

    def _refuse(self, where: str, field: str, found: object, *, message: str, remedy: str) -> object:
        self.problems.add(where, field, found, message=message, remedy=remedy)
        return _REFUSED

    def site(self, where: str, named: str) -> int | None:
        """The site of a part off the round: the one named, or the only one."""
        sites = self.expected.sites
        if not named and len(sites) == 1:
            return next(iter(sites))
        wanted = named.casefold()
        for site_id, (code, name, _zone) in sites.items():
            if wanted and wanted in (code.casefold(), name.casefold()):
                return site_id
        offered = ", ".join(name for _code, name, _zone in sites.values())
        self.problems.add(
            where, "site", named, message="Not a site of this round.", remedy=f"One of: {offered}."
        )
        return None

    def says_something(self, where: str, point: ExpectedRow | None, *, tried: bool, note: str) -> bool:
        if tried or (point is None and note):
            return True
        self.problems.add(
            where,
            "temperature_c",
            "",
            message="Neither a temperature nor a reason letter."
            if point
            else "A hot part off the round needs its temperature.",
            remedy="Type the temperature, or the letter of why it could not be read."
            if point
            else "Type the temperature, or a note of what was seen.",
        )
        return False

    def once(self, where: str, point: ExpectedRow | None, uid: str) -> bool:
        """Refuse the second of two rows for one point, or of one client-made id."""
        marks: list[tuple[object, str]] = [(point.row_id, "row_uid")] if point is not None else []
        marks += [(f"uid {uid}", "uid")] if uid else []
        for mark, field in marks:
            first = self.seen.setdefault(mark, where)
            if first != where:
                self.problems.add(
                    where,
                    field,
                    point.point_tag if point and field == "row_uid" else uid,
                    message=f"{first} is of the same {'point' if field == 'row_uid' else 'reading'}.",
                    remedy="Keep one of the two.",
                )
                return False
        return True

    def refuse_moment(self, where: str, cell: Cell) -> None:
        self.problems.add(
            where,
            "taken_at",
            cell,
            message="This is not a date and time.",
            remedy="Write it on the site's clock, year first: 2026-12-08 08:33.",
        )

    def instrument(self, where: str, serial: str) -> int | None:
        """The instrument of a serial number; none typed means that of the round."""
        if not serial:
            return self.expected.instrument_id
        found = self.expected.instruments.get(serial.casefold())
        if found is None:
            self.problems.add(
                where,
                "instrument_serial",
                shown(serial),
                message="No instrument of this client has this serial number.",
                remedy="Correct it, or register the instrument first.",
            )
        return found
