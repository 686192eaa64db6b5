"""The hours of the day as visits found them: what is typed, what was seen loaded or idle, each visit."""

from collections.abc import Sequence
from dataclasses import dataclass

from markupsafe import Markup, escape

from service.charts.drawing import fig, markup

HEAD, ROW, FOOT = 22, 54, 4
_DAY = 24 * 60
_EVERY = 3
#: lines of dots under the bars
_LINES = 5
Windows = Sequence[tuple[int, int]]


@dataclass(frozen=True, slots=True)
class LoadRow:
    """Days of one sort: windows and visits in minutes from midnight on the site's clock."""

    name: str
    typed: Windows
    loaded: Windows
    idle: Windows
    visits: Sequence[tuple[float, bool]]


def load_week_svg(rows: Sequence[LoadRow]) -> Markup:
    """A row for each sort of days: the typed hours as a band, what was seen on it, visits as dots."""
    height = HEAD + ROW * len(rows) + FOOT
    body = [_hours(height)]
    for place, row in enumerate(rows):
        body.append(_row(row, y=HEAD + place * ROW))
    said = " ".join(_said(row) for row in rows)
    return markup(
        f'<svg class="load-week" width="100%" height="{height}" role="img" focusable="false">'
        f"<title>Load hours, typed and seen</title><desc>{escape(said)}</desc>{''.join(body)}</svg>"
    )


def _x(minute: float) -> str:
    return f"{min(max(minute / _DAY, 0.0), 1.0) * 100:.2f}%"


def _hours(height: float) -> str:
    body = []
    for hour in range(0, 25, _EVERY):
        anchor = "start" if hour == 0 else "end" if hour == 24 else "middle"
        x = _x(60 * hour)
        body.append(f'<line class="grid" x1="{x}" y1="{HEAD - 4}" x2="{x}" y2="{fig(height - FOOT)}"/>')
        body.append(f'<text class="tick" x="{x}" y="{HEAD - 9}" text-anchor="{anchor}">{hour:02d}</text>')
    return "".join(body)


def _row(row: LoadRow, *, y: float) -> str:
    body = [f'<text class="tick halo" x="0" y="{fig(y + 13)}">{escape(row.name)}</text>']
    body += [_rect("load-hours", window, y=y + 18, tall=28) for window in row.typed]
    body += [_rect("seen-loaded", window, y=y + 19, tall=5) for window in row.loaded]
    body += [_rect("seen-idle", window, y=y + 19, tall=5) for window in row.idle]
    body += [
        _dot(minute, loaded, y=y + 29 + place % _LINES * 3) for place, (minute, loaded) in _in_front(row)
    ]
    return "".join(body) + f'<line class="floor" x1="0" y1="{fig(y + 46)}" x2="100%" y2="{fig(y + 46)}"/>'


def _in_front(row: LoadRow) -> list[tuple[int, tuple[float, bool]]]:
    """Visits by the clock, each on the next of a few lines, so that those of one hour stand side by side."""
    return list(enumerate(sorted(row.visits)))


def _dot(minute: float, loaded: bool, *, y: float) -> str:
    return f'<circle class="{"visit-loaded" if loaded else "visit-idle"}" cx="{_x(minute)}" cy="{fig(y)}" r="2.4"/>'


def _rect(css: str, window: tuple[int, int], *, y: float, tall: float) -> str:
    low, high = window
    share = (high - low) / _DAY * 100
    return f'<rect class="{css}" x="{_x(low)}" y="{fig(y)}" width="{share:.2f}%" height="{fig(tall)}"/>'


def load_week_key() -> Markup:
    """What band, bars and dots mean."""
    return markup(
        '<ul class="legend">'
        '<li><svg width="30" height="14" aria-hidden="true"><rect class="load-hours" width="30" height="14"/></svg>typed</li>'
        '<li><svg width="30" height="14" aria-hidden="true"><rect class="seen-loaded" y="4" width="30" height="6"/></svg>seen loaded</li>'
        '<li><svg width="30" height="14" aria-hidden="true"><rect class="seen-idle" x="1" y="4" width="28" height="6"/></svg>seen idle</li>'
        '<li><svg width="30" height="14" aria-hidden="true"><circle class="visit-loaded" cx="8" cy="7" r="3"/><circle class="visit-idle" cx="22" cy="7" r="3"/></svg>'
        "visit at 40 % load or more, and below</li></ul>"
    )


def _said(row: LoadRow) -> str:
    loaded = sum(one for _, one in row.visits)
    return f"{row.name}: {loaded} of {len(row.visits)} visits with load; seen loaded {_times(row.loaded)}, idle {_times(row.idle)}."


def _times(windows: Windows) -> str:
    told = [f"{a // 60:02d}:{a % 60:02d} to {b // 60:02d}:{b % 60:02d}" for a, b in windows]
    return ", ".join(told) or "nowhere"
