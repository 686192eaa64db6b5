"""One point with its visits, cuts, like parts and findings, in a fixed number of queries."""

from collections.abc import Iterable, Sequence
from datetime import date, datetime
from typing import Any

from sqlalchemy import and_, func, or_, select
from sqlalchemy.orm import undefer

from service.domain.point_history import (
    Cut,
    LikePartReadings,
    Neighbour,
    PointFacts,
    PointFinding,
    PointStanding,
)
from service.domain.trending import FanStep
from service.domain.words import (
    FindingState,
    Level,
    PointKind,
    ReferenceKind,
    RoundState,
    Trend,
)
from service.errors import NotFound
from service.storage.desk import Sight
from service.storage.readings import CURRENT
from service.storage.site_strokes import WALK
from service.storage.tables.findings import FindingRow, RepairRow
from service.storage.tables.people import PersonRow
from service.storage.tables.readings import PointStateRow, ReadingRow
from service.storage.tables.register import (
    AreaRow,
    EquipmentRow,
    PointRow,
    SeriesCutRow,
    SiteRow,
    ViewMemberRow,
    ViewRow,
)
from service.storage.tables.rounds import RoundPointRow, RoundRow
from service.storage.unit import Unit


def point_facts(unit: Unit, sight: Sight, point_id: int) -> tuple[PointFacts, PointStanding]:
    """The point, its place and where it stands.

    Raises
    ------
    NotFound
        No such point, or out of sight: told alike.
    """
    query = (
        select(PointRow, ViewRow, EquipmentRow, AreaRow.name, SiteRow, PointStateRow)
        .join(ViewRow, ViewRow.id == PointRow.view_id)
        .join(EquipmentRow, EquipmentRow.id == ViewRow.equipment_id)
        .join(AreaRow, AreaRow.id == EquipmentRow.area_id)
        .join(SiteRow, SiteRow.id == PointRow.site_id)
        .outerjoin(PointStateRow, PointStateRow.point_id == PointRow.id)
        .where(PointRow.id == point_id, sight.of(PointRow.site_id.expression, PointRow.id.expression))
        .options(undefer(PointStateRow.trend_fan))
    )
    record = unit.session.execute(query).one_or_none()
    if record is None:
        raise NotFound()
    point, view, equipment, area, site, state = record
    facts = PointFacts(
        point_id=point.id,
        tag=point.tag,
        name=point.name,
        kind=PointKind(point.kind),
        phase=point.phase,
        component=point.component,
        coating=point.coating,
        reference=ReferenceKind(point.reference_kind),
        rated_rise_k=point.rated_rise_k,
        common_load_a=point.common_load_a,
        common_load_source=point.common_load_source,
        emissivity=point.emissivity,
        emissivity_source=point.emissivity_source,
        reflected_habit=point.reflected_habit,
        distance_m=point.distance_m,
        window_transmission=point.window_transmission,
        last_greased_on=point.last_greased_on,
        retired=point.retired_at is not None,
        view_id=view.id,
        view=view.name,
        asks_amps=view.asks_amps,
        equipment_id=equipment.id,
        equipment=equipment.name,
        equipment_tag=equipment.tag,
        rated_current_a=equipment.rated_current_a,
        consequence=equipment.consequence,
        repair_lead_days=equipment.repair_lead_days,
        area=area,
        site_id=site.id,
        site=site.name,
        zone=site.time_zone,
    )
    return facts, _standing(state)


def _standing(state: PointStateRow | None) -> PointStanding:
    """A point that was never read stands at No verdict."""

    def of(name: str, blank: Any = None) -> Any:
        return blank if state is None else getattr(state, name)

    return PointStanding(
        level=_level(of("level")),
        at_least=of("at_least", False),
        since=of("since"),
        last_read_at=of("last_read_at"),
        sentence=of("last_sentence", ""),
        rule=of("last_rule", ""),
        reference=_reference(of("reference")),
        value_k=of("value_k"),
        common_k=of("common_k"),
        load_ratio=of("load_ratio"),
        u_k=of("u_k"),
        u_common_k=of("u_common_k"),
        trend=Trend(of("trend", Trend.TOO_FEW_VISITS)),
        slope_k_month=of("slope_k_month"),
        slope_low=of("slope_low"),
        slope_high=of("slope_high"),
        trend_visits=of("trend_visits", 0),
        trend_fitted=of("trend_fitted"),
        trend_since=of("trend_since"),
        risen_k=of("trend_risen_k"),
        onset_on=of("trend_onset_on"),
        chance_6=of("chance_6"),
        chance_12=of("chance_12"),
        crossing_from=of("crossing_from"),
        crossing_to=of("crossing_to"),
        crossing_likeliest=of("crossing_likeliest"),
        fan=tuple(FanStep(date.fromisoformat(day), *levels) for day, *levels in of("trend_fan") or ()),
        pending=of("pending", False),
        episode=of("episode", 0),
        baseline_k=of("baseline_k"),
        due_on=of("due_on"),
        due_reason=of("due_reason", ""),
        criteria_id=of("criteria_id"),
    )


def _level(value: int | None) -> Level | None:
    return None if value is None else Level(value)


def _reference(value: str | None) -> ReferenceKind | None:
    return None if value is None else ReferenceKind(value)


def cuts(unit: Unit, point_id: int) -> tuple[Cut, ...]:
    """Where the series is cut, with how the repaired part was left."""
    query = (
        select(SeriesCutRow, RepairRow.as_left)
        .outerjoin(
            RepairRow,
            and_(
                RepairRow.finding_id == SeriesCutRow.finding_id,
                RepairRow.repaired_at == SeriesCutRow.at,
            ),
        )
        .where(SeriesCutRow.point_id == point_id)
        .order_by(SeriesCutRow.at, SeriesCutRow.id)
    )
    found: dict[int, Cut] = {}
    for row, as_left in unit.session.execute(query):
        found.setdefault(row.id, Cut(row.at, row.reason, row.note, as_left or "", row.finding_id))
    return tuple(found.values())


def like_parts(unit: Unit, view_id: int, *, since: datetime) -> tuple[LikePartReadings, ...]:
    """The parts of a view in walking order, with what was read of each since an instant."""
    members = (
        select(PointRow.id, PointRow.name, PointRow.phase)
        .join(ViewMemberRow, ViewMemberRow.point_id == PointRow.id)
        .where(ViewMemberRow.view_id == view_id, ViewMemberRow.to_at.is_(None), PointRow.retired_at.is_(None))
        .order_by(PointRow.walking_order, PointRow.id)
    )
    parts = {point_id: (name, phase) for point_id, name, phase in unit.session.execute(members)}
    query = (
        select(
            ReadingRow.point_id,
            ReadingRow.taken_at,
            ReadingRow.round_id,
            ReadingRow.temperature_c,
            ReadingRow.current_a,
        )
        .where(ReadingRow.point_id.in_(list(parts)), ReadingRow.taken_at >= since, CURRENT)
        .order_by(ReadingRow.taken_at, ReadingRow.id)
    )
    read: dict[int, list[tuple[datetime, int | None, float | None, float | None]]] = {
        part: [] for part in parts
    }
    for point_id, taken_at, round_id, temperature, amps in unit.session.execute(query):
        read[point_id].append((taken_at, round_id, temperature, amps))
    return tuple(
        LikePartReadings(point_id, name, phase, tuple(read[point_id]))
        for point_id, (name, phase) in parts.items()
    )


def point_findings(unit: Unit, point_id: int) -> tuple[PointFinding, ...]:
    """Findings of the point, latest first."""
    query = (
        select(FindingRow, PersonRow.name)
        .outerjoin(PersonRow, PersonRow.id == FindingRow.owner_id)
        .where(FindingRow.point_id == point_id)
        .order_by(FindingRow.id.desc())
    )
    return tuple(
        PointFinding(
            finding_id=row.id,
            title=row.title,
            state=FindingState(row.state),
            level=_level(row.level),
            owner=owner or "",
            work_order=row.work_order,
            due_on=row.due_on,
            planned_for=row.planned_for,
            opened_at=row.opened_at,
        )
        for row, owner in unit.session.execute(query)
    )


def planned_days(unit: Unit, point_id: int, *, today: date) -> tuple[date, ...]:
    """Days of rounds to come that read this point."""
    query = (
        select(RoundRow.planned_on)
        .join(RoundPointRow, RoundPointRow.round_id == RoundRow.id)
        .where(
            RoundPointRow.point_id == point_id,
            RoundRow.planned_on >= today,
            RoundRow.state.in_((RoundState.DRAFT.value, RoundState.ISSUED.value)),
        )
        .order_by(RoundRow.planned_on)
    )
    return tuple(unit.session.scalars(query))


def neighbours(
    unit: Unit, sight: Sight, *, site_id: int, point_id: int
) -> tuple[Neighbour | None, Neighbour | None]:
    """The points before and after it along the walk of its site."""
    walk = (
        select(
            PointRow.id.label("point_id"),
            func.lag(PointRow.id).over(order_by=WALK).label("before"),
            func.lead(PointRow.id).over(order_by=WALK).label("after"),
        )
        .join(ViewRow, ViewRow.id == PointRow.view_id)
        .join(EquipmentRow, EquipmentRow.id == ViewRow.equipment_id)
        .join(AreaRow, AreaRow.id == EquipmentRow.area_id)
        .where(PointRow.site_id == site_id, or_(PointRow.retired_at.is_(None), PointRow.id == point_id))
        .where(sight.of(PointRow.site_id.expression, PointRow.id.expression))
        .subquery()
    )
    row = unit.session.execute(
        select(walk.c.before, walk.c.after).where(walk.c.point_id == point_id)
    ).one_or_none()
    before, after = (None, None) if row is None else row
    names = dict(_names(unit, [point for point in (before, after) if point is not None]))
    return names.get(before), names.get(after)


def _names(unit: Unit, point_ids: Sequence[int]) -> Iterable[tuple[int | None, Neighbour]]:
    query = (
        select(PointRow.id, ViewRow.name, PointRow.name)
        .join(ViewRow, ViewRow.id == PointRow.view_id)
        .where(PointRow.id.in_(point_ids))
    )
    for point_id, view, name in unit.session.execute(query):
        yield point_id, Neighbour(point_id, name if view == name else f"{view}: {name}")
