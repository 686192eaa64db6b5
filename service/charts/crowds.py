"""More visits than the paper can tell apart: a path for each kind of mark, and no tool-tips."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from service.charts.axes import Along, Upward
from service.charts.history_record import History, Sheet, Shown, Visit

#: beyond this, marks lie on top of each other; Explore and the table still tell every visit
MOST_MARKS = 400

Floats = NDArray[np.float64]


def are_crowded(visits: Sequence[object]) -> bool:
    return len(visits) > MOST_MARKS


def crowd_of_marks(visits: Sequence[Visit], *, up: Upward, along: Along) -> str:
    """Dots, rings, crosses, whiskers and ticks of the values as measured, each kind as one path."""
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
            _path("whisker", "M%.1f %.1fV%.1f", (x[known], (y - u_px)[known], (y + u_px)[known])),
            _path("raw", "M%.1f %.1fh6", ((x - 3)[apart], raw[apart])),
            _path("dots", "M%.1f %.1fh0", (x[counts], y[counts])),
            _path("hollow", "M%.1f %.1fa2 2 0 1 0 4 0a2 2 0 1 0-4 0", ((x - 2)[rings], y[rings])),
            _path("cross", "M%.1f %.1fl5 5m0-5l-5 5", ((x - 2.5)[unread], cross_y[unread])),
        )
    )


def crowd_of_loads(history: History, least_percent: float, *, along: Along, sheet: Sheet) -> str:
    """Load as upright strokes; those too low to clear in a path of their own."""
    load = np.array([visit.load_percent for visit in history.visits], dtype=np.float64)
    bottom, scale = sheet.load_bottom, (sheet.load_bottom - sheet.load_top) / 120
    x, y = _places(history.visits, along), bottom - np.minimum(load, 120) * scale
    enough = load >= least_percent
    low = load < least_percent
    floor = np.full_like(x, bottom)
    return _path("loads", "M%.1f %.1fV%.1f", (x[enough], floor[enough], y[enough])) + _path(
        "loads low", "M%.1f %.1fV%.1f", (x[low], floor[low], y[low])
    )


def crowded_line(visits: Sequence[Visit], css: str, *, up: Upward, along: Along) -> str:
    """The line through visits that all have a value."""
    x, y = _places(visits, along), _heights([visit.value_k for visit in visits], up)
    return _path(css, "L%.1f %.1f", (x, y)).replace('d="L', 'd="M', 1)


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
