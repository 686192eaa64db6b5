"""A point's history: rises between repairs, action lines, load beneath, and the forecast where there is one."""

from collections.abc import Iterable, Sequence
from dataclasses import replace
from itertools import takewhile

from markupsafe import Markup

from service.charts.axes import Along, Upward, date_ticks, tick_word, ticks
from service.charts.crowds import are_crowded, crowd_of_loads, crowd_of_marks, crowd_words, crowded_line
from service.charts.drawing import box, fig, line, markup, picture, polyline, titled, words
from service.charts.forecast import crossing_bracket, fan
from service.charts.history_record import (
    NARROW,
    WIDE,
    ActionLine,
    History,
    Sheet,
    Shown,
    Visit,
    clipped,
    described,
    has_load,
    lines_in_sight,
    recent,
    scales,
)
from service.charts.marks import end_mark
from service.charts.seams import drawn_seams
from service.charts.sparkline import runs_of


def history_pair(history: History) -> Markup:
    """The drawing for a wide and for a narrow column; the style sheet shows one of the two."""
    return markup(
        f'<div class="history-wide">{history_chart(history, WIDE)}</div>'
        f'<div class="history-narrow">{history_chart(recent(history), NARROW)}</div>'
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
    lines = lines_in_sight(history)
    if not has_load(history):
        sheet = replace(sheet, load_top=sheet.bottom, load_bottom=sheet.bottom + 8)
    up, along = scales(history, lines, sheet)
    body = [
        _paper(history, up=up, along=along, sheet=sheet),
        _action_lines(history, lines, up=up, sheet=sheet),
        _load(history, along=along, sheet=sheet),
        _clock(along, sheet=sheet),
        fan(history.fan_k, up=up, along=along, level=history.level),
        _series(history, up=up, along=along),
        drawn_seams(history.seams, along=along, sheet=sheet),
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
        desc=f"{described(history)} {crowd_words(along) if are_crowded(history.visits) else ''}".rstrip(),
        css=css,
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
    # right of today's edge, where no seam can strike the words through
    if not sheet.narrow or sheet.right - today > 66:
        # the words of a crossing need the top
        at = sheet.top - 3 if history.crossing is None else sheet.bottom - 14
        body.append(words(today + 5, at, "from today", css="caption"))
    elif sheet.right - today > 24:
        body.append(words(sheet.right, sheet.top - 3, "today", css="caption", anchor="end"))
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
    dots = _dots(history.visits, up=up, along=along) if sheet.narrow else []
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
        near = [x for x, dot_y in dots if y - 24 < dot_y < y + 4]
        crowd = [sum(start - 5 < x < start + long + 5 for x in near) for start in (left, right)]
        body.append(words(left if crowd[0] <= crowd[1] else right, y - 8, row.words, css=css, halo=True))
    return "".join(body)


def _dots(visits: Iterable[Visit], *, up: Upward, along: Along) -> list[tuple[float, float]]:
    return [(along(visit.on), up(visit.value_k)) for visit in visits if visit.value_k is not None]


def _clear_of_seams(history: History, text: str, *, along: Along, sheet: Sheet) -> float:
    """Where a label inside the drawing may start so that no seam strikes it through."""
    start = sheet.left + 3
    for seam in history.seams:
        x = along(seam.on)
        if start - 4 < x < start + len(text) * 6.6 + 4:
            start = x + 7
    return start if start + len(text) * 6.6 < sheet.right else sheet.left + 3


def _load_bars(history: History, least_percent: float, *, along: Along, sheet: Sheet) -> str:
    bottom, scale = sheet.load_bottom, (sheet.load_bottom - sheet.load_top) / 120
    body = []
    for visit in history.visits:
        if visit.load_percent is None:
            continue
        tall = min(visit.load_percent, 120) * scale
        css = "load" if visit.load_percent >= least_percent else "load low"
        body.append(
            titled(
                box(along(visit.on) - 2.2, bottom - tall, 4.4, tall, css),
                title=f"{visit.load_percent:.0f} % load",
            )
        )
    return "".join(body)


def _load(history: History, *, along: Along, sheet: Sheet) -> str:
    """Bars on the same clock; nothing at all where no load was ever given."""
    if history.least_load_percent is None or not has_load(history):
        return ""
    top, bottom = sheet.load_top, sheet.load_bottom
    scale = (bottom - top) / 120
    draw = crowd_of_loads if are_crowded(history.visits) else _load_bars
    body = [
        words(0, top - 6, "Load, % of common load", css="axis-title"),
        draw(history, history.least_load_percent, along=along, sheet=sheet),
    ]
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
    """The line over the bars of a crowd, under the dots of a few."""
    crowded = are_crowded(history.visits)
    body = [crowd_of_marks(history.visits, up=up, along=along)] if crowded else []
    counting = [
        visit for visit in history.visits if visit.shown is Shown.COUNTS and visit.value_k is not None
    ]
    runs = runs_of([visit.episode for visit in counting], len(counting))
    for index, run in enumerate(runs):
        css = f"run run-{history.level or 0}" if index == len(runs) - 1 else "run before"
        if are_crowded(counting[run]):
            body.append(crowded_line(counting[run], css, up=up, along=along))
            continue
        points = [(along(visit.on), up(visit.value_k or 0.0)) for visit in counting[run]]
        body.append(polyline(points, css))
    if history.fit is not None:
        css = f"fit run-{history.level or 0}"
        body.append(polyline([(along(day), up(k)) for day, k in clipped(history.fit, up.low, up.high)], css))
    if not crowded:
        body.extend(_visit(visit, up=up, along=along) for visit in history.visits)
    body.extend(_apart(visit, up=up, along=along) for visit in history.visits if visit.apart)
    return "".join(body)


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


def _apart(visit: Visit, *, up: Upward, along: Along) -> str:
    """Brackets about a visit that lies apart: a sign of its own, since it stays in every figure."""
    x, y = along(visit.on), up(visit.value_k or 0.0)
    left = f"M{fig(x - 5)} {fig(y - 7)}h-3v14h3"
    right = f"M{fig(x + 5)} {fig(y - 7)}h3v14h-3"
    return titled(f'<path class="apart" d="{left}{right}"/>', title=visit.words)


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
    """Base line for the last value: over its own dot, else under it, else over every dot to its left."""
    left = x - len(text) * 9.5
    # they stand in the order of their days: only the last ones can be in the way
    near = takewhile(lambda visit: along(visit.on) > left - 4, reversed(history.visits))
    dots = [dot_y for dot_x, dot_y in _dots(near, up=up, along=along) if dot_x < x - 0.5]
    for base in (_off_lines(history, y - 13, up=up), y + 22):
        fits = top + 12 <= base <= up.bottom - 2
        if fits and not any(base - 19 < dot < base + 7 for dot in dots):
            return base
    return max(_off_lines(history, min([y, *dots]) - 13, up=up), top + 12)


def _off_lines(history: History, base: float, *, up: Upward) -> float:
    """Lifted so that no action line strikes the words through."""
    for line_y in sorted((up(row.value_k) for row in history.lines), reverse=True):
        if base - 15 < line_y < base + 5:
            base = line_y - 6
    return base
