"""How labels lie on A4: a grid with margins and gaps, begun at any place of the first sheet."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import isfinite
from typing import TypeVar

from service.errors import Problem

#: ISO 216, A4 [mm]
WIDE_MM, HIGH_MM = 210.0, 297.0
#: a label that holds a code which a telephone reads, and a tag beside it [mm]; own judgement, no source
NARROWEST_MM, LOWEST_MM = 45.0, 24.0
WIDEST_MARGIN_MM, WIDEST_GAP_MM = 50.0, 30.0
#: columns by rows that are offered, first the usual one
GRIDS = ((3, 8), (2, 5), (2, 7), (2, 8), (1, 4))

Thing = TypeVar("Thing")


@dataclass(frozen=True, slots=True)
class LabelGrid:
    """Columns by rows of labels on A4, with margins and gaps [mm]."""

    columns: int = 3
    rows: int = 8
    side_mm: float = 0.0
    top_mm: float = 0.0
    across_mm: float = 0.0
    down_mm: float = 0.0

    @property
    def width_mm(self) -> float:
        """Of one label: what the margins and gaps leave."""
        return (WIDE_MM - 2 * self.side_mm - (self.columns - 1) * self.across_mm) / self.columns

    @property
    def height_mm(self) -> float:
        return (HIGH_MM - 2 * self.top_mm - (self.rows - 1) * self.down_mm) / self.rows

    @property
    def a_sheet(self) -> int:
        return self.columns * self.rows

    def place(self, number: int) -> tuple[float, float]:
        """Left and top of the label of that number, from 0 at the top left, row by row [mm]."""
        row, column = divmod(number, self.columns)
        return (
            self.side_mm + column * (self.width_mm + self.across_mm),
            self.top_mm + row * (self.height_mm + self.down_mm),
        )


def grid_problems(grid: LabelGrid) -> list[Problem]:
    """What keeps a grid from being printed; empty when nothing does."""
    found = []
    if (grid.columns, grid.rows) not in GRIDS:
        found.append(_problem("grid", "", "This is none of the grids.", "Choose one."))
    for field, value, most in (
        ("side_mm", grid.side_mm, WIDEST_MARGIN_MM),
        ("top_mm", grid.top_mm, WIDEST_MARGIN_MM),
        ("across_mm", grid.across_mm, WIDEST_GAP_MM),
        ("down_mm", grid.down_mm, WIDEST_GAP_MM),
    ):
        if not isfinite(value) or not 0 <= value <= most:
            remedy = "Measure it on the sheet."
            found.append(_problem(field, f"{value:g}", f"It must lie from 0 to {most:g} mm.", remedy))
    if not found and (grid.width_mm < NARROWEST_MM or grid.height_mm < LOWEST_MM):
        size = f"{grid.width_mm:.0f} by {grid.height_mm:.0f} mm"
        message = f"A label needs {NARROWEST_MM:g} by {LOWEST_MM:g} mm for its code."
        found.append(
            _problem("grid", size, message, "Make margins and gaps narrower, or choose fewer labels.")
        )
    return found


def _problem(field: str, found: str, message: str, remedy: str) -> Problem:
    return Problem("form", field, found, message, remedy)


def on_sheets(
    things: Sequence[Thing], grid: LabelGrid, *, start: int = 1
) -> tuple[tuple[tuple[int, Thing], ...], ...]:
    """Things by sheet with their places; ``start`` is the first free place of the first sheet, from 1."""
    sheets: list[list[tuple[int, Thing]]] = []
    for number, thing in enumerate(things, start=start - 1):
        sheet, place = divmod(number, grid.a_sheet)
        while len(sheets) <= sheet:
            sheets.append([])
        sheets[sheet].append((place, thing))
    return tuple(tuple(sheet) for sheet in sheets)
