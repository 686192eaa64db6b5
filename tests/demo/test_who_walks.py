"""Who walks when in the demonstration: hours, a course, a holiday and a closed gate in the coming month."""

from datetime import date, timedelta

from sqlalchemy import select

from service.domain.planning import WalkPart
from service.storage.tables.register import SiteRow
from service.storage.unit import Store
from service.storage.walking_hours import closures_between
from service.usecases.plans.working_days import working_days
from tests.conftest import NOW

FIRST = (NOW.date().replace(day=1) + timedelta(days=32)).replace(day=1)
LAST = FIRST + timedelta(days=27)


def test_the_coming_month_has_three_who_walk_and_days_that_are_taken(demo_store: Store) -> None:
    with demo_store.look() as unit:
        sites = list(unit.session.scalars(select(SiteRow.id)))
        client_id = unit.session.scalars(select(SiteRow.client_id)).first() or 0
        days = working_days(unit, client_id=client_id, site_ids=sites, first=FIRST, last=LAST)
        closed = closures_between(unit, sites, from_on=FIRST, to_on=LAST)
    parts = {day.name: day.part for day in days}
    assert parts == {
        "A. Quill": WalkPart.READS,
        "T. Marsh": WalkPart.READS,
        "R. Amsel": WalkPart.GOES_ALONG,
    }
    reasons = {day.why_not.partition(":")[0] for day in days if day.free}
    assert {"on leave", "no hours on a Sunday"} <= reasons
    assert all(day.site_ids == frozenset(sites) for day in days)
    (one,) = closed
    assert (one.to_on - one.from_on).days == 2
    assert date(FIRST.year, FIRST.month, 15) <= one.from_on
