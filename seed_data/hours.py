"""Who walks when at the invented utility, and what of the coming month is taken: a course, a closed gate."""

from datetime import date, datetime, timedelta

from seed_data.people import ENGINEER, TECHNICIANS
from seed_data.walking import Ground
from service.domain.planning import WalkingHours, WalkPart
from service.usecases.plans.walkers import add_absence, add_closure, set_walking_hours

QUILL, MARSH = TECHNICIANS
#: both technicians set out from the works, where the vans stand
DEPOT, LATITUDE, LONGITUDE = "Wendlebrook works", 54.61, -2.71
HOURS = (
    (QUILL, WalkPart.READS, "mon-fri 07:30-15:30"),
    (MARSH, WalkPart.READS, "mon-thu 07:30-16:15; fri 07:30-12:30"),
    (ENGINEER, WalkPart.GOES_ALONG, "tue-thu 08:30-15:00"),
)
HOLIDAYS = "GB-ENG"
#: whose gate is closed for a while, where the world has it
CLOSED, REASON = "LUT", "Intake screens are changed (invented)"
TUESDAY, THURSDAY = 1, 3


def say_who_walks(ground: Ground, *, today: date, now: datetime) -> None:
    """Hours of everybody who walks, and in the coming month a course and a closed site."""
    ids = {login: actor.person_id or 0 for login, actor in ground.actors.items()}
    for login, part, hours in HOURS:
        wanted = WalkingHours(
            person_id=ids[login],
            part=part,
            hours=hours,
            start_place=DEPOT,
            start_latitude=LATITUDE,
            start_longitude=LONGITUDE,
            holidays_of=HOLIDAYS,
        )
        set_walking_hours(ground.store, ground.engineer, wanted, version=0, now=now)
    month = (today.replace(day=1) + timedelta(days=32)).replace(day=1)
    first = weekday_from(month.replace(day=8), THURSDAY)
    last = first + timedelta(days=1)
    note = "course (invented)"
    add_absence(ground.store, ground.engineer, ids[MARSH], from_on=first, to_on=last, note=note, now=now)
    if CLOSED in ground.site_ids:
        first = weekday_from(month.replace(day=15), TUESDAY)
        last = first + timedelta(days=2)
        site = ground.site_ids[CLOSED]
        add_closure(ground.store, ground.engineer, site, from_on=first, to_on=last, reason=REASON, now=now)


def weekday_from(day: date, weekday: int) -> date:
    """The first such weekday on or after a day."""
    return day + timedelta(days=(weekday - day.weekday()) % 7)
