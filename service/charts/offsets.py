"""What the rounds of a site shared, round by round: a dot with its interval, about a line at nought."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from markupsafe import Markup

from service.charts.axes import Along, Upward, tick_word, ticks
from service.charts.drawing import fig, line, picture, titled, words

WIDTH, HEIGHT = 420, 120
TICKS = 8
_LEFT, _RIGHT, _TOP, _BOTTOM = 40, 412, 10, 98


@dataclass(frozen=True, slots=True)
class OffsetDot:
    """One round: its day, what it shared and the half-width of that, in the drawing's unit."""

    on: date
    offset: float
    half_width: float
    tip: str


def offsets_chart(dots: Sequence[OffsetDot], *, title: str, desc: str, unit: str, most: float) -> Markup:
    """Draw them in order of day; dots beyond ``most`` are set as squares, so that shape tells too."""
    if not dots:
        return picture("", width=WIDTH, height=HEIGHT, title=title, desc=desc, css="offsets")
    reach = max(most, *(abs(dot.offset) + dot.half_width for dot in dots)) * 1.05
    up = Upward(-reach, reach, _TOP, _BOTTOM)
    along = Along(dots[0].on, dots[-1].on, _LEFT + 8, _RIGHT - 8)
    body = [
        line(_LEFT, up(tick), _RIGHT, up(tick), "axis" if tick == 0 else "grid")
        for tick in ticks(-reach, reach, TICKS)
    ]
    body += [
        words(_LEFT - 6, up(tick) + 3.5, tick_word(tick), css="tick", anchor="end")
        for tick in ticks(-reach, reach, TICKS)
    ]
    body.append(words(_LEFT, HEIGHT - 4, f"{dots[0].on:%Y}", css="tick"))
    if dots[-1].on.year != dots[0].on.year:
        body.append(words(_RIGHT, HEIGHT - 4, f"{dots[-1].on:%Y}", css="tick", anchor="end"))
    body.append(words(_RIGHT, _TOP + 2, unit, css="tick", anchor="end"))
    for dot in dots:
        x, y = along(dot.on), up(dot.offset)
        bar = line(x, up(dot.offset - dot.half_width), x, up(dot.offset + dot.half_width), "offset-bar")
        mark = (
            f'<rect class="offset-far" x="{fig(x - 3)}" y="{fig(y - 3)}" width="6" height="6"/>'
            if abs(dot.offset) >= most
            else f'<circle class="offset-dot" cx="{fig(x)}" cy="{fig(y)}" r="2.4"/>'
        )
        body.append(titled(bar + mark, title=dot.tip))
    return picture("".join(body), width=WIDTH, height=HEIGHT, title=title, desc=desc, css="offsets")
