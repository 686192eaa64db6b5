"""The round as a timetable: clock across, stops down, load hours as bands, the walk as one line."""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from markupsafe import Markup, escape

from service.charts.drawing import fig, markup

#: height of a stop's row; the list beside the drawing keeps the same (--stop in tokens.css)
ROW = 54
HEAD = 34
FOOT = 12
#: per cent of the width that the words of a band need beside a block, at the narrowest drawing
WORDS_WIDE, WORDS_GAP = 16.0, 0.8


@dataclass(frozen=True, slots=True)
class LoadBand:
    """Minutes of the day in which the equipment usually carries enough load to clear."""

    start_min: float
    end_min: float
    words: str = ""


@dataclass(frozen=True, slots=True)
class TimetableStop:
    """One stop: minutes of the day at the equipment, its load hours, and whether they are missed."""

    name: str
    arrive_min: float
    leave_min: float
    bands: Sequence[LoadBand] = ()
    off_hours: bool = False
    travel_words: str = ""


@dataclass(frozen=True, slots=True)
class Timetable:
    start_min: float
    end_min: float
    stops: Sequence[TimetableStop]
    leave_base_min: float | None = None


class _Clock:
    def __init__(self, start: float, end: float) -> None:
        self.start, self.length = start, max(end - start, 1.0)

    def share(self, minute: float) -> float:
        """Per cent across, inside the drawing."""
        return min(max((minute - self.start) / self.length * 100, 0.0), 100.0)


def _block(stop: TimetableStop, clock: _Clock, *, y: float, tall: float) -> str:
    x, width = clock.share(stop.arrive_min), clock.share(stop.leave_min) - clock.share(stop.arrive_min)
    place = f'x="{x:.2f}%" y="{fig(y)}" width="{max(width, 0.4):.2f}%" height="{fig(tall)}"'
    if not stop.off_hours:
        return f'<rect class="at-stop" {place}/>'
    return (
        f'<rect class="off-hours" {place}/><line class="off-slash" x1="{x:.2f}%" y1="{fig(y + tall)}" '
        f'x2="{x + max(width, 0.4):.2f}%" y2="{fig(y)}"/>'
    )


def _bands(
    stop: TimetableStop, clock: _Clock, *, y: float, tall: float, taken: tuple[float, float] | None = None
) -> str:
    """The load hours of a stop; their words where ``taken`` says what of the width block and walk need."""
    body = []
    for band in stop.bands:
        x, end = clock.share(band.start_min), clock.share(band.end_min)
        if end <= x:
            continue
        body.append(
            f'<rect class="load-hours" x="{x:.2f}%" y="{fig(y)}" width="{end - x:.2f}%" height="{fig(tall)}"/>'
        )
        if taken is not None and band.words and end - x > WORDS_WIDE / 2:
            body.append(_band_words(band.words, x, end, y=y, tall=tall, taken=taken))
    return "".join(body)


def _band_words(
    words: str, x: float, end: float, *, y: float, tall: float, taken: tuple[float, float]
) -> str:
    """At the right end of a band; beside what would cover it, or above the band where it has no room."""
    place, down = end - WORDS_GAP, y + tall / 2 + 4
    if taken[1] > end - WORDS_WIDE and taken[0] < end:
        if min(taken[0], end) - x >= WORDS_WIDE:
            place = min(taken[0], end) - WORDS_GAP
        else:
            down = y - 3
    return (
        f'<text class="band-word" x="{place:.2f}%" y="{fig(down)}" text-anchor="end">{escape(words)}</text>'
    )


def _taken(table: Timetable, clock: _Clock, index: int) -> tuple[float, float]:
    """From where to where block and walk cross the row of a stop [per cent of the width]."""
    stop = table.stops[index]
    before = table.stops[index - 1].leave_min if index else table.leave_base_min
    after = table.stops[index + 1].arrive_min if index + 1 < len(table.stops) else None
    begin = stop.arrive_min if before is None else (before + stop.arrive_min) / 2
    end = stop.leave_min if after is None else (stop.leave_min + after) / 2
    return clock.share(min(begin, stop.arrive_min)), clock.share(max(end, stop.leave_min))


def _hours(clock: _Clock, height: float) -> str:
    body = []
    first = -(-int(clock.start) // 60)
    step = 1 if clock.length <= 660 else 2
    for hour in range(first, int((clock.start + clock.length) // 60) + 1, step):
        x = clock.share(hour * 60)
        anchor = "start" if x < 2 else "end" if x > 97 else "middle"
        body.append(
            f'<line class="grid" x1="{x:.2f}%" y1="{HEAD - 5}" x2="{x:.2f}%" y2="{fig(height - FOOT)}"/>'
        )
        body.append(
            f'<text class="tick" x="{x:.2f}%" y="{HEAD - 12}" text-anchor="{anchor}">{hour % 24:02d}:00</text>'
        )
    return "".join(body)


def _walk(table: Timetable, clock: _Clock, height: float) -> str:
    """One line through all stops, in a part stretched across so that it keeps its weight."""
    points: list[tuple[float, float]] = []
    if table.leave_base_min is not None:
        points.append((clock.share(table.leave_base_min), HEAD))
    for index, stop in enumerate(table.stops):
        y = HEAD + index * ROW + ROW / 2
        points += [(clock.share(stop.arrive_min), y), (clock.share(stop.leave_min), y)]
    path = "L".join(f"{x * 10:.0f} {fig(y)}" for x, y in points)
    return (
        f'<svg width="100%" height="{fig(height)}" viewBox="0 0 1000 {fig(height)}" preserveAspectRatio="none">'
        f'<path class="walk-line" d="M{path}"/></svg>'
        if points
        else ""
    )


def timetable_svg(table: Timetable) -> Markup:
    """The right-hand part of the builder; rows match a list of ``ROW``-pixel items after a ``HEAD``-pixel head.

    Parameters
    ----------
    table : Timetable
        Stops in walking order; times in minutes after midnight on the site's clock.
    """
    clock = _Clock(table.start_min, table.end_min)
    height = HEAD + len(table.stops) * ROW + FOOT
    body = [_hours(clock, height)]
    for index, stop in enumerate(table.stops):
        y = HEAD + index * ROW
        body.append(f'<line class="grid" x1="0" y1="{y}" x2="100%" y2="{y}"/>')
        body.append(_bands(stop, clock, y=y + 14, tall=26, taken=_taken(table, clock, index)))
    body.append(_walk(table, clock, height))
    for index, stop in enumerate(table.stops):
        y = HEAD + index * ROW
        body.append(f"<g><title>{escape(_said(stop))}</title>{_block(stop, clock, y=y + 20, tall=14)}</g>")
    for index, (before, stop) in enumerate(pairwise(table.stops)):
        if stop.travel_words:
            middle = (clock.share(before.leave_min) + clock.share(stop.arrive_min)) / 2
            x, anchor = (middle + 0.8, "start") if middle < 80 else (middle - 4, "end")
            y = HEAD + (index + 1) * ROW - 4
            body.append(
                f'<text class="travel halo" x="{x:.2f}%" y="{y}" text-anchor="{anchor}">{escape(stop.travel_words)}</text>'
            )
    off = sum(stop.off_hours for stop in table.stops)
    desc = f"{len(table.stops)} stops, {off} outside their load hours. " + " ".join(
        _said(stop) + "." for stop in table.stops
    )
    return markup(
        f'<svg class="timetable" width="100%" height="{fig(height)}" role="img" focusable="false">'
        f"<title>The round as a timetable</title><desc>{escape(desc)}</desc>{''.join(body)}</svg>"
    )


def stop_bar(stop: TimetableStop, *, start_min: float, end_min: float) -> Markup:
    """One stop's load hours and visit block, for the narrow list."""
    clock = _Clock(start_min, end_min)
    return markup(
        '<svg class="stop-bar" width="100%" height="14" role="img" focusable="false">'
        f"<title>{escape(_said(stop))}</title>"
        f'{_bands(stop, clock, y=1, tall=10)}<line class="floor" x1="0" y1="12" x2="100%" y2="12"/>'
        f"{_block(stop, clock, y=1, tall=10)}</svg>"
    )


def timetable_key() -> Markup:
    """What bands, blocks and slashes mean."""
    return markup(
        '<ul class="legend"><li><svg width="30" height="14" aria-hidden="true"><rect class="load-hours" width="30" height="14"/></svg>'
        "usually at 40 % load or more</li>"
        '<li><svg width="30" height="14" aria-hidden="true"><path class="walk-line" d="M0 7H30"/><rect class="at-stop" x="7" y="1" width="16" height="12"/></svg>'
        "at the equipment, between walks</li>"
        '<li><svg width="30" height="14" aria-hidden="true"><rect class="off-hours" x="3" y="1" width="24" height="12"/>'
        '<line class="off-slash" x1="3" y1="13" x2="27" y2="1"/></svg>outside its load hours: can accuse, not clear</li></ul>'
    )


def _said(stop: TimetableStop) -> str:
    hours, rest = divmod(round(stop.arrive_min), 60)
    minutes = round(stop.leave_min - stop.arrive_min)
    late = ", outside its load hours" if stop.off_hours else ""
    return f"{stop.name}: {hours % 24:02d}:{rest:02d}, {minutes} minutes{late}"
