"""Days as people write them."""

from datetime import date
from functools import lru_cache


@lru_cache(maxsize=1024)
def day_words(day: date) -> str:
    """A day with its month in letters, so that nobody takes the one for the other.

    Points are read many on a day, and writing a day out takes longer than working one out.

    Examples
    --------
    >>> day_words(date(2026, 10, 7))
    '7 Oct 2026'
    """
    return f"{day.day} {day:%b %Y}"
