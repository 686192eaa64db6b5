"""Plans of months: each with its versions, of which none is ever changed."""

from collections.abc import Collection, Mapping
from dataclasses import asdict, dataclass
from datetime import date, datetime

from sqlalchemy import and_, func, select

from service.domain.plans import MonthPlan, PlanBody, PlanVersion, Working, body_from_json, body_to_json
from service.domain.words import RoundState
from service.storage.tables.people import PersonRow
from service.storage.tables.planning import MonthPlanRoundRow, MonthPlanRow, MonthPlanVersionRow
from service.storage.tables.register import ClientRow
from service.storage.tables.rounds import RoundRow
from service.storage.unit import Unit
from service.storage.versions import locked_row, row_to_edit


def plan_by_id(unit: Unit, plan_id: int) -> MonthPlan | None:
    row = unit.session.get(MonthPlanRow, plan_id)
    return None if row is None else _plan(row)


def lock_plan(unit: Unit, plan_id: int) -> MonthPlan | None:
    """The plan as it is now, held until the end of the writing unit."""
    row = locked_row(unit, MonthPlanRow, plan_id)
    return None if row is None else _plan(row)


def list_plans(
    unit: Unit, client_ids: Collection[int] | None, *, after: int = 0, limit: int = 200
) -> tuple[tuple[MonthPlan, frozenset[int]], ...]:
    """Plans of these clients (None: of all) by id, each with the sites of what counts of it."""
    version = MonthPlanVersionRow
    counts = and_(version.plan_id == MonthPlanRow.id, version.number == MonthPlanRow.current)
    query = (
        select(MonthPlanRow, version.body["site_ids"])
        .join(version, counts)
        .where(MonthPlanRow.id > after)
        .order_by(MonthPlanRow.id)
        .limit(limit)
    )
    if client_ids is not None:
        query = query.where(MonthPlanRow.client_id.in_(client_ids))
    return tuple((_plan(row), frozenset(sites)) for row, sites in unit.session.execute(query))


def add_plan(unit: Unit, *, client_id: int, month_on: date, name: str, now: datetime) -> MonthPlan:
    row = MonthPlanRow(
        client_id=client_id,
        month_on=month_on,
        name=name,
        current=0,
        newest=0,
        working=None,
        created_at=now,
        changed_at=now,
    )
    unit.session.add(row)
    unit.session.flush()
    return _plan(row)


def add_version(
    unit: Unit,
    plan: MonthPlan,
    body: PlanBody,
    *,
    parent: int,
    aside: bool = False,
    what: str,
    by: int | None,
    now: datetime,
) -> MonthPlan:
    """Keep a body as the newest version; it becomes the current one unless it is drawn aside."""
    row = row_to_edit(unit, MonthPlanRow, plan.id, version=plan.version, now=now)
    row.newest += 1
    if not aside:
        row.current = row.newest
    unit.session.add(
        MonthPlanVersionRow(
            plan_id=plan.id,
            number=row.newest,
            parent=parent,
            aside=aside,
            at=now,
            by_person_id=by,
            what=what,
            body=body_to_json(body),
        )
    )
    unit.session.flush()
    return _plan(row)


def set_current(unit: Unit, plan: MonthPlan, number: int, *, now: datetime) -> MonthPlan:
    """Make another version count: a step back, or forward again."""
    row = row_to_edit(unit, MonthPlanRow, plan.id, version=plan.version, now=now)
    row.current = number
    unit.session.flush()
    return _plan(row)


def set_working(unit: Unit, plan_id: int, working: Working | None) -> None:
    """What is under way; no edit of the plan, so that its version stays."""
    row = locked_row(unit, MonthPlanRow, plan_id)
    if row is not None:
        row.working = None if working is None else asdict(working)
        unit.session.flush()


def body_of(unit: Unit, plan_id: int, number: int) -> PlanBody | None:
    query = select(MonthPlanVersionRow.body).where(
        MonthPlanVersionRow.plan_id == plan_id, MonthPlanVersionRow.number == number
    )
    found = unit.session.scalar(query)
    return None if found is None else body_from_json(found)


def versions_of(unit: Unit, plan_id: int, *, limit: int = 200) -> tuple[PlanVersion, ...]:
    """The newest versions of a plan without their bodies, the newest first."""
    row = MonthPlanVersionRow
    query = (
        select(row.number, row.parent, row.aside, row.at, row.what, PersonRow.name)
        .outerjoin(PersonRow, PersonRow.id == row.by_person_id)
        .where(row.plan_id == plan_id)
        .order_by(row.number.desc())
        .limit(limit)
    )
    return tuple(
        PlanVersion(number=number, parent=parent, aside=aside, at=at, by_name=name or "", what=what)
        for number, parent, aside, at, what, name in unit.session.execute(query)
    )


def parent_of(unit: Unit, plan_id: int, number: int) -> int:
    """The version this one was made from; 0 for the first."""
    row = MonthPlanVersionRow
    found = unit.session.scalar(select(row.parent).where(row.plan_id == plan_id, row.number == number))
    return found or 0


def newest_child(unit: Unit, plan_id: int, number: int) -> int | None:
    """The latest step that was made from this version."""
    row = MonthPlanVersionRow
    query = select(func.max(row.number)).where(
        row.plan_id == plan_id, row.parent == number, row.aside.is_(False)
    )
    found: int | None = unit.session.scalar(query)
    return found


def rounds_of(unit: Unit, plan_id: int) -> dict[str, int]:
    """By walk: the round that was made of it."""
    row = MonthPlanRoundRow
    found = unit.session.execute(select(row.walk, row.round_id).where(row.plan_id == plan_id)).all()
    return dict(found)


def link_round(unit: Unit, plan_id: int, walk: str, round_id: int) -> None:
    """Say which round a walk has become; a withdrawn one gives its place to the next."""
    row = unit.session.scalar(
        select(MonthPlanRoundRow).where(MonthPlanRoundRow.plan_id == plan_id, MonthPlanRoundRow.walk == walk)
    )
    if row is None:
        unit.session.add(MonthPlanRoundRow(plan_id=plan_id, walk=walk, round_id=round_id))
    else:
        row.round_id = round_id
    unit.session.flush()


def _plan(row: MonthPlanRow) -> MonthPlan:
    return MonthPlan(
        id=row.id,
        client_id=row.client_id,
        month_on=row.month_on,
        name=row.name,
        current=row.current,
        newest=row.newest,
        working=None if row.working is None else Working(**row.working),
        version=row.version,
    )


@dataclass(frozen=True, slots=True)
class PlanAhead:
    """What counts of a plan, for whom it is, and the states of the rounds that were made of its walks."""

    plan: MonthPlan
    body: PlanBody
    created_at: datetime
    changed_at: datetime
    client_code: str
    client_name: str
    states: Mapping[str, RoundState]


def plans_ahead(
    unit: Unit, client_ids: Collection[int] | None, *, first: date, limit: int = 24
) -> tuple[PlanAhead, ...]:
    """Plans of these clients (None: of all) for months from a day on, the newest first."""
    version = MonthPlanVersionRow
    counts = and_(version.plan_id == MonthPlanRow.id, version.number == MonthPlanRow.current)
    query = (
        select(MonthPlanRow, version.body, ClientRow.code, ClientRow.name)
        .join(version, counts)
        .join(ClientRow, ClientRow.id == MonthPlanRow.client_id)
        .where(MonthPlanRow.month_on >= first.replace(day=1))
        .order_by(MonthPlanRow.id.desc())
        .limit(limit)
    )
    if client_ids is not None:
        query = query.where(MonthPlanRow.client_id.in_(client_ids))
    found = unit.session.execute(query).all()
    states = _states(unit, [row.id for row, *_ in found])
    return tuple(
        PlanAhead(
            plan=_plan(row),
            body=body_from_json(body),
            created_at=row.created_at,
            changed_at=row.changed_at,
            client_code=code,
            client_name=name,
            states=states.get(row.id, {}),
        )
        for row, body, code, name in found
    )


def _states(unit: Unit, plan_ids: Collection[int]) -> dict[int, dict[str, RoundState]]:
    link = MonthPlanRoundRow
    query = (
        select(link.plan_id, link.walk, RoundRow.state)
        .join(RoundRow, RoundRow.id == link.round_id)
        .where(link.plan_id.in_(plan_ids))
    )
    found: dict[int, dict[str, RoundState]] = {}
    for plan_id, walk, state in unit.session.execute(query):
        found.setdefault(plan_id, {})[walk] = RoundState(state)
    return found
