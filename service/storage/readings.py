"""Readings: what is stored of rounds and points, and new rows."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import Select, and_, case, exists, func, or_, select
from sqlalchemy.orm import aliased

from service.domain.readings import FOUND, MEASURED, Reading
from service.domain.words import LoadSource, Reason, SettingSource, VisitKind
from service.storage.bulk import insert_rows, is_one_of, is_one_of_texts
from service.storage.tables.readings import ReadingRow
from service.storage.tables.register import PointRow
from service.storage.tables.rounds import RoundPointRow, RoundRow
from service.storage.unit import Unit

#: Columns of a new reading, in the order in which ``add_readings`` takes them.
NEW = (
    "id",
    "uid",
    "point_id",
    "round_id",
    "row_id",
    "upload_id",
    "source",
    "person_id",
    "device",
    "revision",
    "supersedes_id",
    "correction_reason",
    "content_hash",
    "received_at",
    "taken_at",
    "device_time",
    "skew_s",
    "visit_kind",
    "load_source",
    "not_assessable",
    "temperature_c",
    *MEASURED,
    *FOUND,
    "instrument_id",
    "picture",
    "note",
    "no_permit_recorded",
    "typed",
)
_LATER = aliased(ReadingRow)
#: No later revision supersedes it.
CURRENT = ~exists().where(_LATER.supersedes_id == ReadingRow.id)


@dataclass(frozen=True, slots=True)
class StoredRow:
    """As much of a stored reading as tells whether a returned row is new, equal or changed."""

    id: int
    uid: str
    row_id: int
    source: str
    revision: int
    content_hash: str
    correction_reason: str


def stored_rows(unit: Unit, row_ids: Sequence[int]) -> dict[int, list[StoredRow]]:
    """Every revision of every source that is stored for these rows, oldest first."""
    query = (
        select(
            ReadingRow.id,
            ReadingRow.uid,
            ReadingRow.row_id,
            ReadingRow.source,
            ReadingRow.revision,
            ReadingRow.content_hash,
            ReadingRow.correction_reason,
        )
        .where(is_one_of(unit, ReadingRow.row_id, row_ids))
        .order_by(ReadingRow.id)
    )
    found: dict[int, list[StoredRow]] = {}
    for row in unit.session.execute(query):
        read_id, uid, row_id, source, revision, content, reason = row
        if row_id is not None:
            stored = StoredRow(read_id, uid, row_id, source, revision, content, reason)
            found.setdefault(row_id, []).append(stored)
    return found


def known_uids(unit: Unit, uids: Sequence[str]) -> dict[str, tuple[int | None, str, str]]:
    """Client-made ids that are stored already: (row, source, content hash) of each."""
    query = select(ReadingRow.uid, ReadingRow.row_id, ReadingRow.source, ReadingRow.content_hash)
    rows = unit.session.execute(query.where(is_one_of_texts(unit, ReadingRow.uid, uids)))
    return {uid: (row_id, source, content) for uid, row_id, source, content in rows}


def add_readings(unit: Unit, rows: Sequence[Sequence[Any]]) -> None:
    """Store new readings, each with its values in the order of ``NEW``."""
    insert_rows(unit, ReadingRow, NEW, rows=rows)


def latest_of_source(unit: Unit, round_id: int, source: str) -> datetime | None:
    """When the last reading that a source has on a round was taken."""
    query = select(func.max(ReadingRow.taken_at)).where(
        ReadingRow.round_id == round_id, ReadingRow.source == source
    )
    return unit.session.scalar(query)


def count_unread(unit: Unit, round_id: int) -> int:
    """Rows of a round without any reading."""
    read = exists().where(ReadingRow.row_id == RoundPointRow.id)
    query = select(func.count()).where(RoundPointRow.round_id == round_id, ~read)
    return unit.session.scalar(query) or 0


def _readings() -> Select[*tuple[Any, ...]]:
    return select(ReadingRow, CURRENT.label("current"))


def reading_by_uid(unit: Unit, uid: str) -> Reading | None:
    row = unit.session.execute(_readings().where(ReadingRow.uid == uid)).one_or_none()
    return None if row is None else _reading(*row)


def readings_by_uid(unit: Unit, uids: Sequence[str]) -> tuple[Reading, ...]:
    rows = unit.session.execute(_readings().where(is_one_of_texts(unit, ReadingRow.uid, uids)))
    return tuple(_reading(*row) for row in rows)


def reading_by_id(unit: Unit, reading_id: int) -> Reading | None:
    row = unit.session.execute(_readings().where(ReadingRow.id == reading_id)).one_or_none()
    return None if row is None else _reading(*row)


def readings_of_round(unit: Unit, round_id: int, *, after: int, limit: int) -> tuple[Reading, ...]:
    """Every revision of a round's readings by id, at most ``limit`` after the id ``after``."""
    query = _readings().where(ReadingRow.round_id == round_id, ReadingRow.id > after)
    rows = unit.session.execute(query.order_by(ReadingRow.id).limit(limit))
    return tuple(_reading(*row) for row in rows)


def readings_of_point(
    unit: Unit, point_id: int, *, after: int, limit: int, round_ids: Iterable[int] | None = None
) -> tuple[Reading, ...]:
    """Every revision of a point's readings by id; ``round_ids`` narrows to some rounds."""
    query = _readings().where(ReadingRow.point_id == point_id, ReadingRow.id > after)
    if round_ids is not None:
        query = query.where(is_one_of(unit, ReadingRow.round_id, round_ids))
    rows = unit.session.execute(query.order_by(ReadingRow.id).limit(limit))
    return tuple(_reading(*row) for row in rows)


def site_of_point(unit: Unit, point_id: int) -> int | None:
    return unit.session.scalar(select(PointRow.site_id).where(PointRow.id == point_id))


def rounds_with_point(unit: Unit, point_id: int, *, person_id: int) -> frozenset[int]:
    """Rounds given to a person that have a point on them."""
    query = (
        select(RoundRow.id)
        .join(RoundPointRow, RoundPointRow.round_id == RoundRow.id)
        .where(
            RoundPointRow.point_id == point_id,
            or_(RoundRow.person_id == person_id, RoundRow.second_person_id == person_id),
        )
    )
    return frozenset(unit.session.scalars(query))


def answered_by_stop(unit: Unit, round_id: int) -> dict[int, tuple[int, int]]:
    """By stop how many points are expected, and how many have a reading or a reason."""
    read = exists().where(ReadingRow.row_id == RoundPointRow.id)
    query = (
        select(RoundPointRow.stop_id, func.count(), func.sum(case((read, 1), else_=0)))
        .where(RoundPointRow.round_id == round_id)
        .group_by(RoundPointRow.stop_id)
    )
    return {stop: (expected, answered) for stop, expected, answered in unit.session.execute(query)}


def current_of_stop(unit: Unit, stop_id: int) -> dict[str, tuple[Reading, ...]]:
    """By row id the valid readings of a stop."""
    query = (
        _readings()
        .add_columns(RoundPointRow.uid)
        .join(RoundPointRow, RoundPointRow.id == ReadingRow.row_id)
        .where(RoundPointRow.stop_id == stop_id, CURRENT)
        .order_by(ReadingRow.id)
    )
    found: dict[str, tuple[Reading, ...]] = {}
    for row, current, uid in unit.session.execute(query):
        found[uid] = (*found.get(uid, ()), _reading(row, current))
    return found


def own_of_round(unit: Unit, round_id: int, *, source: str) -> dict[str, Reading]:
    """By row id the valid readings that one source has brought of a round."""
    query = (
        _readings()
        .add_columns(RoundPointRow.uid)
        .join(RoundPointRow, RoundPointRow.id == ReadingRow.row_id)
        .where(RoundPointRow.round_id == round_id, ReadingRow.source == source, CURRENT)
    )
    return {uid: _reading(row, current) for row, current, uid in unit.session.execute(query)}


def own_of_row(unit: Unit, round_id: int, row_uid: str, *, source: str) -> Reading | None:
    """The valid reading that one source has brought of one row of a round."""
    query = (
        _readings()
        .join(RoundPointRow, RoundPointRow.id == ReadingRow.row_id)
        .where(
            RoundPointRow.round_id == round_id,
            RoundPointRow.uid == row_uid,
            ReadingRow.source == source,
            CURRENT,
        )
    )
    found = unit.session.execute(query).first()
    return None if found is None else _reading(*found)


def current_of_rows(unit: Unit, row_ids: Iterable[int]) -> tuple[Reading, ...]:
    """The valid revision of each source, for these rows of a round."""
    query = _readings().where(is_one_of(unit, ReadingRow.row_id, row_ids), CURRENT)
    return tuple(_reading(*row) for row in unit.session.execute(query.order_by(ReadingRow.id)))


def readings_of_row(unit: Unit, row_id: int, *, source: str) -> list[Reading]:
    """Every revision that one source brought of a row of a round, the first one first."""
    query = _readings().where(ReadingRow.row_id == row_id, ReadingRow.source == source)
    return [_reading(*row) for row in unit.session.execute(query.order_by(ReadingRow.revision))]


def current_of_views(
    unit: Unit, round_ids: Iterable[int], view_ids: Iterable[int]
) -> tuple[tuple[int, str | None, Reading], ...]:
    """The valid readings of some views on some rounds, each with its view and the source chosen."""
    query = (
        _readings()
        .add_columns(RoundPointRow.view_id, RoundPointRow.chosen_source)
        .join(RoundPointRow, RoundPointRow.id == ReadingRow.row_id)
        .where(
            and_(
                is_one_of(unit, ReadingRow.round_id, round_ids),
                is_one_of(unit, RoundPointRow.view_id, view_ids),
                CURRENT,
            )
        )
        .order_by(ReadingRow.id)
    )
    return tuple(
        (view_id, chosen, _reading(row, current))
        for row, current, view_id, chosen in unit.session.execute(query)
    )


def skews_of_round(unit: Unit, round_id: int) -> dict[int, float]:
    """By row how far the clock of its device was off, the worst of its valid readings [s]."""
    query = select(ReadingRow.row_id, ReadingRow.skew_s).where(
        ReadingRow.round_id == round_id, ReadingRow.skew_s.is_not(None), CURRENT
    )
    found: dict[int, float] = {}
    for row_id, skew_s in unit.session.execute(query):
        if row_id is not None and skew_s is not None:
            found[row_id] = max(found.get(row_id, 0.0), abs(skew_s))
    return found


def temperatures_of(
    unit: Unit, point_ids: Iterable[int], *, without_round: int, before: datetime | None = None
) -> dict[int, list[float]]:
    """By point its other temperatures, oldest first: those of one round left out, and later ones."""
    query = (
        select(ReadingRow.point_id, ReadingRow.temperature_c)
        .where(
            is_one_of(unit, ReadingRow.point_id, point_ids),
            ReadingRow.temperature_c.is_not(None),
            or_(ReadingRow.round_id.is_(None), ReadingRow.round_id != without_round),
            CURRENT,
        )
        .order_by(ReadingRow.point_id, ReadingRow.taken_at)
    )
    if before is not None:
        query = query.where(ReadingRow.taken_at < before)
    found: dict[int, list[float]] = {}
    for point_id, temperature in unit.session.execute(query):
        if temperature is not None:
            found.setdefault(point_id, []).append(temperature)
    return found


def _reading(row: ReadingRow, current: bool) -> Reading:
    return Reading(
        id=row.id,
        uid=row.uid,
        point_id=row.point_id,
        round_id=row.round_id,
        row_id=row.row_id,
        source=row.source,
        person_id=row.person_id,
        device=row.device,
        revision=row.revision,
        supersedes_id=row.supersedes_id,
        current=bool(current),
        correction_reason=row.correction_reason,
        content_hash=row.content_hash,
        received_at=row.received_at,
        taken_at=row.taken_at,
        visit_kind=VisitKind(row.visit_kind),
        load_source=LoadSource(row.load_source),
        not_assessable=None if row.not_assessable is None else Reason(row.not_assessable),
        temperature_c=row.temperature_c,
        ambient_c=row.ambient_c,
        reflected_c=row.reflected_c,
        humidity_percent=row.humidity_percent,
        wind_m_s=row.wind_m_s,
        fan_on_part=row.fan_on_part,
        current_a=row.current_a,
        neutral_a=row.neutral_a,
        distance_m=row.distance_m,
        minutes_at_load=row.minutes_at_load,
        emissivity_set=row.emissivity_set,
        reflected_set_c=row.reflected_set_c,
        transmission_set=row.transmission_set,
        emissivity=row.emissivity,
        emissivity_standing=_standing(row.emissivity_standing),
        reflected_standing=_standing(row.reflected_standing),
        through_window=row.through_window,
        window_transmission=row.window_transmission,
        window_c=row.window_c,
        path_transmission=row.path_transmission,
        boxes=row.boxes,
        instrument_id=row.instrument_id,
        picture=row.picture,
        note=row.note,
        no_permit_recorded=row.no_permit_recorded,
        typed=row.typed,
        device_time=row.device_time,
        skew_s=row.skew_s,
    )


def _standing(word: str | None) -> SettingSource | None:
    return None if word is None else SettingSource(word)
