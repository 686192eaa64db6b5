"""Values of returned rows to typed rows of one round: each placed, and every problem told."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from service.domain.boxes import read_boxes
from service.domain.device_clock import TakenWithin
from service.domain.readings import FOUND, MEASURED, ExpectedRound, ExpectedRow, TypedRow, hash_of_content
from service.domain.words import LoadSource, Reason, SettingSource, VisitKind
from service.errors import Problem
from service.intake.collecting import Problems
from service.intake.moments import Clock
from service.intake.parsed_rows import ParsedRows
from service.intake.raw_rows import FAHRENHEIT
from service.intake.row_places import REFUSED, RowPlaces

#: What a row holds that found nothing of its own.
_NOTHING = (None,) * len(FOUND)


@dataclass(frozen=True, slots=True)
class ReadRows:
    """Typed rows in the order they came, how many were left blank, and what looks odd."""

    rows: tuple[TypedRow, ...]
    blank: int
    warnings: tuple[Problem, ...]


def match_rows(
    parsed: ParsedRows, expected: ExpectedRound, problems: Problems, *, within: TakenWithin | None = None
) -> ReadRows:
    """Values to typed rows of this round; every row that cannot be placed is a problem.

    ``within`` puts right what only the clock of a device says; without it that says nothing.
    """
    reader = _RowReader(parsed, expected, problems, within)
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

    def __init__(
        self,
        parsed: ParsedRows,
        expected: ExpectedRound,
        problems: Problems,
        within: TakenWithin | None,
    ) -> None:
        self.parsed, self.expected, self.problems, self.within = parsed, expected, problems, within
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
            if self.within is not None and self.values["device_time"][i]:
                return self._by_device(i, zone, self.within)
            self.untimed += 1
            return self.last or self.clock.planned_start(zone), False
        read = self.clock.read(cell, zone)
        if read is None:
            self.places.refuse_moment(self.parsed.wheres[i], cell)
        elif read[1]:
            self.last = read[0]
        return read

    def _by_device(self, i: int, zone: str, within: TakenWithin) -> tuple[datetime, bool]:
        """What the device's clock showed, put right; what cannot be stands where it came in the walk."""
        shown = self.clock.read(self.values["device_time"][i], zone)
        true = within.put_right(None if shown is None else shown[0], self.values["skew_s"][i])
        if true is None:
            return self.last or within.by_order, False
        self.last = true
        return true, True

    def _found(self, i: int, point: ExpectedRow | None) -> tuple[Any, ...]:
        """What was found on this visit, the boxes read as the point's kind asks for them."""
        found = self.found[i]
        if not found[-1]:
            return found
        where, ways = self.parsed.wheres[i], self.parsed.ways
        if point is None:
            self.problems.add(
                where,
                next(iter(found[-1])),
                "",
                message="A hot part off the round has no kind, and so no boxes of its own.",
                remedy="Put it into the note.",
            )
            return found
        boxes, problems = read_boxes(
            point.kind,
            found[-1],
            where=where,
            decimal="," if ways.decimal == "," else ".",
            fahrenheit=ways.temperature_unit == FAHRENHEIT,
        )
        self.problems.take_all(problems)
        return (*found[:-1], boxes or None)

    def _typed(
        self, i: int, point: ExpectedRow | None, site_id: int, taken: tuple[datetime, bool]
    ) -> TypedRow:
        value, where, (moment, clocked) = self.values, self.parsed.wheres[i], taken
        visit_kind = value["visit_kind"][i] or (point.visit_kind if point else VisitKind.ROUTINE)
        load_source = value["load_source"][i] or LoadSource.SERVICE
        reason: Reason | None = value["reason"][i]
        instrument_id = self.places.instrument(where, value["instrument_serial"][i])
        place, picture, note = value["place"][i], value["picture"][i], value["note"][i]
        temperature_c, measured = value["temperature_c"][i], self.measured[i]
        found = self._found(i, point)
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
