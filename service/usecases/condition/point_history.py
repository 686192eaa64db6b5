"""See one point through its visits."""

from datetime import datetime, timedelta

from service.domain.criteria import Criteria
from service.domain.people import Actor
from service.domain.permissions import Verb, require
from service.domain.point_history import Lines, PastVisit, PointFacts, PointHistory, PointStanding
from service.domain.presets import DEFAULT_CRITERIA
from service.storage import criteria, point_history
from service.storage.unit import Store
from service.usecases.condition.overview import sight_of

#: like parts are shown over so many of the last visits
LIKE_PART_VISITS = 12


def see_point_history(store: Store, actor: Actor, *, point_id: int, now: datetime) -> PointHistory:
    """Everything the point's page shows, in a constant number of queries.

    Parameters
    ----------
    point_id : int
        The point; for a technician one of own rounds.
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
    sight = sight_of(actor)
    with store.look() as unit:
        facts, standing = point_history.point_facts(unit, sight, point_id)
        require(actor, Verb.SEE, site_id=facts.site_id)
        visits = point_history.past_visits(unit, point_id)
        used = {} if standing.criteria_id is None else criteria.criteria_by_id(unit, [standing.criteria_id])
        before, after = point_history.neighbours(unit, sight, site_id=facts.site_id, point_id=point_id)
        return PointHistory(
            facts=facts,
            standing=standing,
            visits=visits,
            cuts=point_history.cuts(unit, point_id),
            lines=_lines(used.get(standing.criteria_id or 0, DEFAULT_CRITERIA), facts, standing),
            like_parts=point_history.like_parts(unit, facts.view_id, since=_from(visits, now)),
            findings=point_history.point_findings(unit, point_id),
            planned=point_history.planned_days(unit, point_id, today=now.date()),
            before=before,
            after=after,
        )


def _from(visits: tuple[PastVisit, ...], now: datetime) -> datetime:
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
