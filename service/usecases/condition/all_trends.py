"""Work the trends of whole sites out again: put as jobs, watched, stopped."""

from dataclasses import dataclass
from datetime import datetime

from service.domain.jobs import JobKind
from service.domain.people import Actor
from service.domain.permissions import Verb, require
from service.storage import audit, jobs, trend_series
from service.storage.unit import Store, Unit
from service.trends.policy import METHOD

#: Jobs of whole sites carry this at the beginning of their key.
WHOLE_SITE = f"{JobKind.ASSESS_TRENDS} of site "


@dataclass(frozen=True, slots=True)
class TrendsProgress:
    """How far the trends of all points are: sites that wait, points told by this rule, and by others."""

    waiting: int
    told: int
    told_by_others: int

    @property
    def sentence(self) -> str:
        total = self.told + self.told_by_others
        if not total:
            return "No point has been read yet."
        done = f"{self.told} of {total} points have their trend by {METHOD}"
        if self.waiting:
            return f"{done}; {self.waiting} sites wait."
        return f"{done}." + (" Put the others again with --again." if self.told_by_others else "")


def put_trends(store: Store, *, now: datetime, every: bool = False) -> int:
    """Put a job for each site whose trends were told by another rule, or for every site.

    Returns
    -------
    int
        How many sites. One that waits already is not put twice; what is known of a point stays
        until its site's job has told it anew, and levels that change are kept with their day.
    """
    with store.begin() as unit:
        sites = trend_series.sites_told_otherwise(unit, None if every else METHOD)
        for site_id in sites:
            _put(unit, site_id, now=now)
    return len(sites)


def _put(unit: Unit, site_id: int, *, now: datetime) -> None:
    key = f"{WHOLE_SITE}{site_id}"
    jobs.put(unit, JobKind.ASSESS_TRENDS, {"site_id": site_id}, now=now, dedupe_key=key)


def ask_trends(store: Store, actor: Actor, *, now: datetime) -> int:
    """Put a job for each site in sight that was read, as `put_trends` does for all.

    Returns
    -------
    int
        How many sites.

    Raises
    ------
    Forbidden
        This is not the role's.
    """
    require(actor, Verb.KEEP_REGISTER)
    with store.begin() as unit:
        sites = [site for site in trend_series.sites_told_otherwise(unit, None) if actor.sees_site(site)]
        for site_id in sites:
            _put(unit, site_id, now=now)
        after = {"sites": len(sites)}
        audit.note(unit, actor, verb="tell anew", noun="trends", noun_id=0, now=now, after=after)
    return len(sites)


def stop_asked(store: Store, actor: Actor, *, now: datetime) -> int:
    """Take back the jobs of sites in sight that nobody has begun; how many those were.

    Raises
    ------
    Forbidden
        This is not the role's.
    """
    require(actor, Verb.KEEP_REGISTER)
    with store.begin() as unit:
        sites = [site for site in trend_series.sites_told_otherwise(unit, None) if actor.sees_site(site)]
        stopped = sum(jobs.take_back_one(unit, f"{WHOLE_SITE}{site_id}") for site_id in sites)
        audit.note(unit, actor, verb="stop", noun="trends", noun_id=0, now=now, after={"sites": stopped})
    return stopped


def see_asked(store: Store, actor: Actor) -> int:
    """How many sites in sight wait to be told anew."""
    with store.look() as unit:
        sites = [site for site in trend_series.sites_told_otherwise(unit, None) if actor.sees_site(site)]
        waiting = jobs.keys_waiting(unit, WHOLE_SITE)
    return sum(f"{WHOLE_SITE}{site_id}" in waiting for site_id in sites)


def stop_trends(store: Store) -> int:
    """Take back the jobs of whole sites that nobody has begun; how many those were."""
    with store.begin() as unit:
        return jobs.take_back(unit, WHOLE_SITE)


def see_progress(store: Store) -> TrendsProgress:
    with store.look() as unit:
        told, others = trend_series.told_by(unit, METHOD)
        return TrendsProgress(jobs.waiting_with_key(unit, WHOLE_SITE), told, others)
