"""Pictures by round, point and finding; where those of a round may belong."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import ColumnElement, Select, func, select

from service.domain.picture_places import FindingPlace, Places, RowPlace, StopPlace
from service.domain.pictures import Mark, MatchedBy, Picture, PictureKind, TimeFrom
from service.storage.desk import Sight
from service.storage.readings import CURRENT
from service.storage.tables.field import CameraClockRow
from service.storage.tables.findings import FindingRow
from service.storage.tables.people import PersonRow
from service.storage.tables.pictures import PictureRow
from service.storage.tables.readings import RasterRow, ReadingRow
from service.storage.tables.register import EquipmentRow, InstrumentRow, PointRow, SiteRow, ViewRow
from service.storage.tables.rounds import RoundPointRow, RoundRow, StopRow
from service.storage.unit import Unit
from service.storage.versions import row_to_edit

#: pictures shown of one point, latest first: years of rounds
MOST_OF_POINT = 400
MOST_OF_ROUND = 2000


@dataclass(frozen=True, slots=True)
class VisitTemperature:
    """What was typed at one part of a view on one round; ``raster`` says that a raster came with it."""

    round_id: int
    reading_uid: str
    name: str
    taken_at: datetime
    temperature_c: float | None
    raster: bool


def picture_by_uid(unit: Unit, uid: str) -> Picture | None:
    return next(iter(_found(unit, PictureRow.uid == uid, most=1)), None)


def is_by(unit: Unit, picture: Picture, person_id: int | None) -> bool:
    """Whether this person brought it."""
    by = select(PictureRow.by_person_id).where(PictureRow.id == picture.id)
    return person_id is not None and unit.session.scalar(by) == person_id


def picture_sent(unit: Unit, sent_hash: str, *, of: ColumnElement[bool]) -> Picture | None:
    """The picture that was made of these bytes already, in one round or finding."""
    which = (PictureRow.sent_hash == sent_hash) & PictureRow.retired_at.is_(None) & of
    return next(iter(_found(unit, which, most=1)), None)


def of_round(round_id: int) -> ColumnElement[bool]:
    return PictureRow.round_id == round_id


def of_finding(finding_id: int) -> ColumnElement[bool]:
    return PictureRow.finding_id == finding_id


def pictures_of_round(unit: Unit, round_id: int) -> tuple[Picture, ...]:
    """Pictures of a round that stand, in the order in which they were taken."""
    standing = of_round(round_id) & PictureRow.retired_at.is_(None)
    return tuple(sorted(_found(unit, standing, most=MOST_OF_ROUND), key=lambda one: (one.at, one.id)))


def pictures_of_view(unit: Unit, view_id: int, *, site_ids: Iterable[int] | None) -> tuple[Picture, ...]:
    """Pictures of a view that stand, in the order in which they were taken: the latest so many; drawings apart."""
    shown = (PictureRow.view_id == view_id) & PictureRow.retired_at.is_(None)
    shown &= PictureRow.kind != PictureKind.DRAWING.value
    if site_ids is not None:
        shown &= PictureRow.site_id.in_(sorted(site_ids))
    return tuple(sorted(_found(unit, shown, most=MOST_OF_POINT), key=lambda one: (one.at, one.id)))


def pictures_of_finding(unit: Unit, finding: tuple[int, int | None, int | None]) -> tuple[Picture, ...]:
    """Pictures of a finding: its own, and those of its point on the round that found it.

    ``finding`` is its id, the point's and the round's.
    """
    finding_id, point_id, round_id = finding
    which = of_finding(finding_id)
    if point_id is not None and round_id is not None:
        view = select(PointRow.view_id).where(PointRow.id == point_id).scalar_subquery()
        which = which | ((PictureRow.round_id == round_id) & (PictureRow.view_id == view))
    found = _found(unit, which & PictureRow.retired_at.is_(None), most=MOST_OF_POINT)
    return tuple(sorted(found, key=lambda one: (one.at, one.id)))


def latest_of_views(unit: Unit, view_ids: Sequence[int]) -> dict[int, str]:
    """By view, the uid of its latest picture that stands; thermal before visible of one moment."""
    rank = func.row_number().over(
        partition_by=PictureRow.view_id,
        order_by=(
            func.coalesce(PictureRow.taken_at, PictureRow.received_at).desc(),
            PictureRow.kind,
            PictureRow.id.desc(),
        ),
    )
    ranked = (
        select(PictureRow.view_id, PictureRow.uid, rank.label("rank"))
        .where(
            PictureRow.view_id.in_(view_ids),
            PictureRow.retired_at.is_(None),
            PictureRow.kind != PictureKind.DRAWING.value,
        )
        .subquery()
    )
    query = select(ranked.c.view_id, ranked.c.uid).where(ranked.c.rank == 1)
    return {row.view_id: row.uid for row in unit.session.execute(query)}


def drawings_of(unit: Unit, equipment_ids: Iterable[int]) -> tuple[dict[int, str], dict[int, str]]:
    """By equipment, and by view, the uid of its latest drawing that stands."""
    query = (
        select(StopRow.equipment_id, PictureRow.view_id, PictureRow.uid)
        .join(StopRow, StopRow.id == PictureRow.stop_id)
        .where(
            StopRow.equipment_id.in_(sorted(equipment_ids)),
            PictureRow.kind == PictureKind.DRAWING.value,
            PictureRow.retired_at.is_(None),
        )
        .order_by(PictureRow.received_at, PictureRow.id)
    )
    of_equipment: dict[int, str] = {}
    of_view: dict[int, str] = {}
    for equipment_id, view_id, uid in unit.session.execute(query):
        if view_id is None:
            of_equipment[equipment_id] = uid
        else:
            of_view[view_id] = uid
    return of_equipment, of_view


def drawing_in_sight(unit: Unit, sight: Sight, picture_id: int) -> bool:
    """Whether somebody sees a point of the equipment that a drawing is of."""
    query = (
        select(PointRow.id)
        .join(ViewRow, ViewRow.id == PointRow.view_id)
        .join(StopRow, StopRow.equipment_id == ViewRow.equipment_id)
        .join(PictureRow, PictureRow.stop_id == StopRow.id)
        .where(
            PictureRow.id == picture_id,
            PictureRow.kind == PictureKind.DRAWING.value,
            sight.of(PointRow.site_id.expression, PointRow.id.expression),
        )
        .limit(1)
    )
    return unit.session.scalar(query) is not None


def view_in_sight(unit: Unit, sight: Sight, point_id: int) -> tuple[int, int] | None:
    """View and site of a point somebody may see; None where they may not, or it is not there."""
    query = select(PointRow.view_id, PointRow.site_id).where(
        PointRow.id == point_id, sight.of(PointRow.site_id.expression, PointRow.id.expression)
    )
    found = unit.session.execute(query).one_or_none()
    return None if found is None else (found[0], found[1])


def temperatures_of_view(
    unit: Unit, view_id: int, *, round_ids: Iterable[int]
) -> tuple[VisitTemperature, ...]:
    """What was typed at the parts of a view on some rounds, in the order of the parts."""
    raster = select(RasterRow.id).where(RasterRow.reading_id == ReadingRow.id).exists()
    query = (
        select(
            RoundRow.id,
            ReadingRow.uid,
            PointRow.phase,
            PointRow.name,
            ReadingRow.taken_at,
            ReadingRow.temperature_c,
            raster,
        )
        .join(PointRow, PointRow.id == ReadingRow.point_id)
        .join(RoundRow, RoundRow.id == ReadingRow.round_id)
        .where(PointRow.view_id == view_id, RoundRow.id.in_(list(round_ids)), CURRENT)
        .order_by(RoundRow.id, PointRow.walking_order, PointRow.id, ReadingRow.id)
    )
    return tuple(
        VisitTemperature(round_id, uid, phase or name, at, temperature_c, bool(has))
        for round_id, uid, phase, name, at, temperature_c, has in unit.session.execute(query)
    )


# ---- where they may belong ----------------------------------------------------------------------


def places_of_round(unit: Unit, round_id: int) -> Places:
    """Rows, stops and parts met off the round: all that a picture of it may be of."""
    return Places(_rows(unit, round_id), _stops(unit, round_id), _findings(unit, round_id))


def _rows(unit: Unit, round_id: int) -> tuple[RowPlace, ...]:
    query = (
        select(
            RoundPointRow, PointRow, ViewRow.name, EquipmentRow.name, ReadingRow.taken_at, ReadingRow.picture
        )
        .join(PointRow, PointRow.id == RoundPointRow.point_id)
        .join(ViewRow, ViewRow.id == RoundPointRow.view_id)
        .join(EquipmentRow, EquipmentRow.id == ViewRow.equipment_id)
        .outerjoin(ReadingRow, (ReadingRow.row_id == RoundPointRow.id) & CURRENT)
        .where(RoundPointRow.round_id == round_id)
        .order_by(RoundPointRow.position, RoundPointRow.id, ReadingRow.id)
    )
    return tuple(
        RowPlace(
            row_id=row.id,
            row_uid=row.uid,
            stop_id=row.stop_id,
            view_id=row.view_id,
            point_id=point.id,
            tag=point.tag,
            name=point.name,
            phase=point.phase,
            view=view,
            equipment=equipment,
            taken_at=taken_at,
            picture=picture or "",
        )
        for row, point, view, equipment, taken_at, picture in unit.session.execute(query)
    )


def _stops(unit: Unit, round_id: int) -> tuple[StopPlace, ...]:
    query = (
        select(StopRow, EquipmentRow.name, SiteRow.time_zone)
        .join(EquipmentRow, EquipmentRow.id == StopRow.equipment_id)
        .join(SiteRow, SiteRow.id == StopRow.site_id)
        .where(StopRow.round_id == round_id)
        .order_by(StopRow.position, StopRow.id)
    )
    return tuple(
        StopPlace(stop.id, stop.position, stop.sheet_code or "", title, stop.site_id, zone)
        for stop, title, zone in unit.session.execute(query)
    )


def _findings(unit: Unit, round_id: int) -> tuple[FindingPlace, ...]:
    query = (
        select(FindingRow.id, FindingRow.picture, FindingRow.title, FindingRow.place, FindingRow.site_id)
        .where(FindingRow.round_id == round_id, FindingRow.point_id.is_(None))
        .order_by(FindingRow.id)
    )
    return tuple(
        FindingPlace(finding_id, picture, f"{title}: {place}" if place else title, site_id)
        for finding_id, picture, title, place, site_id in unit.session.execute(query)
    )


def clock_ahead_s(unit: Unit, round_id: int) -> float:
    """So much the camera's clock is ahead [s]: as last compared on the round, else by its entry; 0 without."""
    compared = (
        select(CameraClockRow.offset_s)
        .where(CameraClockRow.round_id == round_id, CameraClockRow.replaced.is_(False))
        .order_by(CameraClockRow.at.desc(), CameraClockRow.id.desc())
        .limit(1)
    )
    on_round = unit.session.scalar(compared)
    if on_round is not None:
        return on_round
    query = (
        select(InstrumentRow.clock_offset_s)
        .join(RoundRow, RoundRow.instrument_id == InstrumentRow.id)
        .where(RoundRow.id == round_id)
    )
    return unit.session.scalar(query) or 0.0


# ---- kept ---------------------------------------------------------------------------------------


def add_picture(unit: Unit, *, now: datetime, **fields: Any) -> int:
    """Keep a picture's row; its files lie on the shelf already."""
    row = PictureRow(marks=[], created_at=now, changed_at=now, **fields)
    unit.session.add(row)
    unit.session.flush()
    return row.id


def change_picture(
    unit: Unit, picture: Picture, *, version: int, now: datetime, fields: dict[str, Any]
) -> None:
    """Change what is said of a picture: never its pixels.

    Raises
    ------
    Stale
        Somebody changed it since ``version``.
    """
    row = row_to_edit(unit, PictureRow, picture.id, version=version, now=now)
    for name, value in fields.items():
        setattr(row, name, value)
    unit.session.flush()


def files_named(unit: Unit) -> tuple[str, ...]:
    """Names of every file that a picture or its spoken note lies in."""
    rows = unit.session.execute(select(PictureRow.stored_as, PictureRow.preview_as, PictureRow.voice_as))
    return tuple(sorted({name for row in rows for name in row if name}))


# ---- read ---------------------------------------------------------------------------------------


def _found(unit: Unit, which: ColumnElement[bool], *, most: int) -> list[Picture]:
    latest = func.coalesce(PictureRow.taken_at, PictureRow.received_at).desc()
    query = _pictures().where(which).order_by(latest, PictureRow.id.desc()).limit(most)
    return [_picture(*row) for row in unit.session.execute(query)]


def _pictures() -> Select[*tuple[Any, ...]]:
    return (
        select(
            PictureRow,
            SiteRow.time_zone,
            RoundRow.code,
            RoundPointRow.uid,
            PointRow.tag,
            PointRow.name,
            PointRow.phase,
            PersonRow.name,
        )
        .join(SiteRow, SiteRow.id == PictureRow.site_id)
        .outerjoin(RoundRow, RoundRow.id == PictureRow.round_id)
        .outerjoin(RoundPointRow, RoundPointRow.id == PictureRow.row_id)
        .outerjoin(PointRow, PointRow.id == PictureRow.point_id)
        .outerjoin(PersonRow, PersonRow.id == PictureRow.by_person_id)
    )


def _picture(
    row: PictureRow,
    zone: str,
    round_code: str | None,
    row_uid: str | None,
    tag: str | None,
    name: str | None,
    phase: str | None,
    by: str | None,
) -> Picture:
    return Picture(
        id=row.id,
        uid=row.uid,
        version=row.version,
        site_id=row.site_id,
        zone=zone,
        round_id=row.round_id,
        round_code=round_code or "",
        stop_id=row.stop_id,
        row_id=row.row_id,
        row_uid=row_uid or "",
        point_id=row.point_id,
        point_tag=tag or "",
        point_name=name or "",
        phase=phase or "",
        view_id=row.view_id,
        finding_id=row.finding_id,
        kind=PictureKind(row.kind),
        stored_as=row.stored_as,
        preview_as=row.preview_as,
        width=row.width,
        height=row.height,
        frames=row.frames,
        sent_hash=row.sent_hash,
        taken_at=row.taken_at,
        time_from=None if row.time_from is None else TimeFrom(row.time_from),
        received_at=row.received_at,
        by=by or "",
        file_name=row.file_name,
        code=row.code,
        matched=None if row.matched is None else MatchedBy(row.matched),
        note=row.note,
        marks=tuple(Mark.from_dict(mark) for mark in row.marks),
        voice_as=row.voice_as,
        retired_at=row.retired_at,
        retired_reason=row.retired_reason,
    )
