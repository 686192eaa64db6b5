"""Twelve months as tiny columns, the last one in ink."""

from collections.abc import Sequence

from markupsafe import Markup

from service.charts.drawing import box, picture


def months(counts: Sequence[int], *, title: str, level: int | None = None, of: int | None = None) -> Markup:
    """Columns of up to twelve month-ends, oldest first.

    Parameters
    ----------
    counts : sequence of int
    of : int, optional
        What the full height stands for; the greatest count otherwise.
    """
    width, height, gap = 108, 20, 9
    top = max(of or 0, *counts, 1) if counts else 1
    start = 12 - len(counts)
    css = "none" if level is None else str(int(level))
    body = []
    for index, count in enumerate(counts):
        tall = 0.8 if not count else max(1.6, count / top * (height - 1))
        now = index == len(counts) - 1
        body.append(
            box((start + index) * gap, height - tall, 6.4, tall, f"month month-{css}{' now' if now else ''}")
        )
    desc = f"Month-ends, oldest first: {', '.join(map(str, counts))}." if counts else "No month-end yet."
    return picture("".join(body), width=width, height=height, title=title, desc=desc, css="months")
