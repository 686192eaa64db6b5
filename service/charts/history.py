"""A point's history: rises between repairs, action lines, load beneath, and the forecast where there is one."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from enum import StrEnum

from markupsafe import Markup

from service.charts.axes import Along, Upward, date_ticks, tick_word, ticks
from service.charts.drawing import box, fig, line, markup, picture, polyline, titled, words
from service.charts.forecast import Crossing, crossing_bracket, fan
from service.charts.marks import end_mark
from service.charts.sparkline import runs_of


class Shown(StrEnum):
    """How a visit stands in the drawing."""

    COUNTS = "counts"
    ACCUSES_ONLY = "accuses only"
    NOT_ASSESSABLE = "not assessable"


@dataclass(frozen=True, slots=True)
class Visit:
    """One visit: ``value_k`` at common load (or as judged), ``raw_k`` as measured, U at k = 2;
    ``episode`` counts the repairs before it."""

    on: date
    shown: Shown
    value_k: float | None
    words: str
    raw_k: float | None = None
    u_k: float | None = None
    load_percent: float | None = None
    level: int | None = None
    episode: int = 0


@dataclass(frozen=True, slots=True)
class Seam:
    """A repair: no trend runs across it."""

    on: date
    title: str
    detail: str = ""


@dataclass(frozen=True, slots=True)
class ActionLine:
    level: int
    value_k: float
    words: str


@dataclass(frozen=True, slots=True)
class History:
    """All that the drawing shows; words come ready made.

    ``fit`` is the trend since the last repair as two ends; ``fan_k`` and ``crossing`` stay empty
    until a forecast exists. ``least_load_percent`` is the load below which a reading cannot clear;
    None where load has no meaning (a bearing).
    """

    title: str
    scale_title: str
    visits: Sequence[Visit]
    lines: Sequence[ActionLine]
    today: date
    level: int | None
    seams: Sequence[Seam] = ()
    planned: Sequence[date] = ()
    fit: tuple[tuple[date, float], tuple[date, float]] | None = None
    fan_k: Sequence[tuple[date, float, float]] = ()
    crossing: Crossing | None = None
    least_load_percent: float | None = 40.0
    last_words: str = ""


@dataclass(frozen=True, slots=True)
class Sheet:
    """Where things stand on the paper, in pixels."""

    width: float
    left: float
    right: float
    top: float
    bottom: float
    load_top: float
    load_bottom: float
    narrow: bool

    @property
    def height(self) -> float:
        return self.load_bottom + 30


WIDE = Sheet(932, 34, 788, 58, 372, 404, 446, narrow=False)
NARROW = Sheet(366, 26, 358, 52, 330, 362, 400, narrow=True)
NARROW_MONTHS = 24


def history_pair(history: History) -> Markup:
    """The drawing for a wide and for a narrow column; the style sheet shows one of the two."""
    return markup(
        f'<div class="history-wide">{history_chart(history, WIDE)}</div>'
        f'<div class="history-narrow">{history_chart(recent(history), NARROW)}</div>'
    )


def recent(history: History, months: int = NARROW_MONTHS) -> History:
    """The last months only, for a phone; everything when it is shorter anyway."""
    start = history.today - timedelta(days=round(months * 30.44))
    visits = [visit for visit in history.visits if visit.on >= start]
    if len(visits) < 3:
        return history
    fit = history.fit
    if fit is not None and fit[0][0] < start < fit[1][0]:
        (d0, k0), (d1, k1) = fit
        share = (start - d0).days / (d1 - d0).days
        fit = ((start, k0 + share * (k1 - k0)), fit[1])
    return replace(
        history, visits=visits, seams=[seam for seam in history.seams if seam.on >= start], fit=fit
    )


def history_chart(history: History, sheet: Sheet = WIDE) -> Markup:
    """Draw the history on one sheet.

    Parameters
    ----------
    history : History
    sheet : Sheet
        ``WIDE`` or ``NARROW``.
    """
    if not history.visits:
        return picture(
            "", width=sheet.width, height=40, title=history.title, desc="No visits yet.", css="history"
        )
    lines = _lines_in_sight(history)
    if not _has_load(history):
        sheet = replace(sheet, load_top=sheet.bottom, load_bottom=sheet.bottom + 8)
    up, along = _scales(history, lines, sheet)
    body = [
        _paper(history, up=up, along=along, sheet=sheet),
        _action_lines(history, lines, up=up, sheet=sheet),
        _load(history, along=along, sheet=sheet),
        _clock(along, sheet=sheet),
        fan(history.fan_k, up=up, along=along, level=history.level),
        _series(history, up=up, along=along),
        _seams(history, along=along, sheet=sheet),
        _line_words(history, lines, up=up, along=along, sheet=sheet),
        _last(history, up=up, along=along, sheet=sheet),
    ]
    if history.crossing is not None:
        body.append(crossing_bracket(history.crossing, up=up, along=along, narrow=sheet.narrow))
    css = "history narrow" if sheet.narrow else "history"
    return picture(
        "".join(body),
        width=sheet.width,
        height=sheet.height,
        title=history.title,
        desc=described(history),
        css=css,
    )


def described(history: History) -> str:
    """The drawing in words, for those who do not see it."""
    counting = [visit for visit in history.visits if visit.value_k is not None]
    said = [f"{len(history.visits)} visits from {history.visits[0].on} to {history.visits[-1].on}."]
    if counting:
        said.append(f"Last {counting[-1].words}.")
    said.extend(f"{row.words}." for row in history.lines)
    said.extend(f"{seam.title}: {seam.on}." for seam in history.seams)
    if history.crossing is not None:
        said.append(f"{history.crossing.words}.")
    return " ".join(said)


def _has_load(history: History) -> bool:
    """False for a bearing, or where no load was ever given."""
    return history.least_load_percent is not None and any(
        visit.load_percent is not None for visit in history.visits
    )


def _highest(history: History) -> float:
    tops = [(visit.value_k or 0) + (visit.u_k or 0) for visit in history.visits]
    tops += [visit.raw_k or 0 for visit in history.visits]
    tops += [high for _, _, high in history.fan_k]
    if history.crossing is not None:
        tops.append(history.crossing.line_k)
    return max(tops)


def _lines_in_sight(history: History) -> list[ActionLine]:
    """All lines of a point that rises or waits for a repair; of a calm one only up to the next above it,
    so that its readings are not pressed flat."""
    rising = sorted(history.lines, key=lambda row: row.value_k)
    if history.fit is not None or (history.level or 0) >= 2:
        return rising
    below = [row for row in rising if row.value_k <= _highest(history)]
    return rising[: max(len(below) + 1, 2)]


def _scales(history: History, lines: Sequence[ActionLine], sheet: Sheet) -> tuple[Upward, Along]:
    highest = max([_highest(history), *(row.value_k for row in lines), 1.0])
    lows = [visit.value_k - (visit.u_k or 0) for visit in history.visits if visit.value_k is not None]
    lows += [visit.raw_k for visit in history.visits if visit.raw_k is not None]
    lowest = min([*lows, 0.0])
    up = Upward(
        lowest - (0.04 * (highest - lowest) if lowest < 0 else 0), highest * 1.12, sheet.top, sheet.bottom
    )
    first = min([history.visits[0].on, *(seam.on for seam in history.seams)])
    later = [history.today + timedelta(days=75), *history.planned, *(day for day, _, _ in history.fan_k)]
    if history.crossing is not None:
        later.append(history.crossing.latest + timedelta(days=20))
    span = max(later) - first
    return up, Along(
        first - timedelta(days=max(round(span.days * 0.015), 4)), max(later), sheet.left + 4, sheet.right
    )


def _paper(history: History, *, up: Upward, along: Along, sheet: Sheet) -> str:
    quiet = min((row.value_k for row in history.lines), default=None)
    today = along(history.today)
    body = [box(today, sheet.top - 14, sheet.right - today, sheet.bottom - sheet.top + 14, "later")]
    if quiet is not None:
        floor = max(up.low, -quiet)
        body.append(
            box(
                sheet.left,
                up(min(quiet, up.high)),
                sheet.right - sheet.left,
                up(floor) - up(min(quiet, up.high)),
                "quiet",
            )
        )
    for value in ticks(up.low, up.high, 4 if sheet.narrow else 5):
        css = "floor" if value == 0 else "grid"
        body.append(line(sheet.left, up(value), sheet.right, up(value), css))
        body.append(words(sheet.left - 7, up(value) + 4, tick_word(value), css="tick", anchor="end"))
    body.append(words(0, 11, history.scale_title, css="axis-title"))
    if sheet.right - today > 66:
        body.append(words(today + 5, sheet.top - 3, "from today", css="caption"))
    elif sheet.right - today > 24:
        body.append(words(today - 5, sheet.top - 3, "today", css="caption", anchor="end"))
    body.extend(
        titled(
            line(along(day), sheet.bottom - 9, along(day), sheet.bottom, "planned"), title=f"planned {day}"
        )
        for day in history.planned
    )
    return "".join(body)


def _action_lines(history: History, lines: Sequence[ActionLine], *, up: Upward, sheet: Sheet) -> str:
    body = [
        line(sheet.left, up(row.value_k), sheet.right, up(row.value_k), f"action action-{row.level}")
        for row in lines
    ]
    hidden = [row for row in history.lines if row not in lines]
    if hidden:
        note = f"{hidden[-1].words}: above this drawing"
        body.append(words(sheet.right, 26 if sheet.narrow else 11, note, css="caption", anchor="end"))
    return "".join(body)


def _line_words(
    history: History, lines: Sequence[ActionLine], *, up: Upward, along: Along, sheet: Sheet
) -> str:
    """Labels at the right end; on a narrow sheet inside, on the emptier side. Drawn last, with a halo."""
    body, lowest = [], sheet.bottom + 20
    for row in lines:
        # labels keep a line's height apart, the upper ones give way upwards
        y = min(up(row.value_k) + 4, lowest - 14)
        lowest = y
        css = f"action-word word-{row.level}"
        if not sheet.narrow:
            body.append(words(sheet.right + 8, y, row.words, css=css))
            continue
        long = len(row.words) * 6.6
        left = _clear_of_seams(history, row.words, along=along, sheet=sheet)
        right = sheet.right - long
        dots = [(along(visit.on), up(visit.value_k)) for visit in history.visits if visit.value_k is not None]
        near = [x for x, dot_y in dots if y - 24 < dot_y < y + 4]
        crowd = [sum(start - 5 < x < start + long + 5 for x in near) for start in (left, right)]
        body.append(words(left if crowd[0] <= crowd[1] else right, y - 8, row.words, css=css, halo=True))
    return "".join(body)


def _clear_of_seams(history: History, text: str, *, along: Along, sheet: Sheet) -> float:
    """Where a label inside the drawing may start so that no seam strikes it through."""
    start = sheet.left + 3
    for seam in history.seams:
        x = along(seam.on)
        if start - 4 < x < start + len(text) * 6.6 + 4:
            start = x + 7
    return start if start + len(text) * 6.6 < sheet.right else sheet.left + 3


def _load(history: History, *, along: Along, sheet: Sheet) -> str:
    """Bars on the same clock; nothing at all where no load was ever given."""
    if history.least_load_percent is None or not _has_load(history):
        return ""
    top, bottom = sheet.load_top, sheet.load_bottom
    scale = (bottom - top) / 120
    body = [words(0, top - 6, "Load, % of common load", css="axis-title")]
    for visit in history.visits:
        if visit.load_percent is None:
            continue
        tall = min(visit.load_percent, 120) * scale
        css = "load" if visit.load_percent >= history.least_load_percent else "load low"
        body.append(
            titled(
                box(along(visit.on) - 2.2, bottom - tall, 4.4, tall, css),
                title=f"{visit.load_percent:.0f} % load",
            )
        )
    least = bottom - history.least_load_percent * scale
    body.append(line(sheet.left, least, sheet.right, least, "least"))
    body.append(line(sheet.left, bottom, sheet.right, bottom, "axis"))
    if not sheet.narrow:
        body.append(
            words(
                sheet.right + 8,
                least + 4,
                f"{history.least_load_percent:.0f} %, least that clears",
                css="caption",
            )
        )
    return "".join(body)


def _clock(along: Along, *, sheet: Sheet) -> str:
    body = [line(sheet.left, sheet.load_bottom, sheet.right, sheet.load_bottom, "axis")]
    for tick in date_ticks(along.first, along.last, 6 if sheet.narrow else 14):
        x = along(tick.on)
        body.append(line(x, sheet.load_bottom, x, sheet.load_bottom + (16 if tick.year else 5), "axis"))
        css, shift = ("year", 4.0) if tick.year else ("tick", 0.0)
        if x + 30 < sheet.right + 14:
            body.append(
                words(
                    x + shift,
                    sheet.load_bottom + 18,
                    tick.word,
                    css=css,
                    anchor="" if tick.year else "middle",
                )
            )
    return "".join(body)


def _series(history: History, *, up: Upward, along: Along) -> str:
    body = []
    counting = [
        visit for visit in history.visits if visit.shown is Shown.COUNTS and visit.value_k is not None
    ]
    runs = runs_of([visit.episode for visit in counting], len(counting))
    for index, run in enumerate(runs):
        points = [(along(visit.on), up(visit.value_k or 0.0)) for visit in counting[run]]
        now = index == len(runs) - 1
        body.append(polyline(points, f"run run-{history.level or 0}" if now else "run before"))
    if history.fit is not None:
        css = f"fit run-{history.level or 0}"
        body.append(polyline([(along(day), up(k)) for day, k in clipped(history.fit, up.low, up.high)], css))
    body.extend(_visit(visit, up=up, along=along) for visit in history.visits)
    return "".join(body)


def clipped(
    fit: tuple[tuple[date, float], tuple[date, float]], low: float, high: float
) -> list[tuple[date, float]]:
    """The part of a straight trend that lies between two values; nothing when all of it is outside."""
    (day0, k0), (day1, k1) = fit
    if k0 == k1:
        return [fit[0], fit[1]] if low <= k0 <= high else []
    shares = sorted([(low - k0) / (k1 - k0), (high - k0) / (k1 - k0)])
    first, last = max(0.0, shares[0]), min(1.0, shares[1])
    if first >= last:
        return []
    days = (day1 - day0).days
    return [(day0 + timedelta(days=round(share * days)), k0 + share * (k1 - k0)) for share in (first, last)]


def value_range(history: History) -> tuple[float, float]:
    """Lowest and highest value on the paper, for other drawings of the same history."""
    up, _ = _scales(history, _lines_in_sight(history), WIDE)
    return up.low, up.high


def _visit(visit: Visit, *, up: Upward, along: Along) -> str:
    x = along(visit.on)
    if visit.shown is Shown.NOT_ASSESSABLE or visit.value_k is None:
        y = up(0.0) - 7
        return titled(
            f'<path class="cross" d="M{fig(x - 3.5)} {fig(y - 3.5)}l7 7m0-7l-7 7"/>', title=visit.words
        )
    y, body = up(visit.value_k), []
    if visit.u_k is not None:
        body.append(line(x, up(visit.value_k - visit.u_k), x, up(visit.value_k + visit.u_k), "whisker"))
    if visit.raw_k is not None and abs(up(visit.raw_k) - y) > 1.5:
        body.append(line(x - 4, up(visit.raw_k), x + 4, up(visit.raw_k), "raw"))
    css = "dot" if visit.shown is Shown.COUNTS else "hollow"
    body.append(f'<circle class="{css}" cx="{fig(x)}" cy="{fig(y)}" r="{3.4 if css == "dot" else 4}"/>')
    return titled("".join(body), title=visit.words)


def _seams(history: History, *, along: Along, sheet: Sheet) -> str:
    """Vertical seams through both drawings; labels on two rows, left out where there is no room."""
    body: list[str] = []
    free = [0.0, 0.0]
    for seam in history.seams:
        x = along(seam.on)
        head = sheet.top - 20
        body.append(line(x, head, x, sheet.bottom, "seam"))
        body.append(line(x, sheet.load_top, x, sheet.load_bottom, "seam"))
        body.append(f'<path class="seam-head" d="M{fig(x - 4)} {fig(head - 5)}h8l-4 6z"/>')
        long = max(len(seam.title) * 6.6, 0 if sheet.narrow else len(seam.detail) * 5.9) + 16
        to_left = x + long > sheet.right + (0 if sheet.narrow else 100)
        start = x - long if to_left else x
        if start < free[0] or start < 0:
            continue
        free[0] = start + long
        shift, anchor = (-8, "end") if to_left else (8, "")
        body.append(words(x + shift, head, seam.title, css="seam-word", anchor=anchor, halo=True))
        if seam.detail and not sheet.narrow:
            body.append(words(x + shift, head + 13, seam.detail, css="seam-detail", anchor=anchor, halo=True))
    return "".join(body)


def _last(history: History, *, up: Upward, along: Along, sheet: Sheet) -> str:
    """The last visit that counts carries its level's mark and its value in large."""
    last = next((visit for visit in reversed(history.visits) if visit.value_k is not None), None)
    if last is None or last.value_k is None:
        return ""
    x, y = along(last.on), up(last.value_k)
    mark = end_mark(last.level, round(x, 1), round(y, 1), size=5.4)
    css = f"last word-{history.level if history.level is not None else 0}"
    text = history.last_words or last.words
    label_y = _free_place(history, text, x=x, y=y, up=up, along=along, top=sheet.top)
    return mark + words(x - 2, label_y, text, css=css, anchor="end", halo=True)


def _free_place(
    history: History, text: str, *, x: float, y: float, up: Upward, along: Along, top: float
) -> float:
    """Base line for the last value: over the dots to its left, off the action lines, under the paper's edge."""
    left = x - len(text) * 9.5
    near = [
        up(visit.value_k)
        for visit in history.visits
        if visit.value_k is not None and left < along(visit.on) <= x
    ]
    base = min([y, *near]) - 13
    for line_y in sorted((up(row.value_k) for row in history.lines), reverse=True):
        if base - 15 < line_y < base + 5:
            base = line_y - 6
    return max(base, top + 12)
