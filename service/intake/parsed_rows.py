"""Cells of returned rows to values, before anybody knows which points they are of."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, time
from typing import Any

from service.domain.cells import Cell, Sign, cell_text
from service.errors import Problem
from service.intake.box_cells import boxes_by_row, numbers_in_boxes
from service.intake.collecting import Problems
from service.intake.raw_rows import CELSIUS, FAHRENHEIT, KEYS, RawRows, Ways
from service.intake.reading_cells import (
    NUMBERS,
    Cells,
    decimal_sign,
    read_answers,
    read_flags,
    read_numbers,
    read_texts,
    read_words,
)

#: A row with none of these is a point that was not read.
FILLED = (
    "temperature_c",
    "current_a",
    "reason",
    "picture",
    "note",
    "correction_reason",
    "place",
    "emissivity",
    "boxes",
)
_TEXTS = (*KEYS, "uid", "place", "instrument_serial", "picture", "note", "correction_reason", "device_time")
_WORDS = ("reason", "visit_kind", "load_source", "emissivity_standing", "reflected_standing")


@dataclass(frozen=True, slots=True)
class ParsedRows:
    """Columns of values, before anybody knows which points they are of.

    ``tried`` says that a temperature or a reason stands in the row, readable or not. Boxes that
    only some kinds ask for are still cells: what they mean hangs on the point.
    """

    columns: Mapping[str, Sequence[Any]]
    taken: Cells
    typed: Sequence[dict[str, Any]]
    blank: Sequence[bool]
    tried: Sequence[bool]
    wheres: tuple[str, ...]
    ways: Ways
    warnings: tuple[Problem, ...]


def parse_rows(raw: RawRows, problems: Problems) -> ParsedRows:
    """Cells to values; needs no database, so that it may run before a transaction begins."""
    problems.take_all(raw.problems)
    wheres, strict, count = raw.wheres, raw.strict, len(raw.wheres)
    ways = _settled(raw, problems)
    decimal: Sign = "," if ways.decimal == "," else "."
    columns: dict[str, Sequence[Any]] = {}
    for name in NUMBERS:
        if name in raw.cells:
            columns[name] = read_numbers(
                name,
                raw.cells[name],
                decimal=decimal,
                fahrenheit=ways.temperature_unit == FAHRENHEIT,
                wheres=wheres,
                problems=problems,
                strict=strict,
            )
        else:
            columns[name] = [None] * count
    for name in (*_TEXTS, *_WORDS):
        cells = raw.cells.get(name)
        if cells is None or not any(c is not None for c in cells):
            columns[name] = [None if name in _WORDS else ""] * count
            continue
        texts = read_texts(name, cells, wheres=wheres, problems=problems, strict=strict)
        columns[name] = read_words(name, texts, wheres=wheres, problems=problems) if name in _WORDS else texts
    flags = raw.cells.get("fan_on_part") or [None] * count
    columns["fan_on_part"] = read_flags("fan_on_part", flags, wheres=wheres, problems=problems, strict=strict)
    columns["through_window"] = read_answers(
        "through_window",
        raw.cells.get("through_window") or [None] * count,
        wheres=wheres,
        problems=problems,
        strict=strict,
    )
    columns["boxes"] = boxes_by_row(raw, problems)
    taken = raw.cells.get("taken_at") or [None] * count
    filled = [raw.cells[name] for name in FILLED if name in raw.cells] + list(raw.boxes.values())
    blank = [all(c is None or c == "" for c in row) for row in zip(*filled, strict=True)] or [True] * count
    answers = [raw.cells[name] for name in ("temperature_c", "reason") if name in raw.cells]
    tried = [any(c is not None and c != "" for c in row) for row in zip(*answers, strict=True)]
    return ParsedRows(
        columns, taken, _typed_cells(raw), blank, tried or [False] * count, wheres, ways, raw.warnings
    )


def _settled(raw: RawRows, problems: Problems) -> Ways:
    ways = raw.ways
    if ways.temperature_unit not in (CELSIUS, FAHRENHEIT):
        problems.add(
            "file",
            "temperature_unit",
            ways.temperature_unit,
            message="Temperatures are in °C or in °F.",
            remedy="Say which of the two.",
        )
    if ways.decimal in (".", ",") or raw.strict:
        return ways
    sign, example = decimal_sign(
        (*(raw.cells[name] for name in NUMBERS if name in raw.cells), *numbers_in_boxes(raw))
    )
    if sign is None:
        problems.add(
            "file",
            "decimal",
            example,
            message="It is not clear which sign is the decimal sign.",
            remedy="Say whether this file writes a decimal comma or a decimal point.",
        )
    return replace(ways, decimal=sign or ".")


def _typed_cells(raw: RawRows) -> list[dict[str, Any]]:
    """The cells as they came, without the empty ones and those that only name the point."""
    typed = {name: cells for name, cells in raw.cells.items() if name not in KEYS or name == "site"}
    typed |= raw.boxes
    columns = [
        [_plain(c) for c in cells] if any(isinstance(c, date | time) for c in cells) else cells
        for cells in typed.values()
    ]
    # what was typed in °F says so: nobody takes its numbers for °C later
    unit = {"temperature_unit": FAHRENHEIT} if raw.ways.temperature_unit == FAHRENHEIT else {}
    return [
        {name: cell for name, cell in zip(typed, row, strict=True) if cell is not None} | unit
        for row in zip(*columns, strict=True)
    ] or [{} for _ in raw.wheres]


def _plain(cell: Cell) -> Cell:
    return cell_text(cell) if isinstance(cell, date | time) else cell
