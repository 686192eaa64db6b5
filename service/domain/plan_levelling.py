"""Which of what is near its day goes into this month: a year levelled at once, told per equipment."""

import math
from collections.abc import Sequence
from dataclasses import replace
from datetime import date

import numpy as np

from service.domain.plan_visits import CRITICALITY_WEIGHT, EARLY_FACTOR, Visit
from service.planning.intervals import DAYS_PER_MONTH
from service.planning.month import plan_months
from service.planning.month_demand import Capacity, DueAssets

MONTHS = 12
#: On the way to a site that is visited for itself [min]: sign-in and set-up come on top. Assumed, no source.
USUAL_WAY_MIN = 45.0
#: share of an interval by which a visit may come late
LATE_SHARE = 0.10


def levelled(
    visits: Sequence[Visit], *, month_on: date, minutes: float, qualified_min: float
) -> tuple[Visit, ...]:
    """The visits, with those that the levelled year gives to a later month worth no more than early ones.

    Parameters
    ----------
    visits : sequence of Visit
        What is due by the end of the month, or near enough to be taken early.
    month_on : date
        First day of the month.
    minutes, qualified_min : float
        What the walks of the month offer in all, and with a qualified person [min]; the months
        after it are taken to offer the same.

    Returns
    -------
    tuple of Visit
        In the same order. What cannot wait keeps its worth; so does what would miss its window.

    Notes
    -----
    `service.planning.month.plan_months` on one year. A visit that is due and given to a later
    month says so in ``later``; one that is early and given to this month is worth as much as a
    due one.
    """
    if not visits or minutes <= 0:
        return tuple(visits)
    due = _demand(visits, month_on)
    sites = sorted({visit.facts.site_id for visit in visits})
    gates = {visit.facts.site_id: visit.facts.setup_minutes for visit in visits}
    plan = plan_months(
        due,
        Capacity(
            minutes=np.full(MONTHS, minutes),
            qualified_min=np.full(MONTHS, qualified_min),
            window_min=np.zeros((0, MONTHS)),
            fair_weather=np.ones(MONTHS, dtype=bool),
            visit_min=np.array([gates[site] + USUAL_WAY_MIN for site in sites]),
        ),
    )
    return tuple(
        _told(visit, int(first), month_on) for visit, first in zip(visits, plan.first_month, strict=True)
    )


def _told(visit: Visit, first: int, month_on: date) -> Visit:
    if visit.must:
        return visit
    if visit.early:
        return replace(visit, worth=round(visit.worth / EARLY_FACTOR)) if first == 0 else visit
    if first <= 0:
        return visit
    return replace(visit, worth=max(1, round(visit.worth * EARLY_FACTOR)), later=_month(month_on, first))


def _month(month_on: date, after: int) -> date:
    years, month = divmod(month_on.month - 1 + after, 12)
    return date(month_on.year + years, month + 1, 1)


def _demand(visits: Sequence[Visit], month_on: date) -> DueAssets:
    sites = sorted({visit.facts.site_id for visit in visits})
    due = [_months_until(month_on, visit.due_on) for visit in visits]
    late = [
        visit.due_on.toordinal() + LATE_SHARE * visit.interval_months * DAYS_PER_MONTH for visit in visits
    ]
    stop = [
        0 if visit.must else max(_months_until(month_on, date.fromordinal(int(day))), 0)
        for visit, day in zip(visits, late, strict=True)
    ]
    return DueAssets(
        key=np.array([visit.facts.id for visit in visits]),
        site=np.array([sites.index(visit.facts.site_id) for visit in visits]),
        read_min=np.array([float(visit.facts.minutes) for visit in visits]),
        interval_months=np.array([max(1, math.floor(visit.interval_months)) for visit in visits]),
        due_month=np.array(due),
        stop_month=np.array(stop),
        qualified=np.array([visit.facts.access.behind_cover for visit in visits]),
        outdoor=np.array([visit.facts.outdoor for visit in visits]),
        act_now=np.zeros(len(visits), dtype=bool),
        load_window=np.zeros(len(visits), dtype=np.int64),
        criticality=np.array([round(CRITICALITY_WEIGHT[visit.facts.criticality]) for visit in visits]),
        priority=np.array([visit.worth for visit in visits]),
        frozen_month=np.full(len(visits), -1),
    )


def _months_until(month_on: date, day: date) -> int:
    return (day.year - month_on.year) * 12 + day.month - month_on.month
