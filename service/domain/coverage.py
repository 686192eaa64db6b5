"""How far the interval rules are kept: whether every point of an equipment lies within its due date."""

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from enum import StrEnum
from functools import lru_cache

from service.domain.due import PROOF_DAYS, due_of, interval_in_force
from service.domain.site_clock import local_day
from service.domain.stop_facts import DuePoint
from service.planning.intervals import due_window


class Coverage(StrEnum):
    """Where an equipment stands against its due dates, by the worst of its points."""

    WITHIN = "within its date"
    DUE = "due"
    LATE = "late"
    NEVER_READ = "never read"
    NO_POINTS = "no points"


class WhyLate(StrEnum):
    """Why a late point has not been read, where none of the ten reasons was given."""

    NOT_READ_AGAIN = "repaired, not read again"
    NOT_PROVEN = "read again, but that proved nothing"
    NOT_BACK = "on a round that is not back"
    COULD_NOT_CLEAR = "read, but could not clear: at least"
    NOT_READ = "on a round, not read, no reason given"
    WITHDRAWN = "its round was withdrawn"
    TO_COME = "on a round to come"
    DRAFT = "on a draft only"
    NOT_SINCE = "on no round since"
    NEVER_ON_A_ROUND = "never on a round"


@dataclass(frozen=True, slots=True)
class RegisteredEquipment:
    """What the list and the interval rule need of one equipment; ``walk`` sorts it by site and walking order."""

    id: int
    site_id: int
    site: str
    time_zone: str
    area: str
    tag: str
    name: str
    equipment_class: str
    criticality: str
    condition: str
    behind_cover: bool
    interval_months: float | None
    pf_interval_months: float | None
    repair_lead_days: int | None
    walk: tuple[str, int, int, int, int, int]


@dataclass(frozen=True, slots=True)
class PointGroup:
    """Points of one equipment that the interval rule takes alike, with the earliest of their days.

    ``kind`` stands for all kinds under one ceiling. ``cleared_at`` is the earliest of their last
    visits that could clear, ``due_on`` the earliest day stored; both None where none has one.
    ``point_id`` is set where the group is one point.
    """

    equipment_id: int
    kind: str
    level: int | None
    trend: str
    points: int
    made_at: datetime
    cleared_at: datetime | None
    seen_at: datetime | None
    repaired_at: datetime | None
    due_on: date | None
    point_id: int | None = None


@dataclass(frozen=True, slots=True)
class GroupDue:
    """When a group is due, the last day that still counts as in time, and the rule with its source."""

    on: date
    last_day: date
    rule: str


@dataclass(frozen=True, slots=True)
class CoveredEquipment:
    """One line of the auditor's list, as at a day.

    ``seen_on`` is the latest reading of any of its points, ``cleared_on`` the earliest of its
    points' last readings that could clear: None as long as one point has none. ``due_on`` and
    ``rule`` are those of the point that is due first, of the late ones where there are any.
    """

    equipment: RegisteredEquipment
    coverage: Coverage
    points: int
    seen_on: date | None
    cleared_on: date | None
    due_on: date | None
    late_after: date | None
    rule: str


Place = tuple[int, int]


def due_of_group(equipment: RegisteredEquipment, group: PointGroup, *, fresh: Place | None) -> GroupDue:
    """Due day and last day in time of a group.

    Parameters
    ----------
    equipment : RegisteredEquipment
        With the facts that the interval rule takes.
    group : PointGroup
        A day stored for it stands; otherwise the rule is applied to its earliest visit.
    fresh : (int, int) or None
        Place of its site among the client's and how many those are, at a site never visited.

    Returns
    -------
    GroupDue
        In time is a visit up to a tenth of the interval late (`planning.intervals.due_window`);
        of a repair that waits for its proof, up to 30 days after it.
    """
    if group.repaired_at is not None:
        on = group.repaired_at.date()
        told = due_of(_due_point(equipment, group, fresh)).reason
        return GroupDue(on, on + timedelta(days=PROOF_DAYS), told)
    months, rule = _interval(
        equipment.criticality,
        equipment.condition,
        kind=group.kind,
        facts=(equipment.interval_months, equipment.pf_interval_months, equipment.repair_lead_days),
        level=group.level,
        trend=group.trend,
    )
    on = group.due_on or due_of(_due_point(equipment, group, fresh)).on or group.made_at.date()
    return GroupDue(on, _last_day(on, months), rule)


@lru_cache(maxsize=4096)
def _interval(
    criticality: str,
    condition: str,
    *,
    kind: str,
    facts: tuple[float | None, float | None, int | None],
    level: int | None,
    trend: str,
) -> tuple[float, str]:
    """The same few facts come by with thousands of equipment: the rule is worked out once."""
    point = DuePoint(
        0, 0, 0, kind, criticality, condition, *facts, date.min, None, None, level, trend, repaired_at=None,
        retired=False, fresh_place=None, fresh_places=1, has_state=False, due_on=None, due_reason="",
    )  # fmt: skip
    return interval_in_force(point)


@lru_cache(maxsize=4096)
def _last_day(on: date, months: float) -> date:
    return due_window(on, months)[1]


def cover(
    equipment: RegisteredEquipment, groups: Collection[PointGroup], *, on: date, fresh: Place | None
) -> CoveredEquipment:
    """Where an equipment stands on a day, by the groups of its points in use."""
    dues = [due_of_group(equipment, group, fresh=fresh) for group in groups]
    late = [due for due in dues if due.last_day < on]
    first = min(late or dues, key=lambda due: due.on, default=None)
    zone = equipment.time_zone
    seen = [group.seen_at for group in groups if group.seen_at is not None]
    cleared = [group.cleared_at for group in groups if group.cleared_at is not None]
    return CoveredEquipment(
        equipment=equipment,
        coverage=_coverage(dues, late, on=on, seen=bool(seen)),
        points=sum(group.points for group in groups),
        seen_on=local_day(max(seen), zone) if seen else None,
        cleared_on=local_day(min(cleared), zone) if cleared and len(cleared) == len(groups) else None,
        due_on=None if first is None else first.on,
        late_after=None if first is None else first.last_day,
        rule="" if first is None else first.rule,
    )


def late_points(
    equipment: Mapping[int, RegisteredEquipment],
    points: Collection[PointGroup],
    *,
    on: date,
    fresh: Mapping[int, Place],
) -> tuple[PointGroup, ...]:
    """Those of single points whose last day in time has passed."""
    return tuple(
        point
        for point in points
        if due_of_group(
            equipment[point.equipment_id], point, fresh=fresh.get(equipment[point.equipment_id].site_id)
        ).last_day
        < on
    )


def _coverage(dues: list[GroupDue], late: list[GroupDue], *, on: date, seen: bool) -> Coverage:
    if not dues:
        return Coverage.NO_POINTS
    if not seen:
        return Coverage.NEVER_READ
    if late:
        return Coverage.LATE
    return Coverage.DUE if any(due.on < on for due in dues) else Coverage.WITHIN


def _due_point(equipment: RegisteredEquipment, group: PointGroup, fresh: Place | None) -> DuePoint:
    return DuePoint(
        point_id=group.point_id or 0,
        site_id=equipment.site_id,
        equipment_id=equipment.id,
        kind=group.kind,
        criticality=equipment.criticality,
        condition=equipment.condition,
        interval_months=equipment.interval_months,
        pf_interval_months=equipment.pf_interval_months,
        repair_lead_days=equipment.repair_lead_days,
        made_on=group.made_at.date(),
        last_full_at=group.cleared_at,
        last_seen_at=group.seen_at,
        level=group.level,
        trend=group.trend,
        repaired_at=group.repaired_at,
        retired=False,
        fresh_place=None if fresh is None else fresh[0],
        fresh_places=1 if fresh is None else fresh[1],
        has_state=group.due_on is not None,
        due_on=group.due_on,
        due_reason="",
    )
