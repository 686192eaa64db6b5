"""What a plan may take in: equipment that is due, or near it, with what a visit is worth."""

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import date

from service.domain.carried_over import CarriedOver
from service.domain.due import due_of, interval_of
from service.domain.stop_facts import DuePoint, EquipmentFacts
from service.domain.words import CURRENT_KINDS, PointKind, Reason, Trend
from service.planning.intervals import DAYS_PER_MONTH, ELECTRICAL_CEILING_MONTHS, add_months, due_window
from service.planning.priorities import priority_scores

#: weight of a missed fault by criticality (own weights, no source)
CRITICALITY_WEIGHT = {"low": 1.0, "medium": 4.0, "high": 15.0}
#: of what is not due yet, but may be taken along when somebody is there anyway
EARLY_FACTOR = 0.3
#: of what time ran out for, each time in a row, up to the last of them (own rule, no source)
OUT_OF_TIME_FACTOR, MOST_OUT_OF_TIME = 1.5, 4


@dataclass(frozen=True, slots=True)
class PlanSite:
    """A site as a plan needs it: where it lies, when it is open, whether two must go."""

    id: int
    client_id: int
    name: str
    time_zone: str
    latitude: float | None
    longitude: float | None
    setup_minutes: int
    opening_hours: str
    two_people: bool


@dataclass(frozen=True, slots=True)
class Visit:
    """One equipment that a plan may take in.

    ``due_on`` is the day of its earliest point and ``reason`` the line that explains it; ``early``
    says that the day is beyond the month; ``must`` why it cannot wait, empty when it can. ``later``
    is the month that a levelled year gives it to, None where that is this one; ``carried`` is
    what its last visits came back with instead of a reading. ``loaded_on`` is the last day on which
    one of its points could have been cleared. Of what runs in turn ``turn`` is why it is read, and
    ``stands_by`` for which of its group it waits. ``cover_price`` is what opening its cover weighs,
    in units of worth.
    """

    facts: EquipmentFacts
    points: int
    due_on: date
    reason: str
    early: bool
    must: str
    worth: int
    interval_months: float = 12.0
    later: date | None = None
    carried: CarriedOver | None = None
    loaded_on: date | None = None
    turn: str = ""
    stands_by: str = ""
    cover_price: int = 0

    @property
    def score(self) -> int:
        """What the planner weighs it by: its worth less what the cover costs that it opens, at least 1."""
        return max(self.worth - self.cover_price, 1)

    @property
    def not_worth_its_cover(self) -> bool:
        """Opening its cover costs more than it tells this month; what cannot wait is never so."""
        return self.cover_price >= self.worth and not self.must


def visits_of(
    facts: Iterable[EquipmentFacts],
    points: Iterable[DuePoint],
    *,
    first: date,
    last: date,
    wanted: Collection[int] = (),
) -> tuple[Visit, ...]:
    """Equipment with points due by ``last``, or so near that they may be read early.

    Parameters
    ----------
    facts : iterable of EquipmentFacts
        Equipment in use.
    points : iterable of DuePoint
        Its points.
    first, last : date
        The days of the plan.
    wanted : collection of int
        Equipment that a hand has put on a walk: taken in whether it is due or not.

    Returns
    -------
    tuple of Visit
        By equipment id.
    """
    by_equipment: dict[int, list[DuePoint]] = {}
    for point in points:
        if not point.retired:
            by_equipment.setdefault(point.equipment_id, []).append(point)
    found = []
    for one in sorted(facts, key=lambda f: f.id):
        visit = _visit(one, by_equipment.get(one.id, []), first=first, last=last, wanted=one.id in wanted)
        if visit is not None:
            found.append(visit)
    return tuple(found)


def _visit(
    facts: EquipmentFacts, points: list[DuePoint], *, first: date, last: date, wanted: bool
) -> Visit | None:
    dues = [(day, reason, point) for point in points for day, reason in [_due(point)] if day is not None]
    if not dues:
        return None
    due_on, reason, earliest = min(dues, key=lambda one: (one[0], one[2].point_id))
    early = due_on > last
    if early and not wanted and due_window(due_on, interval_of(earliest).months)[0] > last:
        return None
    worth = _worth([(day, point) for day, _, point in dues], first=first) * (EARLY_FACTOR if early else 1)
    must = "" if early else next((said for _, _, point in dues if (said := _must(point, last=last))), "")
    return Visit(
        facts=facts,
        points=len(points),
        due_on=due_on,
        reason=reason,
        early=early,
        must=must,
        worth=max(1, round(worth)),
        interval_months=interval_of(earliest).months,
        loaded_on=max(
            (one.last_full_at.date() for one in points if one.last_full_at is not None), default=None
        ),
    )


def with_carried(visits: Iterable[Visit], carried: Mapping[int, CarriedOver]) -> tuple[Visit, ...]:
    """The visits with what was carried over; what time ran out for is worth more each time."""
    return tuple(_with_carried(visit, carried.get(visit.facts.id)) for visit in visits)


def _with_carried(visit: Visit, carried: CarriedOver | None) -> Visit:
    if carried is None:
        return visit
    short = sum(one.reason is Reason.OUT_OF_TIME for one in carried.visits)
    factor = OUT_OF_TIME_FACTOR ** min(short, MOST_OUT_OF_TIME)
    return replace(visit, carried=carried, worth=round(visit.worth * factor))


def _due(point: DuePoint) -> tuple[date | None, str]:
    """As stored; worked out where nothing is stored yet."""
    if point.due_on is not None:
        return point.due_on, point.due_reason
    due = due_of(point)
    return due.on, due.reason


def _worth(points: list[tuple[date, DuePoint]], *, first: date) -> int:
    """What the worthiest of these points is worth on the first day of the plan."""
    months = [interval_of(point).months for _, point in points]
    since = [
        max(interval - (day - first).days / DAYS_PER_MONTH, 0.0)
        for interval, (day, _) in zip(months, points, strict=True)
    ]
    scores = priority_scores(
        [CRITICALITY_WEIGHT[point.criticality] for _, point in points],
        since,
        interval_months=months,
        trending=[Trend(point.trend).worsening for _, point in points],
    )
    return int(scores.max())


def _must(point: DuePoint, *, last: date) -> str:
    """Why this point cannot be put off beyond ``last``; empty when it can."""
    if point.repaired_at is not None:
        return "its repair waits for the proof"
    electrical = PointKind(point.kind) in CURRENT_KINDS
    if electrical and point.last_full_at is not None:
        end = add_months(point.last_full_at.date(), ELECTRICAL_CEILING_MONTHS)
        if end <= last:
            return "its twelve months end"
    return ""
