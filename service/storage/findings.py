"""Findings, their moves, repairs and tellings in the database."""

from collections.abc import Iterable, Sequence
from datetime import datetime
from functools import cache
from typing import Any

from sqlalchemy import Select, and_, exists, or_, select
from sqlalchemy.orm import aliased

from service.domain.findings import LIVE, Finding, FindingFile, FindingMove, Repair, Telling, Untold
from service.domain.words import FindingState, Level
from service.errors import NotFound
from service.storage.bulk import is_one_of
from service.storage.finding_causes import taken_back
from service.storage.tables.findings import FindingMoveRow, FindingRow, RepairRow, TellingRow
from service.storage.tables.people import PersonRow
from service.storage.tables.readings import PointStateRow
from service.storage.tables.register import EquipmentRow, PointRow, SiteRow, ViewRow
from service.storage.unit import Unit
from service.storage.versions import row_to_edit

_opener, _owner, _accepter = aliased(PersonRow), aliased(PersonRow), aliased(PersonRow)


@cache
def _findings() -> Select[*tuple[Any, ...]]:
    told = exists().where(TellingRow.finding_id == FindingRow.id)
    return (
        select(
            FindingRow,
            SiteRow.name,
            SiteRow.time_zone,
            PointRow.tag,
            PointRow.name,
            EquipmentRow.id,
            EquipmentRow.name,
            _opener.name,
            _owner.name,
            _accepter.name,
            told,
        )
        .join(SiteRow, SiteRow.id == FindingRow.site_id)
        .outerjoin(PointRow, PointRow.id == FindingRow.point_id)
        .outerjoin(ViewRow, ViewRow.id == PointRow.view_id)
        .outerjoin(EquipmentRow, EquipmentRow.id == ViewRow.equipment_id)
        .outerjoin(_opener, _opener.id == FindingRow.opened_by_id)
        .outerjoin(_owner, _owner.id == FindingRow.owner_id)
        .outerjoin(_accepter, _accepter.id == FindingRow.risk_accepted_by_id)
    )


def _finding(record: Sequence[Any]) -> Finding:
    row, site, zone, tag, point, equipment_id, equipment, opener, owner, accepter, told = record
    return Finding(
        id=row.id,
        version=row.version,
        client_id=row.client_id,
        site_id=row.site_id,
        site_name=site,
        time_zone=zone,
        point_id=row.point_id,
        point_tag=tag or "",
        point_name=point or "",
        equipment_id=equipment_id,
        equipment_name=equipment or "",
        round_id=row.round_id,
        reading_id=row.reading_id,
        place=row.place,
        picture=row.picture,
        title=row.title,
        state=FindingState(row.state),
        attempt=row.attempt,
        level=None if row.level is None else Level(row.level),
        value_k=row.value_k,
        common_k=row.common_k,
        load_ratio=row.load_ratio,
        current_a=row.current_a,
        opened_at=row.opened_at,
        opened_by=opener or "the service",
        owner_id=row.owner_id,
        owner=owner or "",
        due_on=row.due_on,
        work_order=row.work_order,
        cause=row.cause,
        root_cause=row.root_cause,
        interim_measure=row.interim_measure,
        cost=row.cost,
        consequence=row.consequence,
        planned_for=row.planned_for,
        set_aside_reason=row.set_aside_reason,
        review_on=row.review_on,
        risk_accepted_by=accepter or "",
        risk_accepted_at=row.risk_accepted_at,
        risk_accepted_note=row.risk_accepted_note,
        outcome=row.outcome,
        closed_at=row.closed_at,
        told=bool(told),
    )


def findings(
    unit: Unit,
    *,
    site_ids: Iterable[int] | None,
    states: Iterable[FindingState] | None = None,
    point_ids: Iterable[int] | None = None,
    after: int = 0,
    limit: int = 500,
) -> tuple[Finding, ...]:
    """Findings of the sites in sight (None: all), by id, after a cursor."""
    query = _findings().where(FindingRow.id > after).order_by(FindingRow.id).limit(limit)
    if site_ids is not None:
        query = query.where(FindingRow.site_id.in_(sorted(site_ids)))
    if states is not None:
        query = query.where(FindingRow.state.in_([str(s) for s in states]))
    if point_ids is not None:
        query = query.where(FindingRow.point_id.in_(sorted(point_ids)))
    return tuple(_finding(record) for record in unit.session.execute(query))


def untold(
    unit: Unit, *, site_ids: Iterable[int] | None, point_ids: Iterable[int] | None = None
) -> tuple[Untold, ...]:
    """Findings at Act now of which nobody is on record as told, each with whom to tell; oldest first."""
    query = (
        _findings()
        .add_columns(SiteRow.contact_name, SiteRow.contact_phone)
        .where(
            FindingRow.level == Level.ACT_NOW.value,
            FindingRow.state.in_([state.value for state in LIVE]),
            ~exists().where(TellingRow.finding_id == FindingRow.id),
        )
        .order_by(FindingRow.opened_at, FindingRow.id)
    )
    if site_ids is not None:
        query = query.where(FindingRow.site_id.in_(sorted(site_ids)))
    if point_ids is not None:
        query = query.where(FindingRow.point_id.in_(sorted(point_ids)))
    return tuple(
        Untold(_finding(record[:-2]), record[-2], record[-1]) for record in unit.session.execute(query)
    )


def finding(unit: Unit, finding_id: int) -> Finding:
    record = unit.session.execute(_findings().where(FindingRow.id == finding_id)).one_or_none()
    if record is None:
        raise NotFound()
    return _finding(record)


def finding_file(unit: Unit, finding_id: int) -> FindingFile:
    """The finding with its moves, repairs, tellings and earlier findings of the same point."""
    found = finding(unit, finding_id)
    earlier: tuple[Finding, ...] = ()
    standing = None
    if found.point_id is not None:
        standing = unit.session.scalar(
            select(PointStateRow.level).where(PointStateRow.point_id == found.point_id)
        )
        same = and_(FindingRow.point_id == found.point_id, FindingRow.id < finding_id)
        earlier = tuple(
            _finding(r) for r in unit.session.execute(_findings().where(same).order_by(FindingRow.id.desc()))
        )
    return FindingFile(
        found,
        tuple(_moves(unit, finding_id)),
        repairs(unit, [finding_id])[finding_id],
        tuple(_tellings(unit, finding_id)),
        earlier,
        None if standing is None else Level(standing),
        taken_back(unit, FindingRow.id == finding_id).get(finding_id),
    )


def _moves(unit: Unit, finding_id: int) -> Iterable[FindingMove]:
    query = (
        select(FindingMoveRow, PersonRow.name)
        .outerjoin(PersonRow, PersonRow.id == FindingMoveRow.by_person_id)
        .where(FindingMoveRow.finding_id == finding_id)
        .order_by(FindingMoveRow.id)
    )
    for row, name in unit.session.execute(query):
        yield FindingMove(row.at, name or "the service", row.from_state, row.to_state, row.note)


def _tellings(unit: Unit, finding_id: int) -> Iterable[Telling]:
    query = (
        select(TellingRow, PersonRow.name)
        .outerjoin(PersonRow, PersonRow.id == TellingRow.by_person_id)
        .where(TellingRow.finding_id == finding_id)
        .order_by(TellingRow.told_at)
    )
    for row, name in unit.session.execute(query):
        yield Telling(row.told_whom, row.told_at, row.answer, name or "the service")


def repairs(unit: Unit, finding_ids: Iterable[int]) -> dict[int, tuple[Repair, ...]]:
    """Repairs by finding, first attempt first."""
    ids = sorted(set(finding_ids))
    result: dict[int, list[Repair]] = {finding_id: [] for finding_id in ids}
    query = select(RepairRow).where(RepairRow.finding_id.in_(ids)).order_by(RepairRow.attempt, RepairRow.id)
    for row in unit.session.scalars(query):
        result[row.finding_id].append(
            Repair(
                row.attempt, row.repaired_at, row.by, row.as_found, row.as_left, row.torque_found_nm,
                row.torque_left_nm, row.micro_ohm_found, row.micro_ohm_left, row.replaced, row.cost, row.outcome,
                row.outcome_at, row.outcome_reading_id, row.found,
            )
        )  # fmt: skip
    return {finding_id: tuple(made) for finding_id, made in result.items()}


def open_finding(unit: Unit, *, now: datetime, by_person_id: int | None, **fields: Any) -> int:
    """Write a new finding with its first move; returns its id.

    ``fields`` are columns of the findings table: client_id, site_id and title at least;
    point_id, or place (and picture) for a hot part met off the round.
    """
    row = FindingRow(created_at=now, changed_at=now, opened_at=now, opened_by_id=by_person_id, **fields)
    unit.session.add(row)
    unit.session.flush()
    _add_move(unit, row.id, "", FindingState.OPEN, now=now, by_person_id=by_person_id, note="")
    return row.id


def change_finding(
    unit: Unit, finding_id: int, *, version: int, now: datetime, fields: dict[str, Any]
) -> None:
    """Set columns of a finding on the version read.

    Raises
    ------
    service.errors.Stale
        Somebody changed it meanwhile.
    """
    row = row_to_edit(unit, FindingRow, finding_id, version=version, now=now)
    for name, value in fields.items():
        setattr(row, name, value)


def move_finding(
    unit: Unit,
    finding_id: int,
    *,
    to: FindingState,
    now: datetime,
    by_person_id: int | None,
    version: int | None = None,
    note: str = "",
    fields: dict[str, Any] | None = None,
) -> None:
    """Move to a state (already checked by the domain rule) and keep who and when.

    ``version`` is None only for moves the service makes itself (proof by a reading).
    """
    if version is None:
        current = unit.session.get(FindingRow, finding_id)
        if current is None:
            raise NotFound()
        version = current.version
    row = row_to_edit(unit, FindingRow, finding_id, version=version, now=now)
    was = row.state
    row.state = to.value
    for name, value in (fields or {}).items():
        setattr(row, name, value)
    _add_move(unit, finding_id, was, to, now=now, by_person_id=by_person_id, note=note)


def _add_move(
    unit: Unit,
    finding_id: int,
    was: str,
    to: FindingState,
    *,
    now: datetime,
    by_person_id: int | None,
    note: str,
) -> None:
    unit.session.add(
        FindingMoveRow(
            finding_id=finding_id,
            at=now,
            by_person_id=by_person_id,
            from_state=was,
            to_state=to.value,
            note=note,
        )
    )


def add_repair(unit: Unit, finding_id: int, *, attempt: int, **fields: Any) -> None:
    unit.session.add(RepairRow(finding_id=finding_id, attempt=attempt, **fields))


def end_repair(unit: Unit, finding_id: int, *, outcome: str, at: datetime, reading_id: int | None) -> None:
    """Close the latest attempt as proven or not proven."""
    query = select(RepairRow).where(RepairRow.finding_id == finding_id).order_by(RepairRow.id.desc()).limit(1)
    row = unit.session.scalars(query).one()
    row.outcome, row.outcome_at, row.outcome_reading_id = outcome, at, reading_id


def add_telling(
    unit: Unit, finding_id: int, *, told_whom: str, told_at: datetime, answer: str, by: int | None
) -> None:
    unit.session.add(
        TellingRow(
            finding_id=finding_id, told_whom=told_whom, told_at=told_at, answer=answer, by_person_id=by
        )
    )


def awaiting_proof(unit: Unit, point_ids: Iterable[int]) -> dict[int, Finding]:
    """Latest findings by point whose repair waits for its reading, or was proven but not yet confirmed."""
    proven_once = and_(FindingRow.state == FindingState.PROVEN.value, FindingRow.outcome == "")
    query = (
        _findings()
        .where(
            is_one_of(unit, FindingRow.point_id, point_ids),
            or_(FindingRow.state == FindingState.REPAIRED.value, proven_once),
        )
        .order_by(FindingRow.id)
    )
    return {f.point_id: f for f in map(_finding, unit.session.execute(query)) if f.point_id is not None}


def note_outcome(unit: Unit, finding_id: int, outcome: str) -> None:
    row = unit.session.get(FindingRow, finding_id)
    if row is not None:
        row.outcome = outcome


def live_finding_of(unit: Unit, point_id: int) -> Finding | None:
    """The finding of a point that still wants something, if there is one."""
    states = [
        s.value
        for s in (FindingState.OPEN, FindingState.PLANNED, FindingState.REPAIRED, FindingState.NOT_PROVEN)
    ]
    query = _findings().where(FindingRow.point_id == point_id, FindingRow.state.in_(states))
    record = unit.session.execute(query.order_by(FindingRow.id.desc()).limit(1)).one_or_none()
    return None if record is None else _finding(record)


def findings_to_review(unit: Unit, *, site_ids: Iterable[int] | None, now: datetime) -> tuple[Finding, ...]:
    """Set-aside findings whose review date has come."""
    query = _findings().where(
        FindingRow.state == FindingState.SET_ASIDE.value,
        or_(FindingRow.review_on.is_(None), FindingRow.review_on <= now.date()),
    )
    if site_ids is not None:
        query = query.where(FindingRow.site_id.in_(sorted(site_ids)))
    return tuple(_finding(r) for r in unit.session.execute(query.order_by(FindingRow.id)))
