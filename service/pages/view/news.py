"""The news in a sentence: of the fleet, of one point, of the year's repairs."""

from dataclasses import dataclass
from datetime import date

from service.domain.words import Level, Trend
from service.pages.view.levels import TrendFacts, level_word
from service.pages.view.times import month, span
from service.pages.view.words import counted_in_words, number_word, sentence_case


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


def repairs_held(held: int, read_again: int) -> str:
    """Nine of the eleven repairs read again within the year have held."""
    if read_again == 1:
        return f"The one repair read again within the year has {'held' if held else 'not held'}."
    if held in (0, read_again):
        which = f"{'None of the' if not held else 'All'} {counted_in_words(read_again, 'repair')}"
    else:
        which = f"{sentence_case(number_word(held))} of the {counted_in_words(read_again, 'repair')}"
    return f"{which} read again within the year {'has' if held <= 1 else 'have'} held."
