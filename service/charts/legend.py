"""The legend of a point's history: only what its drawing holds."""

from markupsafe import Markup, escape

from service.charts.crowds import are_crowded
from service.charts.drawing import markup
from service.charts.history_record import History, Shown

_PIECES = {
    "value": '<path class="whisker" d="M9 1V15"/><circle class="dot" cx="9" cy="8" r="3.4"/>',
    "plain": '<circle class="dot" cx="9" cy="8" r="3.4"/>',
    "bars": '<path class="dots" d="M5 3V12M9 6V10M13 2V14"/>',
    "raw": '<path class="raw" d="M4 8h10"/>',
    "hollow": '<circle class="hollow" cx="9" cy="8" r="4"/>',
    "apart": '<circle class="dot" cx="9" cy="8" r="3"/><path class="apart" d="M5 2h-3v12h3M13 2h3v12h-3"/>',
    "cross": '<path class="cross" d="M5.5 4.5l7 7m0-7l-7 7"/>',
    "seam": '<path class="seam" d="M9 3V16"/><path class="seam-head" d="M5 0h8l-4 6z"/>',
    "planned": '<path class="planned" d="M9 3V13"/>',
    "fit": '<path class="fit run-0" d="M1 12L17 4"/>',
    "fan": '<path class="fan fan-0" d="M1 8L17 1V15z"/><path class="fan fan-0 half" d="M1 8L17 5V11z"/>',
    "bracket": '<path class="bracket bracket-4" d="M2 8H16"/><path class="likeliest bracket-4" d="M5 8l4-4l4 4l-4 4z"/>',
}


def history_legend(history: History, *, value_words: str) -> Markup:
    """One entry per kind of mark in the drawing.

    Parameters
    ----------
    value_words : str
        What the dots stand for: "over like parts, at common load".
    """
    visits = history.visits
    shown = {visit.shown for visit in visits}
    rows: list[tuple[str, str]] = []
    if Shown.COUNTS in shown:
        with_u = any(visit.u_k is not None for visit in visits)
        rows.append(("value", f"{value_words}, ± U (k = 2)") if with_u else ("plain", value_words))
    if are_crowded(visits):
        rows.append(
            ("bars", f"{len(visits)} visits, too close to tell apart: a bar spans the lowest to the highest")
        )
    if any(visit.raw_k is not None for visit in visits):
        rows.append(("raw", "as measured"))
    if Shown.ACCUSES_ONLY in shown:
        rows.append(("hollow", "low load or wind: at least, not trended"))
    if Shown.NOT_ASSESSABLE in shown:
        rows.append(("cross", "not assessable"))
    if any(visit.apart for visit in visits):
        rows.append(("apart", "lies apart from those about it; kept in every figure"))
    if history.fit is not None:
        rows.append(("fit", "trend, as told beside"))
    if history.seams:
        rows.append(("seam", "repair: a new start"))
    if history.planned:
        rows.append(("planned", "planned visit"))
    if history.fan_k:
        rows.append(("fan", "where it may go, nine in ten; darker, one in two"))
    if history.crossing is not None:
        rows.append(("bracket", "when it may cross, nine in ten"))
    items = "".join(
        f'<li><svg width="18" height="16" viewBox="0 0 18 16" aria-hidden="true">{_PIECES[piece]}</svg>{escape(text)}</li>'
        for piece, text in rows
    )
    return markup(f'<ul class="legend">{items}</ul>')
