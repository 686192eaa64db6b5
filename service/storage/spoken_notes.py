"""Notes spoken on walks: kept, listed by round and by point, taken back."""

from datetime import datetime
from typing import Any

from sqlalchemy import Select, func, select, update
from sqlalchemy.orm import aliased

from service.domain.spoken_notes import SpokenKind, SpokenNote
from service.storage.tables.people import PersonRow
from service.storage.tables.register import EquipmentRow, PointRow, SiteRow, ViewRow
from service.storage.tables.returns import SpokenNoteRow
from service.storage.tables.rounds import RoundPointRow, RoundRow, StopRow
from service.storage.unit import Unit

#: notes told of one point, latest first: years of rounds
MOST_OF_POINT = 40

_Back = aliased(PersonRow)


def notes_of_round(unit: Unit, round_id: int) -> tuple[SpokenNote, ...]:
    """Notes that stand, in walking order, those of one place in the order in which they were spoken."""
    query = (
        _notes()
        .where(SpokenNoteRow.round_id == round_id, SpokenNoteRow.taken_back_at.is_(None))
        .order_by(
            StopRow.position,
            StopRow.id,
            RoundPointRow.id.is_not(None),  # where nothing sorts is each database's own matter
            RoundPointRow.position,
            _spoken_at(),
            SpokenNoteRow.id,
        )
    )
    return tuple(_note(*row) for row in unit.session.execute(query))


def notes_of_row(unit: Unit, row_id: int, *, round_id: int) -> tuple[SpokenNote, ...]:
    """Notes of one row of a round that stand, in the order in which they were spoken."""
    query = _notes().where(
        SpokenNoteRow.round_id == round_id,  # which has an index, and the row has none
        SpokenNoteRow.row_id == row_id,
        SpokenNoteRow.taken_back_at.is_(None),
    )
    query = query.order_by(_spoken_at(), SpokenNoteRow.id)
    return tuple(_note(*row) for row in unit.session.execute(query))


def notes_of_point(
    unit: Unit, point_id: int, *, site_ids: frozenset[int] | None, most: int = MOST_OF_POINT
) -> tuple[SpokenNote, ...]:
    """Notes of a point that stand, the latest first; ``site_ids`` None asks at no site."""
    query = _notes().where(SpokenNoteRow.point_id == point_id, SpokenNoteRow.taken_back_at.is_(None))
    if site_ids is not None:
        query = query.where(SpokenNoteRow.site_id.in_(sorted(site_ids)))
    query = query.order_by(_spoken_at().desc(), SpokenNoteRow.id.desc()).limit(most)
    return tuple(_note(*row) for row in unit.session.execute(query))


def note_by_uid(unit: Unit, uid: str) -> SpokenNote | None:
    """One note, also one that was taken back."""
    row = unit.session.execute(_notes().where(SpokenNoteRow.uid == uid)).one_or_none()
    return None if row is None else _note(*row)


def add_note(unit: Unit, fields: dict[str, Any]) -> None:
    unit.session.add(SpokenNoteRow(**fields))
    unit.session.flush()


def take_back(unit: Unit, note_id: int, *, reason: str, by: int | None, now: datetime) -> None:
    change = update(SpokenNoteRow).where(SpokenNoteRow.id == note_id)
    unit.session.execute(change.values(taken_back_at=now, taken_back_by_id=by, taken_back_reason=reason))


def files_named(unit: Unit) -> tuple[str, ...]:
    """Names of all files that spoken notes lie in."""
    names = select(SpokenNoteRow.stored_as).distinct().order_by(SpokenNoteRow.stored_as)
    return tuple(unit.session.scalars(names))


def _spoken_at() -> Any:
    return func.coalesce(SpokenNoteRow.taken_at, SpokenNoteRow.received_at)


def _notes() -> Select[*tuple[Any, ...]]:
    return (
        select(
            SpokenNoteRow,
            SiteRow.time_zone,
            RoundRow.code,
            EquipmentRow.name,
            RoundPointRow.uid,
            PointRow,
            ViewRow.name,
            PersonRow.name,
            _Back.name,
        )
        .join(SiteRow, SiteRow.id == SpokenNoteRow.site_id)
        .join(RoundRow, RoundRow.id == SpokenNoteRow.round_id)
        .join(StopRow, StopRow.id == SpokenNoteRow.stop_id)
        .join(EquipmentRow, EquipmentRow.id == StopRow.equipment_id)
        .outerjoin(RoundPointRow, RoundPointRow.id == SpokenNoteRow.row_id)
        .outerjoin(PointRow, PointRow.id == SpokenNoteRow.point_id)
        .outerjoin(ViewRow, ViewRow.id == RoundPointRow.view_id)
        .outerjoin(PersonRow, PersonRow.id == SpokenNoteRow.by_person_id)
        .outerjoin(_Back, _Back.id == SpokenNoteRow.taken_back_by_id)
    )


def _note(
    row: SpokenNoteRow,
    zone: str,
    round_code: str,
    stop: str,
    row_uid: str | None,
    point: PointRow | None,
    view: str | None,
    by: str | None,
    back_by: str | None,
) -> SpokenNote:
    return SpokenNote(
        id=row.id,
        uid=row.uid,
        site_id=row.site_id,
        zone=zone,
        round_id=row.round_id,
        round_code=round_code,
        stop_id=row.stop_id,
        stop=stop,
        row_uid=row_uid or "",
        point_id=row.point_id,
        point_tag="" if point is None else point.tag,
        point="" if point is None else f"{view or ''}, {point.phase or point.name}".lstrip(", "),
        kind=SpokenKind(row.kind),
        content_hash=row.content_hash,
        stored_as=row.stored_as,
        size_bytes=row.size_bytes,
        taken_at=row.taken_at,
        received_at=row.received_at,
        by=by or "",
        taken_back_at=row.taken_back_at,
        taken_back_by=back_by or "",
        taken_back_reason=row.taken_back_reason,
    )
