"""A year month by month: rounds planned, walked and signed off as nested columns, covers opened beneath."""

from collections.abc import Sequence
from dataclasses import dataclass

from markupsafe import Markup, escape

from service.charts.drawing import box, line, markup, picture, titled, words


@dataclass(frozen=True, slots=True)
class YearMonth:
    """One month: its name, long and short, its counts, and what is said of it when it is pointed at."""

    word: str
    letter: str
    planned: int
    walked: int
    signed_off: int
    withdrawn: int
    covers: int
    tip: str
    now: bool = False


@dataclass(frozen=True, slots=True)
class Sheet:
    """Room for the drawing: width, floors of both strips and their heights, in its own pixels."""

    width: float
    rounds_floor: float
    rounds_tall: float
    covers_floor: float
    covers_tall: float
    letters: bool = False

    @property
    def height(self) -> float:
        return self.covers_floor + 22


WIDE = Sheet(width=760, rounds_floor=132, rounds_tall=92, covers_floor=224, covers_tall=46)
NARROW = Sheet(width=340, rounds_floor=128, rounds_tall=84, covers_floor=216, covers_tall=42, letters=True)
#: share of a month's room that its column takes
_COLUMN = 0.44
_PIECES = (
    ("year-planned", "planned"),
    ("year-walked", "walked"),
    ("year-signed", "signed off"),
)


def year_pair(months: Sequence[YearMonth], *, title: str, desc: str) -> Markup:
    """The drawing for a wide and for a narrow column; the style sheet shows one of the two."""
    wide = year_months(months, WIDE, title=title, desc=desc)
    narrow = year_months(months, NARROW, title=title, desc=desc)
    return markup(f'<div class="history-wide">{wide}</div><div class="history-narrow">{narrow}</div>')


def year_months(months: Sequence[YearMonth], sheet: Sheet, *, title: str, desc: str) -> Markup:
    """Twelve months on one sheet; nothing is a number only: each column carries its figure."""
    room = sheet.width / max(len(months), 1)
    most_rounds = max((month.planned for month in months), default=0) or 1
    most_covers = max((month.covers for month in months), default=0) or 1
    body = [
        words(0, sheet.rounds_floor - sheet.rounds_tall - 26, "Rounds", css="strip-name"),
        words(0, sheet.covers_floor - sheet.covers_tall - 22, "Covers opened", css="strip-name"),
        line(0, sheet.rounds_floor, sheet.width, sheet.rounds_floor, "axis"),
        line(0, sheet.covers_floor, sheet.width, sheet.covers_floor, "axis"),
    ]
    for place, month in enumerate(months):
        middle, wide = (place + 0.5) * room, room * _COLUMN
        drawn = _rounds(month, sheet, middle, wide, per_round=sheet.rounds_tall / most_rounds)
        drawn += _covers(month, sheet, middle, wide, per_cover=sheet.covers_tall / most_covers)
        name = month.letter if sheet.letters else month.word
        css = "tick now" if month.now else "tick"
        drawn += words(middle, sheet.height - 4, name, css=css, anchor="middle")
        body.append(titled(drawn, title=month.tip))
    return picture(
        "".join(body), width=sheet.width, height=sheet.height, title=title, desc=desc, css="year-months"
    )


def _rounds(month: YearMonth, sheet: Sheet, middle: float, wide: float, *, per_round: float) -> str:
    """The planned as an empty column, filled as far as it was walked, full where it is signed off."""
    counts = (month.planned, month.walked, month.signed_off)
    drawn = "".join(
        box(middle - wide / 2, sheet.rounds_floor - count * per_round, wide, count * per_round, css)
        for count, (css, _word) in zip(counts, _PIECES, strict=True)
        if count
    )
    top = sheet.rounds_floor - month.planned * per_round - 5
    if month.planned:
        drawn += words(middle, top, str(month.planned), css="year-figure", anchor="middle")
    if month.withdrawn:
        drawn += words(middle, top - 13, f"× {month.withdrawn}", css="year-withdrawn", anchor="middle")
    return drawn


def _covers(month: YearMonth, sheet: Sheet, middle: float, wide: float, *, per_cover: float) -> str:
    if not month.covers:
        return ""
    tall = max(month.covers * per_cover, 2)
    column = box(middle - wide / 4, sheet.covers_floor - tall, wide / 2, tall, "year-cover")
    return column + words(
        middle, sheet.covers_floor - tall - 5, str(month.covers), css="year-figure", anchor="middle"
    )


def year_legend(months: Sequence[YearMonth]) -> Markup:
    """One entry per kind of mark; withdrawn rounds only where there are any."""
    pieces = [
        (f'<rect class="{css}" x="3.5" y="2.5" width="11" height="11"/>', word) for css, word in _PIECES
    ]
    if any(month.withdrawn for month in months):
        pieces.append(('<text class="year-withdrawn" x="5" y="13">×</text>', "withdrawn, not in the column"))
    pieces.append(('<rect class="year-cover" x="6" y="2" width="6" height="12"/>', "covers opened"))
    items = "".join(
        f'<li><svg width="18" height="16" viewBox="0 0 18 16" aria-hidden="true">{piece}</svg>{escape(word)}</li>'
        for piece, word in pieces
    )
    return markup(f'<ul class="legend">{items}</ul>')
