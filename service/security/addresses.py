"""Addresses as a log may keep them: without the secrets that stand in some."""

import re

CALENDAR = "/calendar/"
_SECRET = re.compile(rf"({CALENDAR})[^/?#\s]+")


def without_secret(address: str) -> str:
    """The address with dots for the secret of a calendar.

    Examples
    --------
    >>> without_secret("/calendar/abc.ics?x=1")
    '/calendar/…?x=1'
    """
    return _SECRET.sub(r"\1…", address)
