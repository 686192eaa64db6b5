"""See where the fleet stands: today, or as at an earlier day."""

from collections import Counter
from collections.abc import Callable, Collection, Sequence
from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta

import numpy as np

from service.domain.overview import MonthEnd, Moves, Overview, SiteCount, SitePicture, Strokes
from service.domain.people import Actor
from service.domain.permissions import Verb, own_rounds_only, require
from service.domain.words import PointKind
from service.storage import condition, site_strokes, standing_changes, to_decide
from service.storage.desk import Sight
from service.storage.set_aside import set_asides
from service.storage.unit import Store, Unit

YEAR = timedelta(days=365)
WORST = 5
#: how far back the thumb-sized histories reach
SPARK = timedelta(days=730)

ToDraw = Callable[[Sequence[SiteCount]], Collection[int]]


def see_overview(
    store: Store,
    actor: Actor,
    *,
    now: datetime,
    to_draw: ToDraw | None = None,
    as_at: date | None = None,
) -> Overview:
    """Everything that Standing shows, within the sites (and, for technicians, the rounds) of the actor.

    Parameters
    ----------
    to_draw : callable, optional
        Says of the sites in sight whose strokes must be read; all of them by default. Strips
        drawn before, of the same data version, need not be read again.
    as_at : date, optional
        An earlier day; then counts and strokes are those of its end, and nothing waits for a
        decision.

    Returns
    -------
    Overview
        Read in a constant number of queries; the readings themselves are asked only for the
        few points to decide first.
    """
    require(actor, Verb.SEE)
    sight = sight_of(actor)
    with store.look() as unit:
        sites = condition.site_counts(unit, sight)
        if as_at is not None and as_at < now.date():
            return _earlier(unit, sight, sites, on=as_at)
        return _today(unit, sight, sites, now=now, to_draw=to_draw)


def sight_of(actor: Actor) -> Sight:
    return Sight(actor.site_ids, actor.person_id if own_rounds_only(actor) else None)


def _today(
    unit: Unit,
    sight: Sight,
    sites: tuple[SiteCount, ...],
    *,
    now: datetime,
    to_draw: ToDraw | None,
) -> Overview:
    month, since = _months_of(sites, now.date())
    read = condition.read_since(unit, sight, _start(month))
    wanted = [site.site_id for site in sites] if to_draw is None else to_draw(sites)
    worst = to_decide.worst_points(unit, sight, limit=WORST, today=now.date())
    told = to_decide.last_tellings(
        unit, [point.finding_id for point in worst if point.finding_id is not None]
    )
    asides = set_asides(unit, [point.point_id for point in worst if point.finding_id is None])
    visits = to_decide.spark_visits(unit, [point.point_id for point in worst], since=now - SPARK)
    return Overview(
        on=now.date(),
        month=month,
        since=since,
        sites=tuple(replace(site, read=read.get(site.site_id, 0)) for site in sites),
        strokes=site_strokes.strokes(unit, sight, site_ids=wanted, repaired_since=now - YEAR),
        worst=tuple(
            replace(
                point,
                told_whom=told.get(point.finding_id or 0, ("", None))[0],
                told_at=told.get(point.finding_id or 0, ("", None))[1],
                aside=asides.get(point.point_id) if point.finding_id is None else None,
                visits=visits.get(point.point_id, ()),
            )
            for point in worst
        ),
        overdue=to_decide.overdue_findings(unit, sight, now=now, limit=WORST),
        moves=_moves(unit, sight, since=since, until=now.date()),
        months=_month_ends(unit, sight, now.date()),
    )


def _months_of(sites: tuple[SiteCount, ...], today: date) -> tuple[date, date]:
    """First day of the month of the latest reading, and the day before it."""
    latest = max((site.last_read_at.date() for site in sites if site.last_read_at), default=today)
    month = min(latest, today).replace(day=1)
    return month, month - timedelta(days=1)


def _start(day: date) -> datetime:
    return datetime.combine(day, time(), UTC)


def _moves(unit: Unit, sight: Sight, *, since: date, until: date) -> Moves:
    outcomes = standing_changes.repair_outcomes(unit, sight, since=_start(until) - YEAR)
    proven = {
        point
        for point, _, outcome, at in outcomes
        if outcome == "proven" and at is not None and since < at.date() <= until
    }
    up, down = Counter[PointKind](), Counter[PointKind]()
    after_repair = 0
    for point, kind, was, level in standing_changes.standing_moves(unit, sight, after=since, until=until):
        if (level or 0) > (was or 0):
            up[kind] += 1
        elif level is not None and was is not None and level < was:
            down[kind] += 1
            after_repair += point in proven
    read_again = [outcome for _, _, outcome, at in outcomes if at is not None and at.date() <= until]
    return Moves(
        up=dict(up),
        down=dict(down),
        down_after_repair=after_repair,
        awaiting_proof=dict(Counter(site for _, site, outcome, _ in outcomes if outcome is None)),
        repairs_read_again=len(read_again),
        repairs_held=read_again.count("proven"),
    )


def _month_ends(unit: Unit, sight: Sight, today: date) -> tuple[MonthEnd, ...]:
    """The last eleven month-ends; the twelfth column is now. Not told of somebody's own rounds only."""
    if sight.person_id is not None:
        return ()
    last = today.replace(day=1) - timedelta(days=1)
    first = date(last.year - 1, last.month, 1) + timedelta(days=31)
    return standing_changes.month_ends(unit, sight, first=f"{first:%Y-%m}", last=f"{last:%Y-%m}")


def _earlier(unit: Unit, sight: Sight, sites: tuple[SiteCount, ...], *, on: date) -> Overview:
    """Counts and strokes as they were at the end of a day, from the changes kept since."""
    then = standing_changes.standings_at(unit, sight, on)
    year_before = standing_changes.standings_at(unit, sight, on - YEAR)
    ids = [site.site_id for site in sites]
    today = site_strokes.strokes(unit, sight, site_ids=ids, repaired_since=_start(on) - YEAR)
    strokes = {site_id: _as_of(drawn, then, year_before) for site_id, drawn in today.items()}
    month = on.replace(day=1)
    return Overview(
        on=on,
        month=month,
        since=month - timedelta(days=1),
        sites=tuple(_counted(site, strokes.get(site.site_id)) for site in sites),
        strokes=strokes,
        worst=(),
        overdue=(),
        moves=_moves(unit, sight, since=month - timedelta(days=1), until=on),
        months=_month_ends(unit, sight, on),
    )


Standings = dict[int, tuple[int | None, float | None]]


def _as_of(drawn: Strokes, then: Standings, before: Standings) -> Strokes:
    points = drawn.point_ids.tolist()
    standing = [then.get(point, (None, None)) for point in points]
    return replace(
        drawn,
        levels=np.array([-1 if level is None else level for level, _ in standing], dtype=np.int64),
        now=np.array([height for _, height in standing], dtype=np.float64),
        then=np.array([before.get(point, (None, None))[1] for point in points], dtype=np.float64),
        # a height is kept only when a level changes: of a calm point it is no rise of that day
        steady=np.array([not level for level, _ in standing], dtype=np.bool_),
        pending=np.zeros(len(points), dtype=np.bool_),
    )


def _counted(site: SiteCount, strokes: Strokes | None) -> SiteCount:
    if strokes is None:
        return replace(site, last_read_at=None)
    n0, n1, n2, n3, n4 = (int((strokes.levels == level).sum()) for level in range(5))
    silent = int((strokes.levels < 0).sum())
    return replace(site, levels=(n0, n1, n2, n3, n4), no_verdict=silent, last_read_at=None)


def see_site(store: Store, actor: Actor, *, site_id: int, now: datetime) -> SitePicture:
    """One site with every point in walking order.

    Raises
    ------
    NotFound
        No such site, or out of sight.
    """
    require(actor, Verb.SEE, site_id=site_id)
    sight = sight_of(actor)
    with store.look() as unit:
        site = condition.site_count(unit, sight, site_id)
        drawn = site_strokes.strokes(unit, sight, site_ids=[site_id], repaired_since=now - YEAR)
        points = tuple(site_strokes.site_points(unit, sight, site_id))
    empty = np.array([], dtype=np.float64)
    none = Strokes(
        empty.astype(np.int64), empty.astype(np.int64), empty, empty, empty.astype(np.bool_),
        empty.astype(np.bool_), empty.astype(np.bool_), (), (),
    )  # fmt: skip
    return SitePicture(site, drawn.get(site_id, none), points)
