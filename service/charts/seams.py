"""Repairs as seams through a history, and their words: what stands too close is said together."""

from collections.abc import Sequence
from dataclasses import dataclass

from service.charts.axes import Along
from service.charts.drawing import fig, line, titled, words
from service.charts.history_record import Seam, Sheet, day_word

#: room of one letter; what the first one stands left of its seam; and between two labels, in pixels
LETTER, LEAN, APART = 6.6, 4, 12
#: how far over the drawing the two rows of words stand; the seams end under them
ROWS = (29, 16)
#: what a wide sheet has to the right of the drawing, above the words of the lines
MARGIN = 100


@dataclass(frozen=True, slots=True)
class Label:
    """One or more seams said together in at most two rows; ``start`` to ``end`` is the room it takes."""

    seams: tuple[Seam, ...]
    rows: tuple[tuple[str, str], ...]
    start: float
    end: float
    to_left: bool


def drawn_seams(seams: Sequence[Seam], *, along: Along, sheet: Sheet) -> str:
    """Vertical seams through both drawings; their words over them, where no seam reaches.

    Parameters
    ----------
    seams : sequence of Seam
        In the order of their days.
    """
    body = [_seam(seam, x=along(seam.on), sheet=sheet) for seam in seams]
    for label in labels(seams, along=along, sheet=sheet):
        x, anchor = (label.end, "end") if label.to_left else (label.start, "")
        over = ROWS[-len(label.rows) :]
        body += [
            words(x, sheet.top - high, text, css=css, anchor=anchor, halo=True)
            for high, (text, css) in zip(over, label.rows, strict=True)
        ]
    return "".join(body)


def _seam(seam: Seam, *, x: float, sheet: Sheet) -> str:
    stem = line(x, sheet.top - 3, x, sheet.bottom, "seam") + line(
        x, sheet.load_top, x, sheet.load_bottom, "seam"
    )
    tip = f'<path class="seam-head" d="M{fig(x - 4)} {fig(sheet.top - 8)}h8l-4 6z"/>'
    return titled(stem + tip, title=seam.told)


def labels(seams: Sequence[Seam], *, along: Along, sheet: Sheet) -> list[Label]:
    """Labels of which none touches the next: neighbours merge until it is so."""
    found: list[Label] = []
    for seam in sorted(seams, key=lambda one: one.on):
        label = _label((seam,), along=along, sheet=sheet)
        while found and label.start < found[-1].end + APART:
            label = _label((*found.pop().seams, *label.seams), along=along, sheet=sheet)
        found.append(label)
    return found


def _label(seams: tuple[Seam, ...], *, along: Along, sheet: Sheet) -> Label:
    """It begins over the first of its seams, or ends over the last where the paper ends."""
    rows = _rows(seams, narrow=sheet.narrow)
    room = max(len(text) for text, _ in rows) * LETTER
    edge = sheet.right + (0 if sheet.narrow else MARGIN)
    start = along(seams[0].on) - LEAN
    if start + room <= edge:
        return Label(seams, rows, start, start + room, to_left=False)
    end = max(min(along(seams[-1].on) + LEAN, edge), room)
    return Label(seams, rows, end - room, end, to_left=True)


def _rows(seams: tuple[Seam, ...], *, narrow: bool) -> tuple[tuple[str, str], ...]:
    """One seam: its title over its detail. Two: a row each. More: how many, and what the last did."""
    title, detail = "seam-word", "seam-detail"
    last = seams[-1]
    if len(seams) == 1:
        return (
            ((last.title, title),)
            if narrow or not last.detail
            else ((last.title, title), (last.detail, detail))
        )
    if len(seams) == 2:
        return tuple((one.title if narrow else one.told, title) for one in seams)
    first_day, last_day = day_word(seams[0].on), day_word(last.on)
    works = {one.work for one in seams}
    head = f"{works.pop() if len(works) == 1 else 'Series cut'} {len(seams)} times"
    if narrow:
        return ((head, title), (f"last {last_day}", detail))
    spanning = (f"{head}, {first_day} to {last_day}", title)
    return (spanning, (f"last: {last.detail}", detail)) if last.detail else (spanning,)
