"""The forecast fan, and the crossing bracket that lies on the action line."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

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


def fan(rows: Sequence[tuple[date, float, float]], *, up: Upward, along: Along, level: int | None) -> str:
    """Region between the low and the high path; no line in it that could be read as a promise."""
    if len(rows) < 2:
        return ""
    there = [f"{fig(along(day))} {fig(up(high))}" for day, _, high in rows]
    back = [f"{fig(along(day))} {fig(up(low))}" for day, low, _ in reversed(rows)]
    return f'<path class="fan fan-{level or 0}" d="M{"L".join(there + back)}z"/>'


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
