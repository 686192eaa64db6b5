"""What devices send from the walk: each send once, visits of stops and camera clocks."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import func, select, update

from service.domain.field_records import CameraClock, FieldSend, Receipt, SendKind, StopVisit
from service.domain.readings import Reading
from service.storage.bulk import is_one_of, is_one_of_texts
from service.storage.readings import CURRENT, readings_by_uid
from service.storage.tables.field import (
    CameraClockRow,
    FieldSendRow,
    HeldSendRow,
    ReplacedSendRow,
    StopVisitRow,
)
from service.storage.tables.findings import FindingRow
from service.storage.tables.people import PersonRow
from service.storage.tables.readings import ReadingRow
from service.storage.tables.register import EquipmentRow, InstrumentRow, PointRow, SiteRow
from service.storage.tables.rounds import RoundPointRow, StopRow
from service.storage.unit import Unit


@dataclass(frozen=True, slots=True)
class KnownSend:
    """A send that came before: whose, with which content, and what it was answered."""

    person_id: int | None
    content_hash: str
    receipt: Receipt


def known_send(unit: Unit, uid: str) -> KnownSend | None:
    """The send of this id, stored or held aside."""
    # first: what was held aside and taken in since is answered as it was
    held = unit.session.scalar(select(HeldSendRow).where(HeldSendRow.uid == uid))
    if held is not None:
        receipt = Receipt(
            held.uid,
            SendKind(held.kind),
            held.round_id,
            held.received_at,
            reason=held.reason,
            held_id=held.id,
        )
        return KnownSend(held.person_id, held.content_hash, receipt)
    row = unit.session.scalar(select(FieldSendRow).where(FieldSendRow.uid == uid))
    if row is None:
        return None
    receipt = Receipt(row.uid, SendKind(row.kind), row.round_id, row.received_at, finding_id=row.finding_id)
    return KnownSend(row.person_id, row.content_hash, receipt)


def keep_send(
    unit: Unit, sent: FieldSend, *, person_id: int | None, finding_id: int | None, now: datetime
) -> Receipt:
    """Remember a send beside what it brought: both are there or neither."""
    row = FieldSendRow(
        uid=sent.uid, kind=sent.kind.value, round_id=sent.round_id, person_id=person_id,
        content_hash=sent.content_hash, received_at=now, device_time=sent.device_time, skew_s=sent.skew_s,
        finding_id=finding_id,
    )  # fmt: skip
    unit.session.add(row)
    return Receipt(sent.uid, sent.kind, sent.round_id, now, finding_id=finding_id)


def replace_sends(unit: Unit, sent: FieldSend) -> None:
    """Remember which earlier sends this one stands for, come or not."""
    uids = list(dict.fromkeys(sent.replaces))
    known = set(
        unit.session.scalars(
            select(ReplacedSendRow.uid).where(is_one_of_texts(unit, ReplacedSendRow.uid, uids))
        )
    )
    unit.session.add_all(ReplacedSendRow(uid=uid, by_uid=sent.uid) for uid in uids if uid not in known)


def is_replaced(unit: Unit, uid: str) -> bool:
    """Whether a later send stands for this one."""
    return unit.session.scalar(select(ReplacedSendRow.id).where(ReplacedSendRow.uid == uid)) is not None


def finding_of_send(unit: Unit, uid: str, round_id: int) -> int | None:
    """The finding that a send of this round opened or was told of."""
    query = select(FieldSendRow.finding_id).where(FieldSendRow.uid == uid, FieldSendRow.round_id == round_id)
    return unit.session.scalar(query)


def point_of_row(unit: Unit, row_uid: str, *, round_id: int | None = None) -> tuple[int, int] | None:
    """Point and site of a row of a round (None: of any)."""
    query = (
        select(RoundPointRow.point_id, StopRow.site_id)
        .join(StopRow, StopRow.id == RoundPointRow.stop_id)
        .where(RoundPointRow.uid == row_uid)
    )
    if round_id is not None:
        query = query.where(RoundPointRow.round_id == round_id)
    found = unit.session.execute(query).one_or_none()
    return None if found is None else (found[0], found[1])


def place_of_stop(unit: Unit, stop_id: int, round_id: int) -> tuple[int, str] | None:
    """Site of a stop of a round, and the clock there."""
    query = (
        select(SiteRow.id, SiteRow.time_zone)
        .join(StopRow, StopRow.site_id == SiteRow.id)
        .where(StopRow.id == stop_id, StopRow.round_id == round_id)
    )
    found = unit.session.execute(query).one_or_none()
    return None if found is None else (found[0], found[1])


def findings_of_round(unit: Unit, round_id: int) -> tuple[tuple[int, str], ...]:
    """Findings that were opened by a round, the latest first."""
    query = select(FindingRow.id, FindingRow.title).where(FindingRow.round_id == round_id)
    return tuple((int(i), title) for i, title in unit.session.execute(query.order_by(FindingRow.id.desc())))


def stop_titles(unit: Unit, round_id: int) -> dict[int, tuple[str, str]]:
    """By stop of a round, in walking order: what stands there, and the clock of its site."""
    query = (
        select(StopRow.id, StopRow.position, EquipmentRow.name, SiteRow.time_zone)
        .join(EquipmentRow, EquipmentRow.id == StopRow.equipment_id)
        .join(SiteRow, SiteRow.id == StopRow.site_id)
        .where(StopRow.round_id == round_id)
        .order_by(StopRow.position, StopRow.id)
    )
    return {stop: (f"{position}. {name}", zone) for stop, position, name, zone in unit.session.execute(query)}


def device_timed(unit: Unit, round_id: int) -> tuple[tuple[Reading, str, str], ...]:
    """Readings of a round whose time is that of a device, each with its point and the clock of its site."""
    query = (
        select(ReadingRow.uid, PointRow.tag, SiteRow.time_zone)
        .join(PointRow, PointRow.id == ReadingRow.point_id)
        .join(SiteRow, SiteRow.id == PointRow.site_id)
        .where(ReadingRow.round_id == round_id, ReadingRow.device_time != "", CURRENT)
        .order_by(ReadingRow.id)
    )
    found = unit.session.execute(query).all()
    known = {reading.uid: reading for reading in readings_by_uid(unit, [uid for uid, _, _ in found])}
    return tuple((known[uid], tag, zone) for uid, tag, zone in found)


# ---- visits of stops -----------------------------------------------------------------------


def add_stop_visit(unit: Unit, **fields: Any) -> None:
    unit.session.add(StopVisitRow(**fields))


def replace_visits(unit: Unit, uids: Sequence[str], *, person_id: int | None) -> None:
    """A person's earlier visits of these ids stand no longer; nothing where they never came."""
    unit.session.execute(
        update(StopVisitRow)
        .where(is_one_of_texts(unit, StopVisitRow.uid, uids), StopVisitRow.person_id == person_id)
        .values(replaced=True)
        .execution_options(synchronize_session=False)
    )


def stop_visits(unit: Unit, round_id: int) -> tuple[StopVisit, ...]:
    """What stands of the visits of a round's stops, in the order in which they came."""
    query = (
        select(StopVisitRow, PersonRow.name, FieldSendRow)
        .join(FieldSendRow, FieldSendRow.uid == StopVisitRow.uid)
        .outerjoin(PersonRow, PersonRow.id == StopVisitRow.person_id)
        .where(StopVisitRow.round_id == round_id, ~StopVisitRow.replaced)
        .order_by(StopVisitRow.id)
    )
    return tuple(
        StopVisit(
            row.uid, row.stop_id, name or "somebody", row.started_at, row.ended_at, row.cautions_at, row.seen,
            row.heard, row.smelt, sent.device_time, sent.skew_s, sent.received_at,
        )
        for row, name, sent in unit.session.execute(query)
    )  # fmt: skip


def stays_of_equipment(
    unit: Unit, equipment_ids: Iterable[int], *, since: datetime
) -> dict[tuple[int, int], float]:
    """By equipment and round: the minutes from the first arrival to the last leaving, where both are known."""
    query = (
        select(
            StopRow.equipment_id,
            StopVisitRow.round_id,
            func.min(StopVisitRow.started_at),
            func.max(StopVisitRow.ended_at),
        )
        .join(StopRow, StopRow.id == StopVisitRow.stop_id)
        .where(
            is_one_of(unit, StopRow.equipment_id, equipment_ids),
            StopVisitRow.started_at >= since,
            StopVisitRow.ended_at.is_not(None),
            ~StopVisitRow.replaced,
        )
        .group_by(StopRow.equipment_id, StopVisitRow.round_id)
    )
    return {
        (equipment, round_id): (last - first).total_seconds() / 60.0
        for equipment, round_id, first, last in unit.session.execute(query)
        if first is not None and last is not None
    }


# ---- camera clocks -------------------------------------------------------------------------


def add_camera_clock(unit: Unit, *, replaces: Sequence[str], **fields: Any) -> None:
    if replaces:
        of_person = CameraClockRow.person_id == fields["person_id"]
        unit.session.execute(
            update(CameraClockRow)
            .where(is_one_of_texts(unit, CameraClockRow.uid, replaces), of_person)
            .values(replaced=True)
            .execution_options(synchronize_session=False)
        )
    unit.session.add(CameraClockRow(**fields))


def camera_clocks(unit: Unit, round_id: int) -> Sequence[CameraClock]:
    """What stands of the clocks that were compared on a round, in order of time."""
    query = (
        select(CameraClockRow, InstrumentRow.name, PersonRow.name)
        .join(InstrumentRow, InstrumentRow.id == CameraClockRow.instrument_id)
        .outerjoin(PersonRow, PersonRow.id == CameraClockRow.person_id)
        .where(CameraClockRow.round_id == round_id, ~CameraClockRow.replaced)
        .order_by(CameraClockRow.at, CameraClockRow.id)
    )
    return tuple(
        CameraClock(
            row.uid, row.instrument_id, instrument, person or "somebody", row.at, row.camera_time, row.offset_s
        )
        for row, instrument, person in unit.session.execute(query)
    )  # fmt: skip
