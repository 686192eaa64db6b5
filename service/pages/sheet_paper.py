"""How the sheets of a round lie on A4: one stop a sheet, continued where its views do not fit.

Measures are pixels at 96 an inch of the layout in web/css/pages/rounds.css, taken on the safe side.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from service.usecases.rounds.sheets import SheetRow, StopSheet

#: height between the margins (297 − 28 mm), and what is there whatever the stop
PAPER, FRAME = 1016, 345
#: the box of cautions: letters and height of a line, its edge, the rule between its parts
LETTERS, LINE, EDGE, PART, NOT_OPEN = 116, 14.6, 14, 7, 33
#: a row: height of a line of boxes, of the words beside it at least, and its edge
BOXES, WORDS, ROW_EDGE = 33, 66, 14
#: width of the boxes of a row, of one box, of its label at most, of a letter of it
ROOM, BOX, LABEL, LETTER = 328, 68, 58, 5.5


@dataclass(frozen=True, slots=True)
class Sheet:
    """One piece of paper: ``number`` of ``count`` over the round, ``part`` of ``parts`` of the stop."""

    number: int
    count: int
    part: int
    parts: int
    first_row: int
    last_row: int
    of: StopSheet
    rows: tuple[SheetRow, ...]


def on_paper(stops: Sequence[StopSheet]) -> tuple[Sheet, ...]:
    """The sheets of a round in walking order."""
    pages = [(stop, _parts(stop)) for stop in stops]
    count = sum(len(parts) for _, parts in pages)
    sheets: list[Sheet] = []
    for stop, parts in pages:
        before = 0
        for part, rows in enumerate(parts, start=1):
            sheets.append(
                Sheet(
                    number=len(sheets) + 1,
                    count=count,
                    part=part,
                    parts=len(parts),
                    first_row=before + 1,
                    last_row=before + len(rows),
                    of=stop,
                    rows=rows,
                )
            )
            before += len(rows)
    return tuple(sheets)


def _parts(stop: StopSheet) -> list[tuple[SheetRow, ...]]:
    """Rows by sheet: as many as there is room for, at least one."""
    room = PAPER - FRAME - words_height(stop)
    parts: list[list[SheetRow]] = [[]]
    used = 0.0
    for row in stop.rows:
        height = row_height(row)
        if parts[-1] and used + height > room:
            parts.append([])
            used = 0.0
        parts[-1].append(row)
        used += height
    return [tuple(part) for part in parts]


def words_height(stop: StopSheet) -> float:
    """Height of the box of cautions and of NOT OPEN."""
    facts, permit = stop.stop.facts, stop.stop.permit
    parts = (
        stop.cautions.lines,
        (stop.stand_off, facts.ppe, stop.cautions.of_site, *stop.distances),
        (stop.cautions.at_act_now,),
        *([(stop.stop.running,)] if stop.stop.running else []),
    )
    height: float = EDGE + PART * (len(parts) - 1)
    height += LINE * sum(math.ceil(sum(len(word) + 8 for word in words) / LETTERS) for words in parts)
    if permit is not None:
        told = (permit.number, permit.issuer, permit.covers, permit.escort)
        height += LINE * math.ceil((90 + sum(len(word) for word in told)) / LETTERS) + PART
    return height + (NOT_OPEN if stop.not_open else 0)


def row_height(row: SheetRow) -> float:
    """Height of one view's row."""
    lines = lines_of_boxes([point.phase or point.name for point in row.points]) + lines_of_boxes(row.amps)
    words = WORDS + LINE * (len(row.triggers) - 1 + len(row.points) // 6)
    return max(words, BOXES * lines) + ROW_EDGE


def lines_of_boxes(labels: Sequence[str]) -> int:
    """Lines that so many boxes take, each with its label before it; a label breaks between words."""
    if not labels:
        return 0
    longest = max(len(word) for label in labels for word in (label or " ").split(" "))
    width = BOX + min(LABEL, longest * LETTER)
    return math.ceil(len(labels) / max(1, int(ROOM // width)))
