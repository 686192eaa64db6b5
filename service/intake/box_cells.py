"""Cells of boxes that only some kinds of point ask for, gathered by row; the kind reads them later."""

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from service.domain.boxes import BoxValue, boxes_of
from service.domain.cells import Cell
from service.domain.words import PointKind
from service.intake.collecting import Problems
from service.intake.limits import MOST_CHARACTERS
from service.intake.raw_rows import RawRows
from service.intake.reading_cells import CONTROL, Cells

_VALUES = {box.key: box.value for kind in PointKind for box in boxes_of(kind)}
_NUMBERS = frozenset(
    key for key, value in _VALUES.items() if value in (BoxValue.NUMBER, BoxValue.TEMPERATURE)
)
_TYPES: dict[BoxValue, tuple[tuple[type, ...], str]] = {
    BoxValue.NUMBER: ((int, float), "Send a JSON number."),
    BoxValue.TEMPERATURE: ((int, float), "Send a JSON number."),
    BoxValue.YES_OR_NO: ((bool,), "Send true or false."),
    BoxValue.WORD: ((str,), "Send a JSON string."),
    BoxValue.TEXT: ((str,), "Send a JSON string."),
}


def boxes_by_row(raw: RawRows, problems: Problems) -> Sequence[Mapping[str, Cell] | None]:
    """By row the cells of its boxes, from a column each or from an object; None where there are none."""
    if raw.boxes:
        return [_filled(zip(raw.boxes, row, strict=True)) for row in zip(*raw.boxes.values(), strict=True)]
    told: Sequence[Any] = raw.cells.get("boxes", ())
    if not any(told):
        return [None] * len(raw.wheres)
    return [
        _of_object(cell, where=where, problems=problems, strict=raw.strict) if cell else None
        for cell, where in zip(told, raw.wheres, strict=True)
    ]


def numbers_in_boxes(raw: RawRows) -> Iterator[Cells]:
    """Cells of boxes in which a decimal sign may stand."""
    yield from (cells for key, cells in raw.boxes.items() if key in _NUMBERS)
    for told in raw.cells.get("boxes", ()):
        if isinstance(told, Mapping):
            yield [cell for key, cell in told.items() if key in _NUMBERS]


def _filled(cells: Iterator[tuple[str, Cell]]) -> dict[str, Cell] | None:
    return {key: cell for key, cell in cells if cell is not None and cell != ""} or None


def _of_object(cell: Any, *, where: str, problems: Problems, strict: bool) -> Mapping[str, Cell] | None:
    if not isinstance(cell, Mapping):
        remedy = "Send an object with an answer by key."
        problems.add(where, "boxes", cell, message="These are not answers to boxes.", remedy=remedy)
        return None
    given = {}
    for key, answer in cell.items():
        if answer is None:
            continue
        types, remedy = _TYPES.get(_VALUES.get(key, BoxValue.TEXT), ((), ""))
        if strict and type(answer) not in types and key in _VALUES:
            problems.add(where, key, answer, message="Not what this box takes.", remedy=remedy)
        elif type(answer) not in (str, bool, int, float) or len(f"{key}{answer}") > MOST_CHARACTERS:
            problems.add(
                where, "boxes", key, message="This is not an answer to a box.", remedy="Leave it out."
            )
        elif CONTROL.search(f"{key}{answer}"):
            problems.add(where, "boxes", key, message="A character that is no text.", remedy="Type it anew.")
        else:
            given[key] = answer
    return given or None
