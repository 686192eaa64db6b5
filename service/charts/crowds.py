"""More visits than the paper can tell apart: a bar from the lowest to the highest of a few days.

No mark is left out by chance: where several share a bar's width, its ends are those of the
outermost of them. Every single visit is in the table, in the file and in Explore.
"""

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from service.charts.axes import Along, Upward
from service.charts.history_record import History, Sheet, Shown, Visit

#: beyond this, marks lie on top of each other
MOST_MARKS = 400
#: width of a bar [px]: that of a dot
BAR = 3.0

Floats = NDArray[np.float64]


def are_crowded(visits: Sequence[object]) -> bool:
    return len(visits) > MOST_MARKS


def crowd_words(along: Along) -> str:
    """A bar spans the lowest to the highest of 9 days."""
    days = (along.last - along.first).days / max(along.right - along.left, 1) * BAR
    span = max(1, math.ceil(days))
    return f"A bar spans the lowest to the highest of {span} {'day' if span == 1 else 'days'}."


def crowd_of_marks(visits: Sequence[Visit], *, up: Upward, along: Along) -> str:
    """Dots, rings, crosses, whiskers and values as measured, each kind as one path of bars."""
    x = _places(visits, along)
    y = _heights([visit.value_k for visit in visits], up)
    unread = np.isnan(y) | np.array([visit.shown is Shown.NOT_ASSESSABLE for visit in visits])
    counts = ~unread & np.array([visit.shown is Shown.COUNTS for visit in visits])
    raw = _heights([visit.raw_k for visit in visits], up)
    apart = ~unread & (np.abs(raw - y) > 1.5)
    u_px = np.array([visit.u_k for visit in visits], dtype=np.float64) * (up(0.0) - up(1.0))
    known = ~unread & ~np.isnan(u_px)
    rings = ~unread & ~counts
    cross_y = np.full_like(x, up(0.0) - 10.5)
    return "".join(
        (
            _path("whisker", "M%.1f %.1fV%.1f", _bars(x[known], (y - u_px)[known], (y + u_px)[known])),
            _path("raws", "M%.1f %.1fV%.1f", _bars(x[apart], raw[apart], raw[apart])),
            _path("dots", "M%.1f %.1fV%.1f", _bars(x[counts], y[counts], y[counts])),
            _rings(x[rings], y[rings]),
            _path("cross", "M%.1f %.1fl5 5m0-5l-5 5", _bars(x[unread] - 2.5, cross_y[unread])),
        )
    )


def crowd_of_loads(history: History, least_percent: float, *, along: Along, sheet: Sheet) -> str:
    """Load as upright strokes, the highest of each bar's days; those too low to clear in a path of their own."""
    load = np.array([visit.load_percent for visit in history.visits], dtype=np.float64)
    bottom, scale = sheet.load_bottom, (sheet.load_bottom - sheet.load_top) / 120
    x, y = _places(history.visits, along), bottom - np.minimum(load, 120) * scale
    floor = np.full_like(x, bottom)
    strokes = [
        _path(css, "M%.1f %.1fV%.1f", _bars(x[chosen], y[chosen], floor[chosen]))
        for css, chosen in (("loads", load >= least_percent), ("loads low", load < least_percent))
    ]
    return "".join(strokes)


def crowded_line(visits: Sequence[Visit], css: str, *, up: Upward, along: Along) -> str:
    """The line through visits that all have a value, by the middle of each bar."""
    x, y = _places(visits, along), _heights([visit.value_k for visit in visits], up)
    starts, counts = _columns(x)
    middle = (np.add.reduceat(x, starts) / counts, np.add.reduceat(y, starts) / counts)
    return _path(css, "L%.1f %.1f", middle).replace('d="L', 'd="M', 1)


def _columns(x: Floats) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Where each bar's visits begin, and how many they are; ``x`` never falls."""
    starts = np.flatnonzero(np.diff(np.floor(x / BAR), prepend=-np.inf) > 0)
    return starts, np.diff(starts, append=len(x))


def _bars(x: Floats, *heights: Floats) -> tuple[Floats, ...]:
    """Per bar its middle, the least of the first heights and the greatest of the last."""
    if not x.size:
        return (x, *heights)
    starts, counts = _columns(x)
    ends = [np.minimum.reduceat(heights[0], starts)]
    if len(heights) > 1:
        ends.append(np.maximum.reduceat(heights[-1], starts))
    return (np.add.reduceat(x, starts) / counts, *ends)


def _rings(x: Floats, y: Floats) -> str:
    """A ring at each end of a bar: what can only accuse is never inside another mark."""
    middle, top, bottom = _bars(x, y, y)
    twice = bottom - top > 1
    at = (np.concatenate([middle, middle[twice]]) - 2, np.concatenate([top, bottom[twice]]))
    return _path("hollow", "M%.1f %.1fa2 2 0 1 0 4 0a2 2 0 1 0-4 0", at)


def _places(visits: Sequence[Visit], along: Along) -> Floats:
    days = np.array([visit.on.toordinal() for visit in visits], dtype=np.float64)
    span = max((along.last - along.first).days, 1)
    placed: Floats = along.left + (days - along.first.toordinal()) / span * (along.right - along.left)
    return placed


def _heights(values: Sequence[float | None], up: Upward) -> Floats:
    share = (np.array(values, dtype=np.float64) - up.low) / (up.high - up.low)
    heights: Floats = up.bottom - share * (up.bottom - up.top)
    return heights


def _path(css: str, piece: str, columns: tuple[Floats, ...]) -> str:
    """One % over all of them is far quicker than a call per mark."""
    table = np.column_stack(columns)
    if not table.size:
        return ""
    return f'<path class="{css}" d="{(piece * len(table)) % tuple(table.ravel().tolist())}"/>'
