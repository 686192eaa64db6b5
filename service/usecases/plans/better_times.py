"""What a plan does of itself for what was carried over: a day by which a permit can be had, hours out of the sun."""

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date
from functools import lru_cache

from service.domain.load_hours import LoadHours, understood_hours
from service.domain.plan_visits import PlanSite, Visit
from service.domain.plans import PlanBody, Walk
from service.domain.rounds import needs_permit
from service.domain.sun_hours import SunHours, hours_of_sun, sun_of_day
from service.domain.words import Reason
from service.domain.working_days import PERMIT_LEAD_DAYS, working_days_before
from service.planning.crew_days import Windows
from service.usecases.plans.candidates import Ground

MIDNIGHT = 24 * 60.0
#: why a stop is put off, in place of the planner's word for the rule
NO_PERMIT_IN_TIME, IN_THE_SUN = "no permit in time", "out of the sun"


@dataclass(frozen=True, slots=True)
class Means:
    """What is asked of the planner for one visit besides its rules.

    ``hours_on`` are the hours in which work may begin and end, by day (ordinal); ``code`` is what a
    visit is put off for when these leave it no place.
    """

    needs_qualified_person: bool = False
    closed_days: frozenset[int] = frozenset()
    hours_on: Mapping[int, Windows] = field(default_factory=dict)
    code: str = ""


NO_MEANS = Means()


def means_of(visit: Visit, body: PlanBody, ground: Ground) -> Means:
    """What the cause of the last visit asks of the day and the hour.

    Notes
    -----
    A wish, not a rule: where no walk of the month could meet it, the visit is planned as any
    other and only the words say what would be better.
    """
    if visit.carried is None:
        return NO_MEANS
    walks = [walk for walk in body.walks if walk.open]
    reason = visit.carried.last.reason
    if reason is Reason.NO_QUALIFIED_PERSON and any(walk.qualified for walk in walks):
        return Means(needs_qualified_person=True)
    if reason is Reason.LOCKED and needs_permit(visit.facts.access):
        return _permit_in_time(walks, ground.today)
    if reason is Reason.WET_FOG_OR_SUN and visit.facts.outdoor:
        return _out_of_the_sun(visit, walks, ground.sites[visit.facts.site_id])
    return NO_MEANS


def _permit_in_time(walks: Collection[Walk], today: date) -> Means:
    """Days before which a permit can still be asked for."""
    late = {walk.day for walk in walks if working_days_before(walk.day, PERMIT_LEAD_DAYS) < today}
    if not late or all(walk.day in late for walk in walks):
        return NO_MEANS
    return Means(closed_days=frozenset(day.toordinal() for day in late), code=NO_PERMIT_IN_TIME)


def _out_of_the_sun(visit: Visit, walks: Collection[Walk], site: PlanSite) -> Means:
    hours = understood_hours(visit.facts.load_hours)
    shade: dict[int, Windows] = {}
    for day in sorted({walk.day for walk in walks}):
        sun = sun_hours(site, day)
        if sun is None:
            return NO_MEANS
        shade[day.toordinal()] = _met(_shade(sun), hours, day)
    if not any(_reached(walk, shade[walk.day.toordinal()], visit.facts.minutes) for walk in walks):
        return NO_MEANS
    return Means(hours_on=shade, code=IN_THE_SUN)


def sun_hours(site: PlanSite, day: date) -> SunHours | None:
    """When the sun loads what stands outdoors at a site on a day; None where its place is not on record."""
    return _sun(site.latitude, site.longitude, site.time_zone, day)


@lru_cache(maxsize=2048)
def _sun(latitude: float | None, longitude: float | None, zone: str, day: date) -> SunHours | None:
    return hours_of_sun(sun_of_day(day, latitude_deg=latitude, longitude_deg=longitude, zone=zone))


def _shade(sun: SunHours) -> Windows:
    if sun.from_min >= sun.to_min:
        return ((0.0, MIDNIGHT),)
    spans = ((0.0, sun.from_min), (sun.to_min, MIDNIGHT))
    return tuple((a, b) for a, b in spans if b > a)


def _met(shade: Windows, hours: LoadHours | None, day: date) -> Windows:
    if hours is None:
        return shade
    met = ((max(a, c), min(b, d)) for a, b in shade for c, d in hours.on(day.weekday()))
    return tuple((a, b) for a, b in met if b > a)


def _reached(walk: Walk, windows: Windows, minutes: float) -> bool:
    if walk.indoors_only:
        return False
    return any(min(b, walk.end_min) - max(a, walk.start_min) >= minutes for a, b in windows)


# ---- ran out of time -----------------------------------------------------------------------


def hurried(visits: Iterable[Visit]) -> frozenset[int]:
    """Equipment for which time ran out on its last visit."""
    return frozenset(
        visit.facts.id
        for visit in visits
        if visit.carried is not None and visit.carried.last.reason is Reason.OUT_OF_TIME
    )


def first_at_site(order: Iterable[int], site_of: Mapping[int, int], keys: Collection[int]) -> list[int]:
    """An order in which these come first among the stops in a row at their site."""
    runs: list[list[int]] = []
    for key in order:
        if runs and site_of[runs[-1][-1]] == site_of[key]:
            runs[-1].append(key)
        else:
            runs.append([key])
    return [key for run in runs for key in sorted(run, key=lambda key: key not in keys)]
