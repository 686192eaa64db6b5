"""What a re-evaluation is about and what one moved: names, kinds, figures before and after."""

from collections.abc import Iterable
from typing import Any

from sqlalchemy import func, select
from sqlalchemy.orm import aliased

from service.domain.reevaluation import Moved
from service.domain.reevaluation_targets import TargetFacts
from service.domain.words import Level, PointKind, ReevaluationTarget
from service.storage.tables.readings import AssessmentRow, ReadingRow
from service.storage.tables.register import EquipmentRow, PointRow, SiteRow, ViewRow
from service.storage.tables.rounds import RoundRow
from service.storage.unit import Unit

_COLUMNS = {
    ReevaluationTarget.READING: AssessmentRow.reading_id,
    ReevaluationTarget.POINT: AssessmentRow.point_id,
    ReevaluationTarget.ROUND: AssessmentRow.round_id,
    ReevaluationTarget.SITE: PointRow.site_id,
}


def sites_of_target(unit: Unit, target: ReevaluationTarget, target_id: int) -> frozenset[int]:
    """Sites whose readings are meant, and the site itself; empty where there is no such thing."""
    if target is ReevaluationTarget.SITE:
        return frozenset(unit.session.scalars(select(SiteRow.id).where(SiteRow.id == target_id)))
    query = (
        select(PointRow.site_id)
        .join(AssessmentRow, AssessmentRow.point_id == PointRow.id)
        .where(_COLUMNS[target] == target_id, AssessmentRow.current)
        .distinct()
    )
    return frozenset(unit.session.scalars(query))


def target_facts(unit: Unit, target: ReevaluationTarget, target_id: int) -> TargetFacts:
    """Name and extent of a target that has standing readings or is a site."""
    title, zone, href = _named(unit, target, target_id)
    query = (
        select(PointRow.kind, PointRow.coating, func.count())
        .join(AssessmentRow, AssessmentRow.point_id == PointRow.id)
        .where(_COLUMNS[target] == target_id, AssessmentRow.current, AssessmentRow.round_id.is_not(None))
        .group_by(PointRow.kind, PointRow.coating)
    )
    rows = unit.session.execute(query).all()
    return TargetFacts(
        target=target,
        target_id=target_id,
        title=title,
        readings=sum(count for _kind, _coating, count in rows),
        kinds=tuple(sorted({PointKind(kind) for kind, _coating, _count in rows})),
        coatings=tuple(sorted({coating for _kind, coating, _count in rows if coating})),
        zone=zone,
        href=href,
    )


def _named(unit: Unit, target: ReevaluationTarget, target_id: int) -> tuple[str, str, str]:
    if target is ReevaluationTarget.SITE:
        site = unit.session.get_one(SiteRow, target_id)
        return site.name, site.time_zone, f"/equipment?site={site.id}"
    if target is ReevaluationTarget.ROUND:
        round_ = unit.session.get_one(RoundRow, target_id)
        return f"round {round_.code}", "UTC", f"/rounds/{round_.id}"
    point_id, uid = target_id, ""
    if target is ReevaluationTarget.READING:
        reading = unit.session.get_one(ReadingRow, target_id)
        point_id, uid = reading.point_id, reading.uid
    query = (
        select(PointRow.name, ViewRow.name, EquipmentRow.name, SiteRow.time_zone)
        .join(ViewRow, ViewRow.id == PointRow.view_id)
        .join(EquipmentRow, EquipmentRow.id == ViewRow.equipment_id)
        .join(SiteRow, SiteRow.id == PointRow.site_id)
        .where(PointRow.id == point_id)
    )
    name, of_view, equipment, zone = unit.session.execute(query).one()
    title = ", ".join(dict.fromkeys((equipment, of_view, name)))
    return title, zone, f"/readings/{uid}" if uid else f"/points/{point_id}"


def names_of_targets(
    unit: Unit, wanted: Iterable[tuple[ReevaluationTarget, int]]
) -> dict[tuple[ReevaluationTarget, int], tuple[str, str]]:
    """Title and address of some targets."""
    found = {}
    for target, target_id in dict.fromkeys(wanted):
        title, _zone, href = _named(unit, target, target_id)
        found[target, target_id] = title, href
    return found


def moves_of(unit: Unit, reevaluation_id: int) -> tuple[Moved, ...]:
    """What a re-evaluation made of each reading, the gravest first."""
    new, old = aliased(AssessmentRow), aliased(AssessmentRow)
    query = (
        select(new, old, PointRow.tag, PointRow.name, ViewRow.name, EquipmentRow.name, SiteRow.time_zone)
        .join(old, old.id == new.replaces_id)
        .join(PointRow, PointRow.id == new.point_id)
        .join(ViewRow, ViewRow.id == PointRow.view_id)
        .join(EquipmentRow, EquipmentRow.id == ViewRow.equipment_id)
        .join(SiteRow, SiteRow.id == PointRow.site_id)
        .where(new.reevaluation_id == reevaluation_id)
    )
    found = [_moved(*row) for row in unit.session.execute(query)]
    found = [one for one in found if one.level_moves or one.value_before_k != one.value_after_k]
    return tuple(sorted(found, key=_gravest))


def _gravest(one: Moved) -> tuple[bool, int]:
    levels = [-1 if level is None else int(level) for level in (one.level_before, one.level_after)]
    return (not one.level_moves, -max(levels))


def _moved(new: Any, old: Any, tag: str, name: str, of_view: str, equipment: str, zone: str) -> Moved:
    return Moved(
        reading_id=new.reading_id,
        point_id=new.point_id,
        point_tag=tag,
        title=", ".join(dict.fromkeys((equipment, of_view, name))),
        taken_at=new.taken_at,
        zone=zone,
        level_before=None if old.level is None else Level(old.level),
        level_after=None if new.level is None else Level(new.level),
        at_least_before=old.at_least,
        at_least_after=new.at_least,
        value_before_k=old.value_k,
        value_after_k=new.value_k,
        u_before_k=old.u_k,
        u_after_k=new.u_k,
    )
