"""Who can walk on which day of a span, and why not on the others."""

from collections.abc import Collection
from datetime import date, timedelta

from service.domain.planning import Absence, WalkPart, WorkingDay, hours_unless_told
from service.domain.walking_hours import working_day
from service.storage import walking_hours, walking_parties
from service.storage.unit import Unit

ONE_DAY = timedelta(days=1)


def working_days(
    unit: Unit, *, client_id: int, site_ids: Collection[int], first: date, last: date
) -> tuple[WorkingDay, ...]:
    """Every day of everybody who walks for a client at one of these sites at least.

    Parameters
    ----------
    unit : Unit
        Open for reading.
    client_id : int
        Whose sites they are; it is known to be in sight.
    site_ids : collection of int
        Sites of that client. Somebody whose grants reach none of them is left out, and each day
        names those that are reached.
    first, last : date
        The span, both included.

    Returns
    -------
    tuple of WorkingDay
        By name of the person, then by day, free days with the reason in words.

    Notes
    -----
    Of whom nothing is on record, a technician reads at the default hours and an engineer does
    not walk (`hours_unless_told`).
    """
    reached = walking_parties.sites_reached(unit, site_ids, client_id=client_id)
    walkers = [
        walker
        for walker in walking_parties.walkers_for(unit, (), client_id=client_id)
        if reached.get(walker.id)
    ]
    kept = walking_hours.walking_hours_of(unit, reached)
    absent = walking_hours.absences_between(unit, reached, from_on=first, to_on=last)
    days = [first + ONE_DAY * step for step in range((last - first).days + 1)]
    found = []
    for walker in walkers:
        hours = kept.get(walker.id) or hours_unless_told(walker.id, walker.role)
        if hours.part is WalkPart.NONE:
            continue
        own = _of(absent, walker.id)
        found += [
            working_day(walker, hours, day=day, absences=own, site_ids=reached[walker.id]) for day in days
        ]
    return tuple(found)


def _of(absences: tuple[Absence, ...], person_id: int) -> tuple[Absence, ...]:
    return tuple(absence for absence in absences if absence.person_id == person_id)
