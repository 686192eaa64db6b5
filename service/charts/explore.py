"""The point history as a plotly figure, for looking closer; colours are names that the page fills in."""

from collections.abc import Sequence
from datetime import date
from typing import Any

from service.charts.history_record import History, Shown, Visit, clipped, value_range

Figure = dict[str, Any]

_COLOURS = {1: "var(--look)", 2: "var(--plan)", 3: "var(--soon)", 4: "var(--act)"}


def _trace(name: str, visits: list[Visit], symbol: str, **marker: Any) -> Figure:
    return {
        "type": "scatter",
        "mode": "markers",
        "name": name,
        "x": [visit.on.isoformat() for visit in visits],
        "y": [visit.value_k for visit in visits],
        "text": [visit.words for visit in visits],
        "hovertemplate": "%{x|%-d %b %Y}<br>%{text}<extra></extra>",
        "marker": {"symbol": symbol, "size": 8, "color": "var(--ink)", **marker},
        "error_y": {
            "type": "data",
            "array": [visit.u_k or 0 for visit in visits],
            "visible": any(visit.u_k is not None for visit in visits),
            "color": "var(--ink-3)",
            "thickness": 1,
            "width": 0,
        },
    }


def _series(history: History) -> list[Figure]:
    counting = [
        visit for visit in history.visits if visit.shown is Shown.COUNTS and visit.value_k is not None
    ]
    low = [
        visit for visit in history.visits if visit.shown is Shown.ACCUSES_ONLY and visit.value_k is not None
    ]
    raw = [visit for visit in history.visits if visit.raw_k is not None]
    traces = []
    if counting:
        traces.append(_trace("Rise", counting, "circle"))
    if low:
        traces.append(_trace("At least", low, "circle-open", color="var(--ink-3)"))
    if raw:
        traces.append(
            {
                "type": "scatter",
                "mode": "markers",
                "name": "As measured",
                "x": [visit.on.isoformat() for visit in raw],
                "y": [visit.raw_k for visit in raw],
                "hovertemplate": f"%{{x|%-d %b %Y}}<br>%{{y:.1f}} {history.unit} as measured<extra></extra>",
                "marker": {"symbol": "line-ew-open", "size": 9, "color": "var(--ink-3)"},
            }
        )
    if history.fit is not None:
        traces.append(
            {
                "type": "scatter",
                "mode": "lines",
                "name": "Trend",
                "x": [day.isoformat() for day, _ in clipped(history.fit, *value_range(history))],
                "y": [value for _, value in clipped(history.fit, *value_range(history))],
                "hoverinfo": "skip",
                "line": {"color": "var(--ink)", "width": 2},
            }
        )
    return traces


def _forecast(history: History) -> list[Figure]:
    """The fan as two regions, and the range of dates as a bar that lies on its line."""
    traces = []
    if len(history.fan_k) > 1:
        traces += [
            _region(
                "Nine in ten", history, [(row.on, row.low, row.high) for row in history.fan_k], opacity=0.18
            ),
            _region(
                "One in two", history, [(row.on, row.lower, row.upper) for row in history.fan_k], opacity=0.3
            ),
        ]
    if (crossing := history.crossing) is not None:
        days = (crossing.earliest, crossing.likeliest, crossing.latest)
        traces.append(
            {
                "type": "scatter",
                "mode": "lines",
                "name": "Reaches its line, nine in ten",
                "x": [day.isoformat() for day in days],
                "y": [crossing.line_k] * len(days),
                "text": [f"{crossing.words}, {crossing.detail}"] * len(days),
                "hovertemplate": "%{text}<extra></extra>",
                "line": {"color": _COLOURS.get(crossing.level, "var(--ink)"), "width": 6},
            }
        )
    return traces


def _region(
    name: str, history: History, edges: Sequence[tuple[date, float, float]], *, opacity: float
) -> Figure:
    """Between two curves, cut off where the paper ends."""
    low, high = value_range(history)
    there = [(day, top) for day, _, top in edges]
    ring = there + [(day, below) for day, below, _ in reversed(edges)]
    return {
        "type": "scatter",
        "mode": "lines",
        "name": name,
        "x": [day.isoformat() for day, _ in ring],
        "y": [min(max(value, low), high) for _, value in ring],
        "fill": "toself",
        "fillcolor": _COLOURS.get(history.level or 0, "var(--ink-3)"),
        "line": {"width": 0},
        "opacity": opacity,
        "hoverinfo": "skip",
    }


def _load(history: History) -> list[Figure]:
    loaded = [visit for visit in history.visits if visit.load_percent is not None]
    if history.least_load_percent is None or not loaded:
        return []
    return [
        {
            "type": "bar",
            "name": "Load, %",
            "x": [visit.on.isoformat() for visit in loaded],
            "y": [visit.load_percent for visit in loaded],
            "yaxis": "y2",
            "width": 86400000 * 6,
            "marker": {"color": "var(--ink-3)"},
            "hovertemplate": "%{x|%-d %b %Y}<br>%{y:.0f} % load<extra></extra>",
        }
    ]


def _shapes(history: History) -> tuple[list[Figure], list[Figure]]:
    shapes: list[Figure] = []
    notes: list[Figure] = []
    for row in history.lines:
        colour = _COLOURS.get(row.level, "var(--ink-3)")
        shapes.append(
            {"type": "line", "xref": "paper", "x0": 0, "x1": 1, "y0": row.value_k, "y1": row.value_k}
            | {"line": {"color": colour, "width": 1 + 0.4 * row.level}}
        )
        notes.append(
            {
                "xref": "paper",
                "x": 1,
                "y": row.value_k,
                "text": row.words,
                "showarrow": False,
                "xanchor": "left",
            }
            | {"font": {"color": colour}}
        )
    for place, seam in enumerate(history.seams):
        day = seam.on.isoformat()
        shapes.append(
            {"type": "line", "yref": "paper", "x0": day, "x1": day, "y0": 0, "y1": 1}
            | {"line": {"color": "var(--line)", "width": 2}}
        )
        notes.append(
            {
                "yref": "paper",
                "x": day,
                # three heights in turn, so that repairs a few months apart do not overprint
                "y": 1,
                "yanchor": "bottom",
                "yshift": 2 + 14 * (place % 3),
                "text": seam.title,
                "showarrow": False,
                "font": {"color": "var(--line)"},
            }
        )
    return shapes, notes


def history_figure(history: History) -> Figure:
    """Figure of the whole history: plain lists, no template, nothing of the library's own look.

    Returns
    -------
    dict
        ``data`` and ``layout`` for plotly.js; colours are "var(--name)" for the page to resolve.
    """
    shapes, notes = _shapes(history)
    load = _load(history)
    axis: Figure = {
        "gridcolor": "var(--rule)",
        "linecolor": "var(--rule-strong)",
        "zerolinecolor": "var(--rule-strong)",
    }
    layout: Figure = {
        "template": None,
        "height": 500,
        "paper_bgcolor": "var(--sheet)",
        "plot_bgcolor": "var(--sheet)",
        "font": {"family": "Atkinson Hyperlegible, system-ui, sans-serif", "size": 13, "color": "var(--ink)"},
        "margin": {"l": 52, "r": 150, "t": 46, "b": 40},
        "hovermode": "closest",
        "hoverlabel": {
            "bgcolor": "var(--sheet)",
            "bordercolor": "var(--ink)",
            "font": {"color": "var(--ink)"},
        },
        "legend": {"orientation": "h", "y": -0.12},
        "bargap": 0,
        "xaxis": {**axis, "type": "date", "hoverformat": "%-d %b %Y"},
        "yaxis": {**axis, "title": {"text": history.scale_title}, "domain": [0.24 if load else 0, 1]},
        "shapes": shapes,
        "annotations": notes,
    }
    if load:
        layout["yaxis2"] = {**axis, "domain": [0, 0.16], "title": {"text": "Load, %"}, "rangemode": "tozero"}
    return {"data": _forecast(history) + _series(history) + load, "layout": layout}
