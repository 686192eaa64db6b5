"""Pen and paper of the charts: escaped text, short numbers and the outer SVG with its words for readers."""

from markupsafe import Markup, escape


def fig(value: float) -> str:
    """A coordinate with at most one decimal and no trailing zero."""
    text = f"{value:.1f}"
    return text[:-2] if text.endswith(".0") else text


def words(x: float, y: float, text: str, *, css: str = "", anchor: str = "", halo: bool = False) -> str:
    """Text at (x, y), escaped; with a halo it stays readable on top of lines."""
    names = " ".join(name for name in (css, "halo" if halo else "") if name)
    return (
        f'<text x="{fig(x)}" y="{fig(y)}"'
        + (f' class="{names}"' if names else "")
        + (f' text-anchor="{anchor}"' if anchor else "")
        + f">{escape(text)}</text>"
    )


def line(x1: float, y1: float, x2: float, y2: float, css: str) -> str:
    if x1 == x2:
        return f'<path class="{css}" d="M{fig(x1)} {fig(y1)}V{fig(y2)}"/>'
    if y1 == y2:
        return f'<path class="{css}" d="M{fig(x1)} {fig(y1)}H{fig(x2)}"/>'
    return f'<path class="{css}" d="M{fig(x1)} {fig(y1)}L{fig(x2)} {fig(y2)}"/>'


def box(x: float, y: float, width: float, height: float, css: str) -> str:
    return f'<rect class="{css}" x="{fig(x)}" y="{fig(y)}" width="{fig(max(width, 0))}" height="{fig(max(height, 0))}"/>'


def polyline(points: list[tuple[float, float]], css: str) -> str:
    if not points:
        return ""
    return f'<path class="{css}" d="M{"L".join(f"{fig(x)} {fig(y)}" for x, y in points)}"/>'


def titled(body: str, *, title: str) -> str:
    """A group with a tool-tip of its own; without words it needs neither."""
    return body if not title else f"<g><title>{escape(title)}</title>{body}</g>"


def picture(body: str, *, width: float, height: float, title: str, desc: str, css: str) -> Markup:
    """The outer SVG: scales with its column, says in words what it shows.

    Every text in ``body`` must have come through :func:`words`, which escapes.
    """
    return Markup(  # noqa: S704 – parts are numbers of ours or escaped text
        f'<svg class="{css}" viewBox="0 0 {fig(width)} {fig(height)}" role="img" focusable="false">'
        f"<title>{escape(title)}</title><desc>{escape(desc)}</desc>{body}</svg>"
    )


def markup(body: str) -> Markup:
    """Drawing made of escaped parts, as markup."""
    return Markup(body)  # noqa: S704 – parts are numbers of ours or escaped text
