"""Dates, clocks and spans of time as people write them."""

from datetime import date, datetime, tzinfo
from zoneinfo import ZoneInfo

from service.pages.view.numbers import NONE, THIN
from service.pages.view.words import counted

MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
LONG_MONTHS = (
    "January",
    "February",
    "March",
    "April",
    "May",
    "June",
    "July",
    "August",
    "September",
    "October",
    "November",
    "December",
)
WEEKDAYS = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")


def local(moment: datetime, zone: str | tzinfo = "UTC") -> datetime:
    """A stored moment on the site's clock."""
    return moment.astimezone(ZoneInfo(zone) if isinstance(zone, str) else zone)


def day(value: date | datetime | None, zone: str | tzinfo = "UTC") -> str:
    """17 Nov 2026."""
    if value is None:
        return NONE
    if isinstance(value, datetime) and value.tzinfo is not None:
        value = local(value, zone)
    return f"{value.day} {MONTHS[value.month - 1]} {value.year}"


def short_day(value: date | datetime | None, zone: str | tzinfo = "UTC") -> str:
    """17 Nov."""
    return day(value, zone).rsplit(" ", 1)[0]


def long_day(value: date) -> str:
    """Tuesday 8 December 2026."""
    return f"{WEEKDAYS[value.weekday()]} {value.day} {LONG_MONTHS[value.month - 1]} {value.year}"


def long_month_day(value: date) -> str:
    """31 October."""
    return f"{value.day} {LONG_MONTHS[value.month - 1]}"


def month(value: date) -> str:
    """November 2026."""
    return f"{LONG_MONTHS[value.month - 1]} {value.year}"


def short_month(value: str) -> str:
    """Nov 2026, from "2026-11"."""
    year, number_of_month = value.split("-")
    return f"{MONTHS[int(number_of_month) - 1]} {year}"


def day_range(first: date | None, last: date | None) -> str:
    """7 Feb to 17 May 2027: the year is said once when it is one."""
    if first is None or last is None:
        return NONE
    if first == last:
        return day(first)
    return f"{short_day(first) if first.year == last.year else day(first)} to {day(last)}"


def clock(value: datetime | None, zone: str | tzinfo = "UTC") -> str:
    """08:33."""
    return NONE if value is None else f"{local(value, zone) if value.tzinfo else value:%H:%M}"


def moment(value: datetime | None, zone: str | tzinfo = "UTC") -> str:
    """17 Nov 2026, 08:33."""
    return NONE if value is None else f"{day(value, zone)}, {clock(value, zone)}"


def minutes(value: float | None) -> str:
    """44 min, 4 h, 4 h 20."""
    if value is None:
        return NONE
    hours, rest = divmod(round(value), 60)
    if not hours:
        return f"{rest}{THIN}min"
    return f"{hours}{THIN}h{THIN}{rest:02d}" if rest else f"{hours}{THIN}h"


def span(first: date, last: date) -> str:
    """How long between two days, roughly: 12 days, 7 weeks, 20 months, 3 years."""
    days = abs((last - first).days)
    if days < 21:
        return counted(days, "day")
    if days < 90:
        return counted(round(days / 7), "week")
    months = round(days / 30.44)
    return counted(months, "month") if months < 36 else counted(round(days / 365.25), "year")
