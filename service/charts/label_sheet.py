"""Sheets of labels: places, tags, names and codes → one drawing a sheet, in millimetres."""

from collections.abc import Sequence
from dataclasses import dataclass

import segno
from markupsafe import Markup, escape

from service.domain.label_sheets import HIGH_MM, WIDE_MM, LabelGrid

#: light modules about a symbol (ISO/IEC 18004: four)
QUIET = 4
#: between the edge of a label and what stands on it; a printer may be off by a millimetre or two
EDGE_MM = 2.5
#: a symbol is drawn no larger than this: there is more to read on a label
LARGEST_MM = 34.0
#: width and height of a small label; on larger ones all grows, up to so many times
SMALL_MM, MOST_GROWN = (70.0, 37.0), 1.5
#: height of letters [mm], and how wide a letter is as a share of it, on the safe side
TAG_MM, NAME_MM, CODE_MM, TOLD_MM = 4.2, 3.0, 2.8, 2.15
LETTER = 0.58
#: size in which the style sheet sets all letters of a drawing; scaled, since it overrules an attribute
LETTERING = 12
TOLD = "Read the label on the door; this code permits nothing."


@dataclass(frozen=True, slots=True)
class Label:
    """What one label says: ``address`` is what its code opens."""

    tag: str
    name: str
    place: str
    code: str
    address: str


def label_sheet(
    labels: Sequence[tuple[int, Label]], grid: LabelGrid, *, outlined: bool = False, invented: bool = False
) -> Markup:
    """One A4 sheet; ``labels`` come with their places from 0, ``outlined`` draws where to cut."""
    parts = [_label(label, grid, place, outlined=outlined, invented=invented) for place, label in labels]
    return Markup(
        '<svg class="label-sheet" width="{0:g}mm" height="{1:g}mm" viewBox="0 0 {0:g} {1:g}" '
        'role="img" aria-label="{2} labels">{3}</svg>'
    ).format(WIDE_MM, HIGH_MM, len(labels), Markup("").join(parts))


def _label(label: Label, grid: LabelGrid, place: int, *, outlined: bool, invented: bool) -> Markup:
    left, top = grid.place(place)
    width, height = grid.width_mm, grid.height_mm
    grown = min(MOST_GROWN, max(1.0, min(height / SMALL_MM[1], width / SMALL_MM[0])))
    side = min(LARGEST_MM * grown, height - 2 * EDGE_MM, width / 2)
    found = [_symbol(label.address, left + EDGE_MM, top + (height - side) / 2, side)]
    if outlined:
        found.append(
            Markup('<rect x="{:.2f}" y="{:.2f}" width="{:.2f}" height="{:.2f}" class="cut"/>').format(
                left, top, width, height
            )
        )
    room = width - side - 3 * EDGE_MM
    lines = _lines(label, room, grown=grown, invented=invented)
    down = top + (height - sum(mm * 1.25 for mm, _, _ in lines)) / 2
    for mm, kind, words in lines:
        down += mm * 1.25
        found.append(
            Markup('<text transform="translate({:.2f} {:.2f}) scale({:.4f})" class="{}">{}</text>').format(
                left + side + 2 * EDGE_MM, down - mm * 0.25, mm / LETTERING, kind, words
            )
        )
    return Markup('<g data-code="{}">{}</g>').format(label.code, Markup("").join(found))


def _lines(label: Label, room_mm: float, *, grown: float, invented: bool) -> list[tuple[float, str, str]]:
    """(height, class, words) from top to bottom; a tag that is too long is drawn smaller, never cut."""
    tag_mm = min(TAG_MM * grown, room_mm / (LETTER * max(1, len(label.tag))))
    name_mm, told_mm = NAME_MM * grown, TOLD_MM * grown
    lines = [(tag_mm, "tag", label.tag)]
    lines += [(name_mm, "name", words) for words in wrapped(label.name, room_mm, name_mm, most=2)]
    lines += [(told_mm, "place", words) for words in wrapped(label.place, room_mm, told_mm, most=1)]
    lines.append((CODE_MM * grown, "code", label.code))
    told = f"Invented. {TOLD}" if invented else TOLD
    lines += [(told_mm, "told", words) for words in wrapped(told, room_mm, told_mm, most=4)]
    return lines


def wrapped(text: str, room_mm: float, letter_mm: float, *, most: int) -> list[str]:
    """Words in lines no wider than the room; what ``most`` lines do not hold ends in an ellipsis."""
    letters = max(4, int(room_mm / (LETTER * letter_mm)))
    lines: list[str] = []
    for word in text.split():
        if lines and len(lines[-1]) + 1 + len(word) <= letters:
            lines[-1] += f" {word}"
        else:
            lines.append(word)
    if len(lines) > most:
        lines = [*lines[: most - 1], f"{' '.join(lines[most - 1 :])[: letters - 1].rstrip()}…"]
    return [line if len(line) <= letters else f"{line[: letters - 1]}…" for line in lines]


def symbol(address: str) -> tuple[tuple[bool, ...], ...]:
    """The modules of the code of an address, dark ones true, without what must stay light about it.

    Error correction M restores about 15 % of the codewords (ISO/IEC 18004): dirt, a scratch.
    """
    made = segno.make(address, error="m", micro=False, boost_error=False)
    return tuple(tuple(bool(module) for module in row) for row in made.matrix)


def _symbol(address: str, left: float, top: float, side: float) -> Markup:
    rows = symbol(address)
    module = side / (len(rows) + 2 * QUIET)
    path = []
    for down, row in enumerate(rows):
        across = 0
        while across < len(row):
            run = 0
            while across + run < len(row) and row[across + run]:
                run += 1
            if run:
                path.append(f"M{across} {down}h{run}v1h-{run}z")
            across += run or 1
    move = f"translate({left + QUIET * module:.3f} {top + QUIET * module:.3f}) scale({module:.4f})"
    return Markup('<path class="code-modules" transform="{}" d="{}"/>').format(move, escape("".join(path)))
