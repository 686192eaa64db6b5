"""Work the trends of whole sites out again: put as jobs, watched, stopped."""

from dataclasses import dataclass
from datetime import datetime

from service.domain.jobs import JobKind
from service.storage import jobs, trend_series
from service.storage.unit import Store
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
            jobs.put(
                unit,
                JobKind.ASSESS_TRENDS,
                {"site_id": site_id},
                now=now,
                dedupe_key=f"{WHOLE_SITE}{site_id}",
            )
    return len(sites)


def stop_trends(store: Store) -> int:
    """Take back the jobs of whole sites that nobody has begun; how many those were."""
    with store.begin() as unit:
        return jobs.take_back(unit, WHOLE_SITE)


def see_progress(store: Store) -> TrendsProgress:
    with store.look() as unit:
        told, others = trend_series.told_by(unit, METHOD)
        return TrendsProgress(jobs.waiting_with_key(unit, WHOLE_SITE), told, others)
