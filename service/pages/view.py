"""The one place where numbers become words and units, for pages, sheets and charts' labels."""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, tzinfo
from zoneinfo import ZoneInfo

from service.domain.words import NO_VERDICT, Level, PointKind, Trend
from service.errors import Problem

#: between a number and its unit, so that the two never part at a line's end
THIN = "\u00a0"
MINUS = "−"
NONE = "–"
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
SMALL_NUMBERS = (
    "no",
    "one",
    "two",
    "three",
    "four",
    "five",
    "six",
    "seven",
    "eight",
    "nine",
    "ten",
    "eleven",
    "twelve",
)


# ---- numbers -------------------------------------------------------------------------------


def number(value: float | None, digits: int = 1) -> str:
    """11.4, with a true minus sign and never "−0.0"; a dash for nothing."""
    if value is None or value != value:
        return NONE
    text = f"{value:.{digits}f}"
    if float(text) == 0:
        text = text.lstrip("-")
    return text.replace("-", MINUS)


def signed(value: float | None, digits: int = 1) -> str:
    """+0.9 or −0.9."""
    text = number(value, digits)
    return text if text == NONE or text.startswith(MINUS) or float(text) == 0 else f"+{text}"


def with_unit(value: float | None, unit: str, *, digits: int = 1) -> str:
    text = number(value, digits)
    return text if text == NONE else f"{text}{THIN}{unit}"


def kelvin(value: float | None, digits: int = 1) -> str:
    return with_unit(value, "K", digits=digits)


def kelvin_with_u(value: float | None, u: float | None = None) -> str:
    """11.4 ± 1.4 K; U is printed only where it is known."""
    if value is None or u is None:
        return kelvin(value)
    return f"{number(value)} ± {number(u)}{THIN}K"


def kelvin_range(low: float | None, high: float | None, digits: int = 1) -> str:
    if low is None or high is None:
        return NONE
    return f"{number(low, digits)} to {number(high, digits)}{THIN}K"


def line_value(value: float | None) -> str:
    """An action line as its source prints it: 15 K, 3.5 K."""
    if value is None:
        return NONE
    return kelvin(value, 0 if float(value).is_integer() else 1)


def celsius(value: float | None, digits: int = 1) -> str:
    return with_unit(value, "°C", digits=digits)


def amps(value: float | None) -> str:
    return with_unit(value, "A", digits=0 if value is None or abs(value) >= 10 else 1)


def percent(ratio: float | None, digits: int = 0) -> str:
    """A share of one as per cent: 0.71 is 71 %."""
    return with_unit(None if ratio is None else ratio * 100, "%", digits=digits)


def thousands(value: int) -> str:
    """20 000 with a gap that does not break; four digits stay together."""
    return str(value) if abs(value) < 10_000 else f"{value:,}".replace(",", THIN)


# ---- dates and times -----------------------------------------------------------------------


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


def minute_of_day(value: float) -> str:
    """515 minutes after midnight is 08:35."""
    hours, rest = divmod(round(value), 60)
    return f"{hours % 24:02d}:{rest:02d}"


def span(first: date, last: date) -> str:
    """How long between two days, roughly: 12 days, 7 weeks, 20 months, 3 years."""
    days = abs((last - first).days)
    if days < 21:
        return counted(days, "day")
    if days < 90:
        return counted(round(days / 7), "week")
    months = round(days / 30.44)
    return counted(months, "month") if months < 36 else counted(round(days / 365.25), "year")


# ---- words ---------------------------------------------------------------------------------


def plural(noun: str) -> str:
    if noun.endswith("y") and noun[-2:-1] not in "aeiou":
        return f"{noun[:-1]}ies"
    return f"{noun}es" if noun.endswith(("s", "ch", "sh")) else f"{noun}s"


def counted(value: int, noun: str, many: str = "") -> str:
    """1 point, 2 points, 0 points."""
    return f"{thousands(value)}{THIN}{noun if value == 1 else many or plural(noun)}"


def number_word(value: int) -> str:
    """Two rather than 2, up to twelve; for sentences."""
    return SMALL_NUMBERS[value] if 0 <= value < len(SMALL_NUMBERS) else thousands(value)


def sentence_case(text: str) -> str:
    return text[:1].upper() + text[1:]


def listed(words: Sequence[str]) -> str:
    """a, b and c."""
    return " and ".join((", ".join(words[:-1]), words[-1])) if len(words) > 1 else "".join(words)


#: kinds whose plural is not made by an s at the end
KIND_PLURALS = {
    "coupling or belt": "couplings or belts",
    "refractory or insulation": "refractories or insulations",
}


def kinds_counted(kinds: Mapping[PointKind, int]) -> str:
    """Two bearings and one joint."""
    words = [
        f"{number_word(count)} {str(kind) if count == 1 else KIND_PLURALS.get(kind, plural(kind))}"
        for kind, count in sorted(kinds.items(), key=lambda item: (-item[1], item[0]))
    ]
    return listed(words)


def counted_in_words(value: int, noun: str) -> str:
    """Twelve sites, one site; digits past twelve."""
    return f"{number_word(value)} {noun if value == 1 else plural(noun)}"


def repairs_held(held: int, read_again: int) -> str:
    """Nine of the eleven repairs read again within the year have held."""
    if read_again == 1:
        return f"The one repair read again within the year has {'held' if held else 'not held'}."
    if held in (0, read_again):
        which = f"{'None of the' if not held else 'All'} {counted_in_words(read_again, 'repair')}"
    else:
        which = f"{sentence_case(number_word(held))} of the {counted_in_words(read_again, 'repair')}"
    return f"{which} read again within the year {'has' if held <= 1 else 'have'} held."


def place(*parts: str) -> str:
    """Pump 3, Bearing: what is said once is not said again."""
    return ", ".join(dict.fromkeys(part for part in parts if part))


def yes_no(value: bool | None) -> str:
    return NONE if value is None else ("yes" if value else "no")


# ---- levels, trends ------------------------------------------------------------------------


def level_word(level: int | None, at_least: bool = False) -> str:
    """Plan repair, at least Plan repair, No verdict."""
    if level is None:
        return NO_VERDICT
    word = Level(level).word
    return f"at least {word}" if at_least else word


def level_of(level: int | None) -> str:
    """2 of 4, as printed beside a level's word."""
    return "" if level is None else f"{int(level)} of 4"


def slope(value: float | None, low: float | None = None, high: float | None = None) -> str:
    """0.9 K a month (0.8 to 1.0)."""
    if value is None:
        return NONE
    digits = 1 if abs(value) >= 0.095 else 2
    text = f"{number(value, digits)}{THIN}K a month"
    if low is None or high is None:
        return text
    return f"{text} ({number(low, digits)} to {number(high, digits)})"


@dataclass(frozen=True, slots=True)
class TrendFacts:
    """What a trend sentence stands on; slopes in kelvin a month."""

    trend: Trend
    slope_k_month: float | None = None
    low: float | None = None
    high: float | None = None
    visits: int = 0
    pending: bool = False
    least_visits: int = 4


def trend_sentence(facts: TrendFacts) -> str:
    """One plain sentence on the trend, with its slope and range where there are any."""
    if facts.pending:
        return "The trend is being worked out again."
    if facts.trend is Trend.TOO_FEW_VISITS:
        missing = max(facts.least_visits, facts.visits + 1)
        return f"Trend after {missing} visits; {number_word(facts.visits)} so far."
    visits = counted(facts.visits, "visit")
    speed = slope(facts.slope_k_month, facts.low, facts.high)
    if facts.trend is Trend.CANNOT_TELL:
        return f"{sentence_case(visits)} cannot tell a rise from scatter."
    if facts.trend is Trend.STEADY:
        return f"Steady over {visits}."
    if facts.trend is Trend.EASING:
        return f"Easing by {speed.replace(MINUS, '')}, over {visits}."
    if facts.trend is Trend.FIRST_SIGN:
        return f"A first sign of a rise, not yet confirmed, at visit {facts.visits}."
    return f"{sentence_case(facts.trend.value)} {speed}, over {visits}."


@dataclass(frozen=True, slots=True)
class StandingCounts:
    """How many points stand at each level; levels[0..4], and those without a verdict."""

    levels: tuple[int, int, int, int, int]
    no_verdict: int = 0

    @property
    def points(self) -> int:
        return sum(self.levels) + self.no_verdict


def _points_are(value: int, verb: str, verbs: str) -> str:
    return f"{number_word(value)} point{'' if value == 1 else 's'} {verb if value == 1 else verbs}"


def standing_title(counts: StandingCounts, may_reach: int = 0, by: date | None = None) -> str:
    """The news of the fleet in one or two sentences, from counts alone."""
    if not counts.points:
        return "No points in the register yet."
    if counts.no_verdict == counts.points:
        return "No verdict on any point yet."
    _, _, plan, soon, act = counts.levels
    sentences = [
        f"{_points_are(act, 'is', 'are')} past {'its' if act == 1 else 'their'} line."
        if act
        else "Nothing is past its line."
    ]
    if may_reach and by is not None:
        subject = f"{number_word(may_reach)} more" if act else _points_are(may_reach, "", "").strip()
        sentences.append(f"{subject} may reach {'its' if may_reach == 1 else 'theirs'} by {month(by)}.")
    elif soon:
        more = f"{number_word(soon)} more" if act else _points_are(soon, "", "").strip()
        sentences.append(f"{more} should be repaired soon.")
    elif plan:
        more = f"{number_word(plan)} more" if act else _points_are(plan, "", "").strip()
        sentences.append(f"{more} {'needs' if plan == 1 else 'need'} a repair planned.")
    return " ".join(sentence_case(sentence) for sentence in sentences)


@dataclass(frozen=True, slots=True)
class PointNews:
    """What a point's title is made of."""

    name: str
    level: int | None
    trend: TrendFacts
    at_least: bool = False
    read: bool = True
    reason: str = ""
    repaired_on: date | None = None
    today: date | None = None


def point_title(news: PointNews) -> str:
    """The news of one point: worst first, trend after, and how long since its repair."""
    if not news.read:
        return f"{news.name} has not been read yet"
    if news.level is None:
        return f"{news.name}: no verdict{f', {news.reason}' if news.reason else ''}"
    worsening = news.trend.trend.worsening and not news.trend.pending
    if worsening:
        again = ""
        if news.repaired_on is not None and news.today is not None:
            again = f", {span(news.repaired_on, news.today)} after its repair"
        rising = {
            Trend.FIRST_SIGN: "shows a first sign of rising",
            Trend.HAS_RISEN: "has risen",
            Trend.STEPPED_UP: "has stepped up",
            Trend.RISING_FASTER: "is rising faster",
        }.get(news.trend.trend, "is rising")
        return f"{news.name} {rising}{again}: {level_word(news.level, news.at_least)}"
    tail = {Trend.STEADY: ", and steady", Trend.EASING: ", and easing"}.get(news.trend.trend, "")
    if news.level == Level.NOTHING_FOUND:
        return f"{news.name}: nothing found{tail}"
    at_least = " at least" if news.at_least else ""
    return f"{news.name} stands at {level_word(news.level)}{at_least}{tail}"


# ---- problems and forms --------------------------------------------------------------------


_WEEK = {name[:3].lower(): name[:3] for name in WEEKDAYS}


def load_hours(text: str) -> str:
    """Mon to Fri 07:00 to 11:30, from "mon-fri 07:00-11:30"; what is written otherwise stays."""
    spoken = "".join(_WEEK.get(word, word) for word in re.split(r"([A-Za-z]+)", text))
    return re.sub(r"(?<=\w)\s*-\s*(?=\w)", " to ", spoken).replace("daily", "every day")


def field_id(name: str) -> str:
    """A field's name as part of an HTML id."""
    return "".join(letter if letter.isalnum() else "-" for letter in name)


def of_field(problems: Sequence[Problem], name: str) -> list[Problem]:
    return [problem for problem in problems if problem.field == name]


def place_of(problem: Problem) -> str:
    """Row 14, L2: as the person would look for it."""
    words = [word for word in (problem.where, problem.field.replace("_", " ")) if word and word != "body"]
    return f"{sentence_case(', '.join(words))}:" if words else ""
