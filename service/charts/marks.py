"""The six level marks: one stroke each, told apart by its end, without colour."""

from functools import cache

from markupsafe import Markup

from service.charts.drawing import markup
from service.domain.words import Level


def end_mark(level: int | None, x: float, y: float, *, size: float = 4.0) -> str:
    """End of a stroke at (x, y): none, ring, disc, diamond or square, as SVG."""
    if level is None or level <= Level.NOTHING_FOUND:
        return ""
    kind = f'class="end end-{int(level)}"'
    if level == Level.LOOK_AGAIN:
        return f'<circle {kind} cx="{x:g}" cy="{y:g}" r="{size * 0.86:g}"/>'
    if level == Level.PLAN_REPAIR:
        return f'<circle {kind} cx="{x:g}" cy="{y:g}" r="{size:g}"/>'
    if level == Level.REPAIR_SOON:
        reach = size * 1.42
        return (
            f'<path {kind} d="M{x:g} {y - reach:g}l{reach:g} {reach:g}'
            f'l{-reach:g} {reach:g}l{-reach:g} {-reach:g}z"/>'
        )
    side = size * 2.15
    return f'<rect {kind} x="{x - side / 2:g}" y="{y - side / 2:g}" width="{side:g}" height="{side:g}"/>'


_STROKES = {
    None: '<path class="ghost-dots" d="M2 14h0m4.5 0h0m4.5 0h0m4.5 0h0m4.5 0h0"/>',
    0: '<path class="calm-wave" d="M2 13c3.2-3 6-3 9.5-.5s6 2 8.5-.5"/>',
    1: '<path class="stroke stroke-1" d="M2 14.5l8.7-2.8"/>',
    2: '<path class="stroke stroke-2" d="M2.5 15.5L14 7"/>',
    3: '<path class="stroke stroke-3" d="M2.5 16L14 7"/>',
    4: '<path class="stem" d="M16 6v12.5"/><path class="stroke stroke-4" d="M3 16.5L16 6"/>',
}
_ENDS = {1: (14.3, 10.4, 4.0), 2: (15.5, 6.0, 4.3), 3: (15.6, 6.4, 4.1), 4: (16.2, 5.6, 4.4)}


@cache
def level_mark(level: int | None) -> Markup:
    """A level's mark at text size; the word always stands beside it, so it is hidden from readers.

    Parameters
    ----------
    level : int or None
        0 … 4, or None for *No verdict*.
    """
    key = None if level is None else int(level)
    end = "" if key not in _ENDS else end_mark(key, _ENDS[key][0], _ENDS[key][1], size=_ENDS[key][2])
    return markup(
        '<svg class="level-mark" width="22" height="20" viewBox="0 0 22 20" aria-hidden="true" focusable="false">'
        f"{_STROKES[key]}{end}</svg>"
    )
