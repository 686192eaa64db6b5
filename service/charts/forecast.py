"""The forecast fan, and the crossing bracket that lies on the action line."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import NamedTuple

from service.charts.axes import Along, Upward
from service.charts.drawing import fig, line, words


@dataclass(frozen=True, slots=True)
class Crossing:
    """Nine chances in ten that the line is reached between ``earliest`` and ``latest``."""

    line_k: float
    earliest: date
    likeliest: date
    latest: date
    words: str
    detail: str
    level: int = 4


class FanRow(NamedTuple):
    """Nine chances in ten from ``low`` to ``high`` on a day, one in two from ``lower`` to ``upper``."""

    on: date
    low: float
    lower: float
    upper: float
    high: float


def fan(rows: Sequence[FanRow], *, up: Upward, along: Along, level: int | None) -> str:
    """Two regions, one in the other, cut off at the paper's edge; no line that could be read as a promise."""
    if len(rows) < 2:
        return ""
    outer = [(row.on, row.low, row.high) for row in rows]
    inner = [(row.on, row.lower, row.upper) for row in rows]
    css = f"fan fan-{level or 0}"
    return _region(outer, css, up=up, along=along) + _region(inner, f"{css} half", up=up, along=along)


def _region(rows: Sequence[tuple[date, float, float]], css: str, *, up: Upward, along: Along) -> str:
    def at(day: date, value: float) -> str:
        return f"{fig(along(day))} {fig(up(min(max(value, up.low), up.high)))}"

    there = [at(day, high) for day, _, high in rows]
    back = [at(day, low) for day, low, _ in reversed(rows)]
    return f'<path class="{css}" d="M{"L".join(there + back)}z"/>'


def crossing_bracket(crossing: Crossing, *, up: Upward, along: Along, narrow: bool) -> str:
    """A solid bracket on the line from earliest to latest, a diamond at the likeliest."""
    y = up(crossing.line_k)
    x0, x1, x = along(crossing.earliest), along(crossing.latest), along(crossing.likeliest)
    css = f"bracket bracket-{crossing.level}"
    label_x, anchor = (x0 - 10, "end") if not narrow else (max(x1, 150), "end")
    body = [
        line(x0, y, x1, y, css),
        line(x0, y - 8, x0, y + 8, f"{css} cap"),
        line(x1, y - 8, x1, y + 8, f"{css} cap"),
        f'<path class="likeliest bracket-{crossing.level}" d="M{fig(x - 7)} {fig(y)}l7-7l7 7l-7 7z"/>',
        words(
            label_x,
            y - (24 if not narrow else 26),
            crossing.words,
            css=f"bracket-word word-{crossing.level}",
            anchor=anchor,
            halo=True,
        ),
        words(
            label_x,
            y - (10 if not narrow else 13),
            crossing.detail,
            css=f"caption word-{crossing.level}",
            anchor=anchor,
            halo=True,
        ),
    ]
    return "".join(body)
