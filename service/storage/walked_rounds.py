"""Rounds as their walkers' calendars tell them: whose they are, whose they were, and what stands with them."""

from collections.abc import Collection
from dataclasses import dataclass
from datetime import date, datetime

from sqlalchemy import exists, func, or_, select

from service.domain.rounds import Round
from service.storage.rounds import Sight, in_sight, read_rounds
from service.storage.tables.record import AuditRow
from service.storage.tables.register import ClientRow
from service.storage.tables.rounds import PermitRow, RoundRow
from service.storage.unit import Unit

MOST = 2000


@dataclass(frozen=True, slots=True)
class RoundStamps:
    """When a round was planned, when it or a permit of it last changed, and for whom it is walked."""

    created_at: datetime
    changed_at: datetime
    client_code: str
    client_name: str


def rounds_walked(unit: Unit, sight: Sight, person_id: int, *, first: date) -> tuple[Round, ...]:
    """Rounds in sight from a day on that somebody walks, as the first or the second person."""
    walks = or_(RoundRow.person_id == person_id, RoundRow.second_person_id == person_id)
    query = select(RoundRow).where(walks, RoundRow.planned_on >= first)
    return read_rounds(unit, query.where(*in_sight(sight)).order_by(RoundRow.id.desc()).limit(MOST))


def rounds_taken_off(unit: Unit, sight: Sight, person_id: int, *, first: date) -> tuple[Round, ...]:
    """Rounds from a day on that somebody was to walk and no longer is, as the audit trail has it.

    ``sight`` must not narrow to own rounds: these are none any more.
    """
    before = AuditRow.before
    was = or_(
        before["person_id"].as_integer() == person_id, before["second_person_id"].as_integer() == person_id
    )
    edited = exists().where(AuditRow.noun == "round", AuditRow.noun_id == RoundRow.id, was)
    query = select(RoundRow).where(
        RoundRow.planned_on >= first,
        RoundRow.person_id.is_distinct_from(person_id),
        RoundRow.second_person_id.is_distinct_from(person_id),
        edited,
    )
    return read_rounds(unit, query.where(*in_sight(sight)).order_by(RoundRow.id.desc()).limit(MOST))


def stamps_of(unit: Unit, round_ids: Collection[int]) -> dict[int, RoundStamps]:
    """By round."""
    rows = unit.session.execute(
        select(RoundRow.id, RoundRow.created_at, RoundRow.changed_at, ClientRow.code, ClientRow.name)
        .join(ClientRow, ClientRow.id == RoundRow.client_id)
        .where(RoundRow.id.in_(round_ids))
    )
    papers = dict(
        unit.session.execute(
            select(PermitRow.round_id, func.max(PermitRow.changed_at))
            .where(PermitRow.round_id.in_(round_ids))
            .group_by(PermitRow.round_id)
        ).all()
    )
    return {
        round_id: RoundStamps(created, max(changed, papers.get(round_id, changed)), code, name)
        for round_id, created, changed, code, name in rows
    }
