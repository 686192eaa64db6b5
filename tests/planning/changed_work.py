"""Work as it would be with other hours, company or closures."""

from collections.abc import Sequence
from dataclasses import replace

from service.planning.crew_days import CrewDay, Pin, Work
from service.planning.ways import TENTHS, tenths


def change_hours(work: Work, minutes: float) -> Work:
    """So many minutes more (or less) in all, shared by the open crew days at their ends [min]."""
    open_days = [day for day in work.crew_days if not day.frozen]
    if not open_days:
        return work
    share = tenths(minutes / len(open_days)) / TENTHS
    return replace(work, crew_days=[_lengthened(day, share) for day in work.crew_days])


def _lengthened(day: CrewDay, minutes: float) -> CrewDay:
    return day if day.frozen else replace(day, end_min=max(day.end_min + minutes, day.start_min))


def add_qualified_person(work: Work, crew_days: Sequence[int]) -> Work:
    """A qualified person joins on those crew days."""
    return replace(
        work,
        crew_days=[
            replace(day, has_qualified_person=True) if day.key in crew_days else day for day in work.crew_days
        ],
    )


def close_site(work: Work, site: int, *, days: Sequence[int]) -> Work:
    """A site is closed to every crew on those days."""
    return replace(
        work,
        crew_days=[
            replace(day, closed_sites=day.closed_sites | {site}) if day.day in days else day
            for day in work.crew_days
        ],
    )


def pin_visit(work: Work, key: int, *, pin: Pin | None) -> Work:
    """Pin a visit to a crew day, or set it free."""
    return replace(
        work,
        candidates=[replace(one, pin=pin) if one.key == key else one for one in work.candidates],
    )
