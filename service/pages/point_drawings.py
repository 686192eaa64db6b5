"""A point's history as its page draws it: from stored visits to the charts' records, in words."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from math import inf
from statistics import median
from zoneinfo import ZoneInfo

from markupsafe import Markup

from service.charts.crowds import are_crowded
from service.charts.forecast import Crossing, FanRow
from service.charts.history_record import ActionLine, History, Seam, Shown, Visit
from service.charts.multiples import LikePart, multiples
from service.domain.point_history import Cut, DrawnVisit, PointHistory
from service.domain.trending import FanStep
from service.domain.words import CURRENT_KINDS, Level, ReferenceKind
from service.pages import view
from service.usecases.condition.point_history import LIKE_PART_VISITS

#: how far ahead of today the paper goes
AHEAD = timedelta(days=730)
#: where the fan is told in words
A_YEAR = timedelta(days=365)
#: cuts that are somebody's work on the part; the others only end a series
WORK = {"repaired": "Repaired", "replaced": "Replaced"}
OTHER_CUTS = {
    "surface changed": "Surface changed",
    "reference changed": "Reference changed",
    "band changed": "Camera band changed",
}


def reference_of(history: PointHistory) -> ReferenceKind:
    """The kind of reference the drawing shows; kinds never mix in one series."""
    return history.standing.reference or history.facts.reference


def scale_title(history: PointHistory, visits: Sequence[DrawnVisit]) -> str:
    """Rise over like parts, at common load, K."""
    scaled = any(visit.common_k is not None for visit in visits)
    if reference_of(history) is ReferenceKind.RATED_SHARE:
        return f"Rise over air, judged as a share of the rated rise, {view.kelvin_word()}"
    return (
        f"Rise {reference_of(history)}, {'at common load' if scaled else 'as measured'}, {view.kelvin_word()}"
    )


def drawn_visits(history: PointHistory) -> list[DrawnVisit]:
    """Visits with a rise of the drawing's reference, and those that could not be read."""
    reference = reference_of(history)
    return [
        visit
        for visit in history.standing_drawn
        if visit.reason is not None or (visit.rise_k is not None and visit.reference is reference)
    ]


def history_record(
    history: PointHistory,
    *,
    today: date,
    every_word: bool = False,
    apart: Mapping[int, str] | None = None,
) -> History:
    """What the chart draws of a point; where visits crowd, only the last is put in words unless all are wanted.

    ``apart`` says of readings that lie apart from those about them by how much.
    """
    facts, zone = history.facts, history.facts.zone
    visits = drawn_visits(history)
    read = [visit for visit in visits if visit.rise_k is not None and visit.reason is None]
    in_kelvin = history.lines.unit == "K"
    return History(
        title=f"{facts.name}: {scale_title(history, read)}",
        scale_title=scale_title(history, read),
        visits=_told(visits, zone, last=read[-1] if read else None, every_word=every_word, apart=apart or {}),
        lines=[
            ActionLine(int(level), _own(value), f"{view.level_word(level)}, {view.line_value(value)}")
            for level, value in history.lines.rows
            if in_kelvin
        ],
        today=today,
        level=history.standing.level,
        seams=[_seam(cut, read, zone) for cut in history.cuts],
        planned=[day for day in history.planned if day >= today],
        fit=_fit(history),
        fan_k=_fan(history, today=today) if in_kelvin else (),
        fan_words=fan_words(history, today=today) if in_kelvin else "",
        crossing=_crossing(history, today=today) if in_kelvin else None,
        least_load_percent=history.lines.min_load_share * 100 if facts.kind in CURRENT_KINDS else None,
        last_words=_last_words(read[-1]) if read else "",
        unit=view.kelvin_word(),
    )


def _fit(history: PointHistory) -> tuple[tuple[date, float], tuple[date, float]] | None:
    line = history.trend_line
    if line is None or not history.directed:
        return None
    return (line.first_on, _own(line.first_k)), (line.last_on, _own(line.last_k))


def _steps(history: PointHistory, *, today: date) -> list[FanStep]:
    """The fan as far as the paper goes; none where the date of crossing is not told either."""
    return [step for step in history.foretold if step.on <= today + AHEAD]


def _fan(history: PointHistory, *, today: date) -> list[FanRow]:
    return [
        FanRow(step.on, _own(step.low_k), _own(step.lower_k), _own(step.upper_k), _own(step.high_k))
        for step in _steps(history, today=today)
    ]


def fan_words(history: PointHistory, *, today: date) -> str:
    """In November 2027 it may stand anywhere from 6.1 K to over its Act-now line: nine chances in ten."""
    act = next((value for level, value in history.lines.rows if level is Level.ACT_NOW), inf)
    ahead = [step for step in _steps(history, today=today) if step.on > today and step.low_k <= act]
    if not ahead:
        return ""
    step = next((step for step in ahead if step.on >= today + A_YEAR), ahead[-1])
    high = "over its Act-now line" if step.high_k > act else view.kelvin(step.high_k)
    return f"In {view.month(step.on)} it may stand anywhere from {view.kelvin(step.low_k)} to {high}: nine chances in ten."


def _crossing(history: PointHistory, *, today: date) -> Crossing | None:
    """The range of dates on the Act-now line; what lies beyond the paper is told in words alone."""
    stands, edge = history.standing, today + AHEAD
    line = next((value for level, value in history.lines.rows if level is Level.ACT_NOW), None)
    begins, middle = stands.crossing_from, stands.crossing_likeliest
    if line is None or begins is None or stands.pending or not stands.trend.worsening or begins > edge:
        return None
    begins = max(begins, today)
    ends = edge if stands.crossing_to is None else min(stands.crossing_to, edge)
    if ends < begins:
        return None
    first = "any day now" if begins == today else view.month(begins)
    till = "or later" if stands.crossing_to is None else f"to {view.month(stands.crossing_to)}"
    return Crossing(
        line_k=_own(line),
        earliest=begins,
        likeliest=min(max(middle or ends, begins), ends),
        latest=ends,
        words=f"{first} {till}",
        detail="" if stands.chance_12 is None else f"{view.percent(stands.chance_12)} within 12 months",
    )


def _own(difference_k: float) -> float:
    """The chart draws in the reader's unit: ticks, lines and dots stand on one scale."""
    return view.own_value(difference_k, view.KELVIN)


def _last_words(visit: DrawnVisit) -> str:
    words = view.measured(visit.rise_k, visit.u_rise_k)
    return f"at least {words}" if visit.at_least else words


def _u(visit: DrawnVisit) -> float | None:
    """U at k = 2 where the uncertainty is known."""
    return None if visit.u_rise_k is None else 2 * _own(visit.u_rise_k)


def _told(
    visits: Sequence[DrawnVisit],
    zone: str,
    *,
    last: DrawnVisit | None,
    every_word: bool,
    apart: Mapping[int, str],
) -> list[Visit]:
    clock = ZoneInfo(zone)
    days = [view.local(visit.taken_at, clock).date() for visit in visits]
    in_words = every_word or not are_crowded(visits)
    told = []
    for visit, day in zip(visits, days, strict=True):
        off = apart.get(visit.reading_id, "")
        words = _words(visit, day) if in_words or off or visit is last else ""
        one = _visit(visit, day, words=f"{words}; {off}" if off else words)
        told.append(one._replace(apart=True) if off else one)
    return told


def _words(visit: DrawnVisit, day: date) -> str:
    """17 Nov 2026: 4.1 K at 71 % load, Plan repair."""
    if visit.reason is not None or visit.rise_k is None:
        return f"{view.day(day)}: {visit.reason.word if visit.reason else 'no verdict'}"
    load = "" if visit.load_ratio is None else f" at {view.percent(visit.load_ratio)} load"
    word = view.level_word(visit.level, visit.at_least)
    return f"{view.day(day)}: {view.measured(visit.rise_k, visit.u_rise_k)}{load}, {word}"


def _visit(visit: DrawnVisit, day: date, *, words: str) -> Visit:
    if visit.reason is not None or visit.rise_k is None:
        return Visit(day, Shown.NOT_ASSESSABLE, None, words, episode=visit.episode)
    counts = visit.trended and visit.counts_trend and not visit.at_least
    return Visit(
        on=day,
        shown=Shown.COUNTS if counts else Shown.ACCUSES_ONLY,
        value_k=_own(visit.rise_k),
        words=words,
        raw_k=None if visit.common_k is None or visit.value_k is None else _own(visit.value_k),
        u_k=_u(visit),
        load_percent=None if visit.load_ratio is None else visit.load_ratio * 100,
        level=visit.level,
        episode=visit.episode,
    )


def _seam(cut: Cut, read: Sequence[DrawnVisit], zone: str) -> Seam:
    day = view.local(cut.at, zone).date()
    word = WORK.get(cut.reason) or OTHER_CUTS.get(cut.reason, view.sentence_case(cut.reason))
    earlier = [visit.rise_k for visit in read if visit.taken_at < cut.at and visit.rise_k is not None]
    later = [visit.rise_k for visit in read if visit.taken_at >= cut.at and visit.rise_k is not None]
    detail = view.kelvin_range(earlier[-1], later[0]) if earlier and later else ""
    return Seam(day, word, detail)


@dataclass(frozen=True, slots=True)
class PartRow:
    """One visit in the table beside the small multiples."""

    on: date
    values: tuple[float | None, ...]


@dataclass(frozen=True, slots=True)
class PartsPicture:
    """Like parts on one scale, with the same as a table."""

    drawings: tuple[Markup, ...] = ()
    names: tuple[str, ...] = ()
    rows: tuple[PartRow, ...] = ()


def parts_picture(history: PointHistory) -> PartsPicture:
    """Like parts over the last visits; nothing where the point has none or none was read."""
    parts, zone = history.like_parts, history.facts.zone
    if len(parts) < 2:
        return PartsPicture()
    by_visit: dict[int | date, dict[int, float | None]] = {}
    days: dict[int | date, date] = {}
    for part in parts:
        for taken_at, round_id, temperature, _amps in part.readings:
            day = view.local(taken_at, zone).date()
            key = day if round_id is None else round_id
            days.setdefault(key, day)
            by_visit.setdefault(key, {})[part.point_id] = temperature
    keys = sorted(by_visit, key=lambda key: days[key])[-LIKE_PART_VISITS:]
    table = [[by_visit[key].get(part.point_id) for part in parts] for key in keys]
    middles = [_median(row) for row in table]
    names = [part.phase or part.name for part in parts]
    drawn = multiples(
        [
            LikePart(
                name=names[index],
                readings_c=[view.own_value_or_none(row[index], view.CELSIUS) for row in table],
                level=history.standing.level if part.point_id == history.facts.point_id else None,
                last_words=view.celsius(
                    next((row[index] for row in reversed(table) if row[index] is not None), None)
                ),
                reference_c=[view.own_value_or_none(middle, view.CELSIUS) for middle in middles]
                if part.point_id == history.facts.point_id
                else (),
            )
            for index, part in enumerate(parts)
        ],
        [days[key] for key in keys],
    )
    rows = tuple(PartRow(days[key], tuple(row)) for key, row in zip(keys, table, strict=True))
    return PartsPicture(tuple(drawn), tuple(names), tuple(reversed(rows)))


def _median(values: Sequence[float | None]) -> float | None:
    """Over the median of the like parts, itself included (standards.md §1a.0); two or more read."""
    known = [value for value in values if value is not None]
    return median(known) if len(known) > 1 else None
