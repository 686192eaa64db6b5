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


def asked_when(day: date, *, today: date | None = None) -> str:
    """When a site is asked for what a visit on a day needs, in words for a clause.

    Parameters
    ----------
    day : date
        Of the visit.
    today : date, optional
        Where the working day for asking lies before it, the words say at once.

    Examples
    --------
    >>> asked_when(date(2026, 12, 8), today=date(2026, 11, 28))
    'by 1 Dec'
    >>> asked_when(date(2026, 12, 8), today=date(2026, 12, 2))
    'at once (asking was due 1 Dec)'
    """
    due = working_days_before(day, PERMIT_LEAD_DAYS)
    told = f"{due.day} {due:%b}"
    return f"by {told}" if today is None or today <= due else f"at once (asking was due {told})"
