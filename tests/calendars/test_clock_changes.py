"""A round in a calendar on the days and nights on which the clock of its site is changed."""

from datetime import UTC, date, datetime, timedelta

import pytest
from icalendar import Calendar

from service.reports.calendar import calendar_file
from service.storage.unit import Store
from service.usecases.calendars.read_calendar import read_round_calendar
from service.usecases.rounds.plan import RoundWish, plan_round
from service.usecases.rounds.timetable import read_day
from tests.builders import build_plant

NOW = datetime(2026, 1, 5, 9, 0, tzinfo=UTC)
#: day, start on the clock of London, the same in UTC
DAYS = (
    (date(2026, 3, 28), 7 * 60, "07:00"),
    (date(2026, 3, 29), 7 * 60, "06:00"),
    (date(2026, 10, 24), 7 * 60, "06:00"),
    (date(2026, 10, 25), 7 * 60, "07:00"),
    (date(2026, 3, 29), 30, "00:30"),
    (date(2026, 10, 25), 0, "23:00"),
)


@pytest.mark.parametrize(("day", "start_min", "utc"), DAYS)
def test_a_round_begins_by_the_clock_of_its_site_and_lasts_as_long_as_its_timetable(
    store: Store, day: date, start_min: int, utc: str
) -> None:
    plant = build_plant(store, boards=12)
    wish = RoundWish(
        name="Night", planned_on=day, start_min=start_min, equipment_ids=tuple(plant.equipment_ids)
    )
    round_ = plan_round(store, plant.actor(), wish, now=NOW)
    calendar = read_round_calendar(store, plant.actor(), round_.id)
    (event,) = Calendar.from_ical(calendar_file(calendar, base="https://x.example/")).walk("VEVENT")
    lasts_min = read_day(store, plant.actor(), round_.id, now=NOW).plan.back_by_min - start_min
    assert f"{event['dtstart'].dt:%H:%M}" == utc
    assert event["dtend"].dt - event["dtstart"].dt == timedelta(minutes=round(lasts_min))
    assert lasts_min > 60
