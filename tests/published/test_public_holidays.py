"""Public holidays against laws and against an independent reckoning of Easter."""

from datetime import date, timedelta

import pytest

from service.domain.public_holidays import is_known, public_holiday, public_holidays
from tests.published.evidence import MEMORY, PUBLISHED, evidence

EASTER = "Meeus, Astronomical Algorithms, ch. 8 (Butcher's rule)"
ACT = "Banking and Financial Dealings Act 1971"


def easter(year: int) -> date:
    """Easter Sunday of a Gregorian year."""
    golden, (century, rest) = year % 19, divmod(year, 100)
    leaps, left = divmod(century, 4)
    moon = (century - (century + 8) // 25 + 1) // 3
    epact = (19 * golden + century - leaps - moon + 15) % 30
    week = (32 + 2 * left + 2 * (rest // 4) - epact - rest % 4) % 7
    late = (golden + 11 * epact + 22 * week) // 451
    month, day = divmod(epact + week - 7 * late + 114, 31)
    return date(year, month, day + 1)


@pytest.mark.parametrize(
    ("year", "month", "day"), [(1991, 3, 31), (1992, 4, 19), (1993, 4, 11), (1954, 4, 18)]
)
@evidence(EASTER, "worked dates", PUBLISHED)
def test_the_rule_for_easter_gives_its_own_examples(year: int, month: int, day: int) -> None:
    assert easter(year) == date(year, month, day)


def days_of(code: str, year: int) -> set[date]:
    return {day for day, _ in public_holidays(code, first=date(year, 1, 1), last=date(year, 12, 31))}


@pytest.mark.parametrize("year", range(2024, 2031))
@evidence(EASTER, "Good Friday and Easter Monday", PUBLISHED)
def test_easter_of_england(year: int) -> None:
    sunday = easter(year)
    assert public_holiday("GB-ENG", sunday - timedelta(days=2)) == "Good Friday"
    assert public_holiday("GB-ENG", sunday + timedelta(days=1)) == "Easter Monday"
    assert public_holiday("GB-SCT", sunday + timedelta(days=1)) == ""


@pytest.mark.parametrize("year", range(2024, 2031))
@evidence(EASTER, "Ascension, Whit Monday, Corpus Christi", PUBLISHED)
def test_feasts_of_bavaria_that_go_by_easter(year: int) -> None:
    sunday = easter(year)
    for after in (39, 50, 60):
        assert public_holiday("DE-BY", sunday + timedelta(days=after)) != ""


@evidence(ACT, "Schedule 1: last Monday of May and of August", PUBLISHED)
def test_last_mondays_of_may_and_august_in_england() -> None:
    for year in range(2024, 2031):
        for month in (5, 8):
            last = date(year, month, 31)
            monday = last - timedelta(days=last.weekday())
            assert monday in days_of("GB-ENG", year)


@evidence("the United Kingdom's list of bank holidays of 2026", "England and Wales", MEMORY)
def test_bank_holidays_of_england_in_2026() -> None:
    listed = {(1, 1), (4, 3), (4, 6), (5, 4), (5, 25), (8, 31), (12, 25), (12, 28)}
    weekdays = {day for day in days_of("GB-ENG", 2026) if day.weekday() < 5}
    assert weekdays == {date(2026, month, day) for month, day in listed}


@pytest.mark.parametrize("code", ["GB", "GB-SCT", "DE", "DE-BY", "US-AK", "FR", "JP", "CH-ZH"])
@evidence("ISO 3166-1 and -2", "codes", MEMORY)
def test_a_code_of_iso_3166_is_known(code: str) -> None:
    assert is_known(code)


@pytest.mark.parametrize(
    "code", ["", "UK", "GBR", "gb", "GB-", "GB-XX", "DE-AUGSBURG", "XX", "England", "GB\n"]
)
@evidence("ISO 3166-1 and -2", "what is none of its codes", MEMORY)
def test_what_is_no_code_of_iso_3166_is_not_known(code: str) -> None:
    assert not is_known(code)
    assert public_holiday(code, date(2026, 12, 25)) == ""
