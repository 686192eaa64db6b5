"""A month of walks: a row per walk, clock across, its stops as blocks on one line."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from markupsafe import Markup, escape

from service.charts.drawing import fig, markup
from service.domain.site_clock import minute_of_day

ROW = 22


@dataclass(frozen=True, slots=True)
class WalkStop:
    """One stop: when work begins and ends [min of the day], and what it is marked for."""

    name: str
    start_min: float
    end_min: float
    covered: bool = False
    must: bool = False


@dataclass(frozen=True, slots=True)
class WalkStrip:
    """One walk, within the hours that all strips of the page share [min of the day]."""

    from_min: float
    to_min: float
    shift: tuple[float, float]
    stops: Sequence[WalkStop]
    leave_min: float = 0.0
    back_min: float = 0.0


def walk_strip(strip: WalkStrip) -> Markup:
    """One row of the month: the shift as a band, the walk as a line, stops as blocks.

    Behind a cover a block is open below; what cannot wait is drawn full height.
    """
    length = max(strip.to_min - strip.from_min, 1.0)

    def share(minute: float) -> float:
        return min(max((minute - strip.from_min) / length * 100, 0.0), 100.0)

    middle = ROW / 2
    begin, end = share(strip.shift[0]), share(strip.shift[1])
    body = [
        f'<rect class="load-hours" x="{begin:.2f}%" y="2" width="{max(end - begin, 0):.2f}%" height="{ROW - 4}"/>'
    ]
    if strip.stops:
        body.append(
            f'<line class="walk-line" x1="{share(strip.leave_min):.2f}%" y1="{fig(middle)}" '
            f'x2="{share(strip.back_min):.2f}%" y2="{fig(middle)}"/>'
        )
    body += [_block(stop, share) for stop in strip.stops]
    return markup(
        f'<svg class="walk-strip" width="100%" height="{ROW}" role="img" '
        f'aria-label="{escape(_said(strip))}">{"".join(body)}</svg>'
    )


def _block(stop: WalkStop, share: Callable[[float], float]) -> str:
    x = share(stop.start_min)
    width = max(share(stop.end_min) - x, 0.5)
    tall = ROW - 6 if stop.must else ROW - 12
    y = (ROW - tall) / 2
    kind = "at-stop covered" if stop.covered else "at-stop"
    return (
        f"<g><title>{escape(stop.name)}</title>"
        f'<rect class="{kind}" x="{x:.2f}%" y="{fig(y)}" width="{width:.2f}%" height="{fig(tall)}"/></g>'
    )


def _said(strip: WalkStrip) -> str:
    if not strip.stops:
        return "No stop"
    hours = f"{minute_of_day(strip.leave_min)} to {minute_of_day(strip.back_min)}"
    return f"{len(strip.stops)} stop{'' if len(strip.stops) == 1 else 's'}, {hours}"
