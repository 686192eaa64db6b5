"""Working days before a day: Monday to Friday; holidays are the site's own affair."""

from datetime import date, timedelta

_SATURDAY = 5
#: Working days before a round by which its permits are asked for (own rule, no source).
PERMIT_LEAD_DAYS = 5
MOST_LEAD_DAYS = 60


def working_days_before(day: date, count: int) -> date:
    """The working day that lies so many working days before a day.

    Parameters
    ----------
    day : date
        Not counted itself.
    count : int
        At least 0; with 0 the day itself, or the Friday before it at a weekend.

    Examples
    --------
    >>> working_days_before(date(2026, 12, 8), 5)
    datetime.date(2026, 12, 1)
    """
    found = day
    while found.weekday() >= _SATURDAY:
        found -= timedelta(days=1)
    left = count
    while left > 0:
        found -= timedelta(days=1)
        left -= found.weekday() < _SATURDAY
    return found
