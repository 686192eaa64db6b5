"""What somebody's hours, absences and public holidays make of one day."""

from collections.abc import Collection, Iterable
from datetime import date

from service.domain.load_hours import MIDNIGHT, LoadHours, parse_load_hours
from service.domain.planning import Absence, WalkingHours, WorkingDay
from service.domain.public_holidays import public_holiday
from service.domain.walking_parties import Walker

_NAMES = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")


def runs_over_midnight(hours: LoadHours) -> bool:
    """True when hours end at midnight and go on from there: a round is walked within one day.

    Examples
    --------
    >>> runs_over_midnight(parse_load_hours("mon-thu 22:00-06:00"))
    True
    """
    following = (*hours.by_day[1:], hours.by_day[0])
    return any(
        today and after and today[-1][1] == MIDNIGHT and after[0][0] == 0
        for today, after in zip(hours.by_day, following, strict=True)
    )


def working_day(
    walker: Walker,
    hours: WalkingHours,
    *,
    day: date,
    absences: Iterable[Absence],
    site_ids: Collection[int],
) -> WorkingDay:
    """One day of somebody who walks.

    Parameters
    ----------
    walker : Walker
        Who.
    hours : WalkingHours
        Theirs, with the place they start from and whose public holidays they have.
    day : date
        The day.
    absences : iterable of Absence
        Theirs.
    site_ids : collection of int
        Sites they may be sent to.
    """
    windows = _windows(hours, day)
    why_not = why_free(hours, day, absences=absences)
    valid = (category for category, last in walker.certificates if day <= last)
    return WorkingDay(
        day=day,
        person_id=walker.id,
        name=walker.name,
        part=hours.part,
        qualified=walker.qualified,
        category=max(valid, default=0),
        start_min=0 if why_not else windows[0][0],
        end_min=0 if why_not else windows[-1][1],
        start_place=hours.start_place,
        start_latitude=hours.start_latitude,
        start_longitude=hours.start_longitude,
        site_ids=frozenset(site_ids),
        why_not=why_not,
    )


def why_free(hours: WalkingHours, day: date, *, absences: Iterable[Absence]) -> str:
    """Why somebody does not walk on a day, in words; empty when they do.

    A weekday without hours is told before an absence and an absence before a holiday: the first
    of them is what somebody who plans cannot talk about.
    """
    if not _windows(hours, day):
        return f"no hours on a {_NAMES[day.weekday()]}"
    for absence in absences:
        if absence.covers(day):
            return f"on leave: {absence.note}" if absence.note else "on leave"
    holiday = public_holiday(hours.holidays_of, day)
    return f"public holiday: {holiday} (holidays of {hours.holidays_of})" if holiday else ""


def _windows(hours: WalkingHours, day: date) -> tuple[tuple[int, int], ...]:
    known = parse_load_hours(hours.hours)
    return () if known is None else known.on(day.weekday())
