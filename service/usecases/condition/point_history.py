"""See one point through its visits."""

from dataclasses import replace
from datetime import datetime, timedelta

import numpy as np

from service.domain.criteria import Criteria
from service.domain.people import Actor
from service.domain.permissions import Verb, require
from service.domain.point_history import (
    DrawnVisit,
    Lines,
    PointFacts,
    PointHistory,
    PointStanding,
    TrendLine,
)
from service.domain.presets import DEFAULT_CRITERIA
from service.errors import NotFound
from service.storage import criteria, past_visits, point_history, trend_verdicts
from service.storage.unit import Store
from service.trends.fits import Fits, fit
from service.usecases.condition.overview import sight_of

SECONDS_A_DAY = 86_400

#: like parts are shown over so many of the last visits
LIKE_PART_VISITS = 12
#: what was said of the trend is told so far back, two years of months; one more gives the last its cause
VERDICTS = 24


def see_point_history(
    store: Store, actor: Actor, *, point_id: int, told: int | None = None, now: datetime
) -> PointHistory:
    """Everything the point's page shows, in a constant number of queries.

    Parameters
    ----------
    point_id : int
        The point; for a technician one of own rounds.
    told : int, optional
        So many of the latest visits in full, beside the last ones that were read; else all.
    now : datetime
        Planned visits from this day on are told.

    Returns
    -------
    PointHistory
        Visits oldest first, replaced ones included; action lines of the kind of reference
        that decides, by the criteria in force when the point was last judged.

    Raises
    ------
    NotFound
        No such point, or out of sight.
    """
    require(actor, Verb.SEE)
    if actor.only_round is not None:
        raise NotFound()  # a token of one round opens no point's history
    sight = sight_of(actor)
    with store.look() as unit:
        facts, standing = point_history.point_facts(unit, sight, point_id)
        require(actor, Verb.SEE, site_id=facts.site_id)
        drawn = past_visits.drawn_visits(unit, point_id)
        visits = past_visits.past_visits(unit, point_id, _in_full(drawn, told))
        used = {} if standing.criteria_id is None else criteria.criteria_by_id(unit, [standing.criteria_id])
        before, after = point_history.neighbours(unit, sight, site_id=facts.site_id, point_id=point_id)
        history = PointHistory(
            facts=facts,
            standing=standing,
            drawn=drawn,
            visits=visits,
            cuts=point_history.cuts(unit, point_id),
            lines=_lines(used.get(standing.criteria_id or 0, DEFAULT_CRITERIA), facts, standing),
            like_parts=point_history.like_parts(unit, facts.view_id, since=_from(drawn, now)),
            findings=point_history.point_findings(unit, point_id),
            planned=point_history.planned_days(unit, point_id, today=now.date()),
            before=before,
            after=after,
            verdicts=trend_verdicts.verdicts_of(unit, point_id, most=VERDICTS + 1),
        )
    return replace(history, trend_line=_trend_line(history))


def _in_full(drawn: tuple[DrawnVisit, ...], told: int | None) -> list[int] | None:
    """The latest so many, and what the page says of the last visits: the one, and the last two read."""
    if told is None:
        return None
    standing = [visit for visit in drawn if not visit.replaced]
    warm = [visit for visit in standing if visit.temperature_c is not None]
    read = [visit for visit in warm if visit.reason is None]
    latest = drawn[-told:] if told else ()
    return sorted({visit.reading_id for visit in (*latest, *standing[-1:], *warm[-1:], *read[-2:])})


def _trend_line(history: PointHistory) -> TrendLine | None:
    """The line of the stored slope, over the latest visits that it was fitted to."""
    stands = history.standing
    if stands.slope_k_month is None or not stands.trend_fitted:
        return None
    part = history.series[-stands.trend_fitted :]
    if len(part) < 3:
        return None
    found = _fit(part)
    last_k = float(found.level_now_k[0])
    return TrendLine(
        first_on=part[0].taken_at.date(),
        first_k=last_k - float(found.slope[0] * found.span_days[0]),
        last_on=part[-1].taken_at.date(),
        last_k=last_k,
        visits=len(part),
    )


def _fit(visits: tuple[DrawnVisit, ...]) -> Fits:
    days = np.array([[visit.taken_at.timestamp() / SECONDS_A_DAY for visit in visits]])
    rises = np.array([[visit.rise_k or 0.0 for visit in visits]])
    return fit(days, rises)


def _from(visits: tuple[DrawnVisit, ...], now: datetime) -> datetime:
    """Instant of the first of the last visits; a few hours before, since parts are read one by one."""
    read = [visit.taken_at for visit in visits if not visit.replaced][-LIKE_PART_VISITS:]
    return (read[0] if read else now) - timedelta(hours=12)


def _lines(used: Criteria, facts: PointFacts, standing: PointStanding) -> Lines:
    reference = standing.reference or facts.reference
    rule = used.rule_for(reference, facts.kind, component=facts.component)
    rows = used.lines_for(reference, facts.kind, component=facts.component)
    return Lines(
        rows=tuple(row for row in rows if row[0] > 0),
        source=rule.cited,
        criteria=f"{used.title}, version {used.version}",
        exponent=used.exponent,
        min_load_share=used.min_load_share,
        unit=rule.unit.value,
    )
