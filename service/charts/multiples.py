"""Like parts side by side on one scale; the gap of the judged one is shaded."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from markupsafe import Markup

from service.charts.axes import Along, Upward
from service.charts.drawing import fig, line, picture, polyline, words
from service.charts.marks import end_mark

WIDTH, HEIGHT = 300, 92


@dataclass(frozen=True, slots=True)
class LikePart:
    """Surface temperatures of one like part in °C over the same visits; None where not read.

    ``reference_c`` is the median of the like parts; given for the judged part only.
    """

    name: str
    readings_c: Sequence[float | None]
    level: int | None
    last_words: str
    reference_c: Sequence[float | None] = ()


def _runs(values: Sequence[float | None], along: list[float], up: Upward) -> list[list[tuple[float, float]]]:
    runs: list[list[tuple[float, float]]] = [[]]
    for x, value in zip(along, values, strict=True):
        if value is None:
            runs.append([])
        else:
            runs[-1].append((x, up(value)))
    return [run for run in runs if run]


def multiples(parts: Sequence[LikePart], on: Sequence[date]) -> list[Markup]:
    """One small drawing per like part, all on one scale.

    Parameters
    ----------
    parts : sequence of LikePart
    on : sequence of date
        Days of the visits, in order; each part has one value (or None) per day.
    """
    known = [value for part in parts for value in (*part.readings_c, *part.reference_c) if value is not None]
    if not known or not on:
        return []
    low, high = min(known), max(known)
    room = max(high - low, 4.0) * 0.12
    up = Upward(low - room, max(high, low + 4.0) + room, 20, HEIGHT - 8)
    clock = Along(on[0], on[-1], 4, WIDTH - 84)
    along = [clock(day) for day in on]
    return [_one(part, along, up) for part in parts]


def _one(part: LikePart, along: list[float], up: Upward) -> Markup:
    body = [line(0, HEIGHT - 6, WIDTH - 80, HEIGHT - 6, "axis"), words(4, 12, part.name, css="axis-title")]
    judged = bool(part.reference_c)
    if judged:
        both = [
            (x, up(mine), up(other))
            for x, mine, other in zip(along, part.readings_c, part.reference_c, strict=True)
            if mine is not None and other is not None
        ]
        if len(both) > 1:
            there = [f"{fig(x)} {fig(mine)}" for x, mine, _ in both]
            back = [f"{fig(x)} {fig(other)}" for x, _, other in reversed(both)]
            body.append(f'<path class="gap" d="M{"L".join(there + back)}z"/>')
        body.extend(polyline(run, "gap-edge") for run in _runs(part.reference_c, along, up))
    css = f"part-run run-{part.level or 0}" if judged else "part-run"
    body.extend(polyline(run, css) for run in _runs(part.readings_c, along, up))
    last = next(
        (
            (x, value)
            for x, value in zip(reversed(along), reversed(part.readings_c), strict=True)
            if value is not None
        ),
        None,
    )
    if last is None:
        body.append(words(4, HEIGHT - 14, "not read at these visits", css="caption"))
    else:
        x, y = last[0], up(last[1])
        mark = end_mark(part.level, round(x, 1), round(y, 1), size=4) if judged else ""
        body.append(mark or f'<circle class="dot" cx="{fig(x)}" cy="{fig(y)}" r="3"/>')
        body.append(words(x + 10, y + 4.5, part.last_words, css="value"))
    desc = f"Last {part.last_words}." + (
        " The shaded gap is its rise over the median of the like parts." if judged else ""
    )
    return picture("".join(body), width=WIDTH, height=HEIGHT, title=part.name, desc=desc, css="multiple")
