"""XLSX in a process of its own: little memory, little time, and it may die without harm."""

import json
import threading
from datetime import date, datetime, time, timedelta
from typing import Any

from service.domain.cells import Cell, shown
from service.errors import Invalid, Problem
from service.intake.collecting import one_problem
from service.intake.confined import TooMuch, read_confined
from service.intake.limits import MOST_CHARACTERS, MOST_COLUMNS, MOST_ROWS

MOST_INFLATED = 100 * 1024 * 1024
MOST_RATIO = 100
MOST_ENTRIES = 1_000
#: address space of the reading process, its processor seconds, and what it may hand back
MEMORY_BYTES = 256 * 1024 * 1024
PROCESSOR_SECONDS = 30
WALL_SECONDS = 45
MOST_TEXT = 40 * 1024 * 1024

_at_once = threading.BoundedSemaphore(2)


def read_sheets(content: bytes) -> list[tuple[str, list[list[Cell]]]]:
    """Sheet names with their rows, the first row being row 1.

    Raises
    ------
    service.errors.Invalid
        Not a workbook, a bomb, macros, links to other files, document types, error cells, or
        more memory or time than one file may take.
    """
    limits = {
        "inflated": MOST_INFLATED,
        "ratio": MOST_RATIO,
        "entries": MOST_ENTRIES,
        "memory": MEMORY_BYTES,
        "seconds": PROCESSOR_SECONDS,
        "rows": MOST_ROWS,
        "columns": MOST_COLUMNS,
        "characters": MOST_CHARACTERS,
        "text": MOST_TEXT,
    }
    try:
        with _at_once:
            reply = read_confined("workbook_reader.py", content, limits, wall_s=WALL_SECONDS)
    except TooMuch as error:
        raise _too_much(str(error)) from error
    return _told(json.loads(reply))


def _told(reply: dict[str, Any]) -> list[tuple[str, list[list[Cell]]]]:
    if reply["problems"]:
        raise Invalid(
            Problem(p["where"], p["field"], shown(p["found"]), p["message"], p["remedy"])
            for p in reply["problems"]
        )
    return [(sheet["name"], [_row(row) for row in sheet["rows"]]) for sheet in reply["sheets"]]


def _row(row: list[Any]) -> list[Cell]:
    return [_typed(cell) if isinstance(cell, dict) else cell for cell in row]


def _typed(cell: dict[str, Any]) -> Cell:
    if "day" in cell:
        return date.fromisoformat(cell["day"])
    if "moment" in cell:
        return datetime.fromisoformat(cell["moment"])
    if "clock" in cell:
        return time.fromisoformat(cell["clock"])
    return str(timedelta(seconds=cell["seconds"]))


def _too_much(what: str) -> Invalid:
    return one_problem(
        "file",
        "",
        "",
        message=f"The workbook needs more {what} than one file may take.",
        remedy="A cell far below or far to the right of the table is the usual cause: copy the table "
        "alone into a new workbook, or save it as CSV.",
    )
