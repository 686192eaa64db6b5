"""Public holidays of a country or a part of it, as published lists have them; no network is asked."""

import re
from collections.abc import Mapping
from datetime import date
from functools import lru_cache
from types import MappingProxyType

from service.errors import Problem

#: ISO 3166-1 alpha-2, or ISO 3166-2: country, hyphen, up to three letters or figures
_CODE = re.compile(r"([A-Z]{2})(?:-([A-Z0-9]{1,3}))?")
#: whether a code is known does not hang on the year
ANY_YEAR = 2026
_ENGLISH = ("en_GB", "en_US")
REMEDY = "Type an ISO 3166 code such as GB, GB-SCT or DE-BY, or leave it empty."


@lru_cache(maxsize=500)
def _of_year(code: str, year: int) -> Mapping[date, str] | None:
    """The holidays of one year; None for a code that names no country or part.

    A list of its own for each year: one that grows as it is asked would be read half-grown by another thread.
    """
    # a third of a second that only those pay who ask
    import holidays

    found = _CODE.fullmatch(code)
    if found is None:
        return None
    country, part = found.groups()
    try:
        plain = holidays.country_holidays(country)
    except NotImplementedError:  # so the library says that it has no such country
        return None
    # the library also answers to names that ISO 3166 does not have, such as UK
    if plain.country != country or (part is not None and part not in plain.subdivisions):
        return None
    language = next((one for one in _ENGLISH if one in plain.supported_languages), plain.default_language)
    listed = holidays.country_holidays(country, subdiv=part, years=year, language=language)
    return MappingProxyType({day: str(name) for day, name in listed.items()})


def is_known(code: str) -> bool:
    """True for a code whose holidays are on record.

    Examples
    --------
    >>> is_known("GB-SCT"), is_known("GB-XX"), is_known("Scotland")
    (True, False, False)
    """
    return _of_year(code, ANY_YEAR) is not None


def public_holiday(code: str, day: date) -> str:
    """The name of the public holiday of a day; empty when it is none, or the code is empty or unknown.

    Parameters
    ----------
    code : str
        ISO 3166-1 alpha-2 country, or ISO 3166-2 part of one.
    day : date
        The day.

    Notes
    -----
    Bank holidays only, as the published lists name them: a day that one trade or one town has is not
    among them, and of years to come only those are known that a rule or a law has fixed by now.

    Examples
    --------
    >>> public_holiday("GB-ENG", date(2026, 12, 25)), public_holiday("", date(2026, 12, 25))
    ('Christmas Day', '')
    """
    known = _of_year(code, day.year) if code else None
    return "" if known is None else known.get(day, "")


def public_holidays(code: str, *, first: date, last: date) -> tuple[tuple[date, str], ...]:
    """Days and names of the holidays of a span, both ends included; none for an unknown code."""
    years = range(first.year, last.year + 1)
    listed = [item for year in years for item in (_of_year(code, year) or {}).items()]
    return tuple(sorted((day, name) for day, name in listed if first <= day <= last))


def code_problem(code: str, *, field: str) -> Problem | None:
    """What is wrong with a code as it was typed; None for one that is known, and for none at all."""
    if not code or is_known(code):
        return None
    return Problem("form", field, code[:20], "No public holidays are on record under this code.", REMEDY)
