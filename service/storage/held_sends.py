"""Sends that are held aside: kept whole, listed, and decided once."""

from collections.abc import Collection, Sequence
from datetime import datetime
from typing import Any

from sqlalchemy import Select, and_, or_, select, update
from sqlalchemy.orm import aliased

from service.domain.field_records import FieldSend, HeldSend, HeldState, Receipt, SendKind
from service.domain.rounds import OPEN_FOR_READINGS
from service.storage.bulk import is_one_of_texts
from service.storage.rounds import Sight, in_sight
from service.storage.tables.field import HeldSendRow
from service.storage.tables.people import PersonRow
from service.storage.tables.register import PointRow, SiteRow
from service.storage.tables.rounds import RoundPointRow, RoundRow
from service.storage.unit import Unit

_DECIDER = aliased(PersonRow)


def hold_send(
    unit: Unit,
    sent: FieldSend,
    *,
    person_id: int | None,
    device: str,
    site_id: int | None,
    point_id: int | None,
    reason: str,
    now: datetime,
) -> Receipt:
    """Keep a send aside, whole; its id is unique, so that the same one twice is one."""
    row = HeldSendRow(
        uid=sent.uid, kind=sent.kind.value, round_id=sent.round_id, site_id=site_id, point_id=point_id,
        person_id=person_id, device=device, received_at=now, body=dict(sent.body), content_hash=sent.content_hash,
        device_time=sent.device_time, skew_s=sent.skew_s, reason=reason,
    )  # fmt: skip
    unit.session.add(row)
    unit.session.flush()
    return Receipt(sent.uid, sent.kind, sent.round_id, now, reason=reason, held_id=row.id)


def held_send(unit: Unit, held_id: int) -> HeldSend | None:
    record = unit.session.execute(_held().where(HeldSendRow.id == held_id)).one_or_none()
    return None if record is None else _read(record)


def lock_held_send(unit: Unit, held_id: int) -> HeldState | None:
    """Its state as it is now, held until the end of the writing unit."""
    state = unit.session.scalar(select(HeldSendRow.state).where(HeldSendRow.id == held_id).with_for_update())
    return None if state is None else HeldState(state)


def held_sends(
    unit: Unit, sight: Sight, *, round_id: int | None = None, after: int = 0, limit: int = 100
) -> tuple[HeldSend, ...]:
    """What is held aside of rounds in sight, decided or not, by id."""
    query = _held().where(HeldSendRow.id > after, *in_sight(sight))
    if round_id is not None:
        query = query.where(HeldSendRow.round_id == round_id)
    query = query.order_by(HeldSendRow.id).limit(limit)
    return tuple(_read(record) for record in unit.session.execute(query))


def waiting_sends(
    unit: Unit, *, site_ids: Collection[int] | None, person_id: int | None, limit: int
) -> tuple[HeldSend, ...]:
    """What waits for a decision at sites in sight and, for technicians, of rounds that are theirs."""
    query = _held().where(HeldSendRow.state == HeldState.WAITING.value)
    if site_ids is not None:
        query = query.where(HeldSendRow.site_id.in_(site_ids))
    if person_id is not None:
        query = query.where(or_(RoundRow.person_id == person_id, RoundRow.second_person_id == person_id))
    query = query.order_by(HeldSendRow.received_at, HeldSendRow.id).limit(limit)
    return tuple(_read(record) for record in unit.session.execute(query))


def decide(
    unit: Unit,
    held_id: int,
    state: HeldState,
    *,
    by: int | None,
    words: str,
    now: datetime,
    into_round_id: int | None = None,
) -> None:
    row = unit.session.get_one(HeldSendRow, held_id)
    row.state, row.decided_at, row.decided_by_id, row.decision = state.value, now, by, words
    row.into_round_id = into_round_id


def set_replaced_aside(
    unit: Unit, uids: Sequence[str], *, person_id: int | None, words: str, now: datetime
) -> None:
    """What still waits of a person's earlier sends waits no longer: their own device has sent a later one."""
    unit.session.execute(
        update(HeldSendRow)
        .where(
            is_one_of_texts(unit, HeldSendRow.uid, uids),
            HeldSendRow.person_id == person_id,
            HeldSendRow.state == HeldState.WAITING.value,
        )
        .values(state=HeldState.SET_ASIDE.value, decided_at=now, decision=words)
        .execution_options(synchronize_session=False)
    )


def open_rows_of_point(unit: Unit, point_id: int, sight: Sight) -> Sequence[tuple[int, str, str, str]]:
    """Open rounds in sight that have a point: id, code, name of each and the id of its row."""
    query = (
        select(RoundRow.id, RoundRow.code, RoundRow.name, RoundPointRow.uid)
        .join(RoundPointRow, RoundPointRow.round_id == RoundRow.id)
        .where(
            and_(
                RoundPointRow.point_id == point_id,
                RoundRow.state.in_([state.value for state in OPEN_FOR_READINGS]),
                *in_sight(sight),
            )
        )
        .order_by(RoundRow.planned_on.desc(), RoundRow.id.desc())
    )
    return [(i, code, name, uid) for i, code, name, uid in unit.session.execute(query)]


def row_of_point(unit: Unit, round_id: int, point_id: int) -> str | None:
    """The id under which a point's row went out on a round."""
    return unit.session.scalar(
        select(RoundPointRow.uid).where(
            RoundPointRow.round_id == round_id, RoundPointRow.point_id == point_id
        )
    )


def _held() -> Select[*tuple[Any, ...]]:
    return (
        select(HeldSendRow, RoundRow, SiteRow, PointRow, PersonRow.name, _DECIDER.name)
        .join(RoundRow, RoundRow.id == HeldSendRow.round_id)
        .outerjoin(SiteRow, SiteRow.id == HeldSendRow.site_id)
        .outerjoin(PointRow, PointRow.id == HeldSendRow.point_id)
        .outerjoin(PersonRow, PersonRow.id == HeldSendRow.person_id)
        .outerjoin(_DECIDER, _DECIDER.id == HeldSendRow.decided_by_id)
    )


def _read(record: Sequence[Any]) -> HeldSend:
    row, round_, site, point, person, decider = record
    return HeldSend(
        id=row.id, uid=row.uid, kind=SendKind(row.kind), state=HeldState(row.state), round_id=row.round_id,
        round_code=round_.code, round_name=round_.name, site_id=row.site_id,
        site_name="" if site is None else site.name, time_zone="UTC" if site is None else site.time_zone,
        person_id=row.person_id, person=person or row.device or "somebody", device=row.device,
        received_at=row.received_at, body=row.body, device_time=row.device_time, skew_s=row.skew_s,
        reason=row.reason, point_id=row.point_id, point_tag="" if point is None else point.tag,
        point_name="" if point is None else point.name, decided_at=row.decided_at, decided_by=decider or "",
        decision=row.decision, into_round_id=row.into_round_id,
    )  # fmt: skip
