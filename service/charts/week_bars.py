"""One week of a plan as a small bar: minutes walked within those offered, what is kept in reserve hatched."""

from markupsafe import Markup, escape

from service.charts.drawing import fig, markup

WIDTH, HEIGHT = 160.0, 12.0


def week_bar(
    planned_min: float, offered_min: float, kept_min: float, *, most_min: float, said: str
) -> Markup:
    """A bar on a scale that all weeks of the page share.

    Parameters
    ----------
    planned_min, offered_min, kept_min : float
        Walked; offered in all; of it kept in reserve [min].
    most_min : float
        What the whole width stands for [min].
    said : str
        The same in words.
    """
    scale = WIDTH / max(most_min, 1.0)
    offered, planned, kept = (round(value * scale, 1) for value in (offered_min, planned_min, kept_min))
    body = f'<rect class="load-hours" x="0" y="1" width="{fig(offered)}" height="{fig(HEIGHT - 2)}"/>'
    if kept:
        body += (
            f'<rect class="kept" x="{fig(max(offered - kept, 0))}" y="1.5" width="{fig(kept)}" '
            f'height="{fig(HEIGHT - 3)}"/>'
        )
    if planned:
        body += f'<rect class="at-stop" x="0" y="3" width="{fig(planned)}" height="{fig(HEIGHT - 6)}"/>'
    return markup(
        f'<svg class="walk-strip week-bar" width="{fig(WIDTH)}" height="{fig(HEIGHT)}" '
        f'viewBox="0 0 {fig(WIDTH)} {fig(HEIGHT)}" role="img" aria-label="{escape(said)}">{body}</svg>'
    )
