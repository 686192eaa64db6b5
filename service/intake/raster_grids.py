"""A CSV grid of temperatures, read line by line: separator by its lines, decimal sign by the file."""

import csv
import io
import re
from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from service.errors import Invalid
from service.intake.collecting import MOST_TOLD, Problems, one_problem
from service.intake.raster_refusals import MOST_SIDE, too_long, too_many_pixels
from service.physics.raster import LARGEST_PIXELS

_HEAD_BYTES = 65_536
_LONGEST_CELL = 40
_FAIR_LINE = re.compile(r"[0-9eE+\-−.,;\t \"naNA]*")
_NUMBER = re.compile(r"[+-]?(?:[0-9]+(?:\.[0-9]*)?|\.[0-9]+)(?:[eE][+-]?[0-9]{1,3})?")
#: "05" is no number that a program writes, but what a cut "25,05" leaves
_PADDED = re.compile(r"(?:^|,) *0[0-9]")
_WORDS = {";": "a semicolon", "\t": "a tab", ",": "a comma"}


def read_grid(content: bytes) -> NDArray[np.float32]:
    """The grid of a CSV file; rows and columns of problems count from 1, as spreadsheets do.

    A semicolon or a tab is the separator wherever one is met, else the comma; with either of
    them the numbers may have a decimal comma, but one sign in the whole file.

    Parameters
    ----------
    content : bytes
        UTF-8 or UTF-16 text without titles.

    Returns
    -------
    ndarray of float32, shape (rows, columns)
        NaN where a cell is empty or "nan".

    Raises
    ------
    service.errors.Invalid
        Cells that are no numbers, ragged rows, two decimal signs, too many pixels.
    """
    reading = _Reading(_separator(content))
    try:
        for number, line in _lines(content):
            reading.take(number, line)
            if reading.problems.count >= MOST_TOLD:
                break
    except UnicodeError as error:
        raise one_problem(
            "file",
            "",
            "bytes that are neither UTF-8 nor UTF-16",
            message="The encoding of this file is not one that is read here.",
            remedy="Save the grid as CSV UTF-8, with nothing but numbers in it.",
        ) from error
    return reading.grid()


def _encoding(content: bytes) -> str:
    return "utf-16" if content.startswith((b"\xff\xfe", b"\xfe\xff")) else "utf-8-sig"


def _separator(content: bytes) -> str:
    """Numbers hold neither semicolon nor tab, so that one of them in the first lines is it."""
    head = content[:_HEAD_BYTES].decode(_encoding(content), "replace").lstrip("\ufeff")
    first, _, rest = head.partition("\n")
    if first.strip().lower().startswith("sep="):
        return next((sign for sign in (";", "\t", ",") if sign in first), ",")
    return next((sign for sign in ("\t", ";") if sign in first or sign in rest), ",")


def _lines(content: bytes) -> Iterator[tuple[int, str]]:
    """Numbered lines that are not empty, without their ends; "sep=;" is no row."""
    text = io.TextIOWrapper(io.BytesIO(content), encoding=_encoding(content))
    for number, line in enumerate(text, start=1):
        bare = line.strip(" \r\n\ufeff")
        if bare and not (number == 1 and bare.lower().startswith("sep=")):
            yield number, bare


class _Reading:
    """Rows as they come; what is wrong with them is collected."""

    def __init__(self, separator: str) -> None:
        self.problems = Problems()
        self._separator = separator
        self._rows: list[NDArray[np.float32]] = []
        self._last_row = 0
        self._pixels = 0
        self._ended = True
        self._padded = False
        #: where each decimal sign was first met
        self._signs: dict[str, tuple[int, str]] = {}

    def take(self, number: int, line: str) -> None:
        if len(self._rows) >= MOST_SIDE or line.count(self._separator) > MOST_SIDE:
            raise too_long(f"more in row {number}")
        if self._pixels > LARGEST_PIXELS + MOST_SIDE:
            raise too_many_pixels(f"row {number} is not the last")
        if self._rows and number != self._last_row + 1:
            self._wrong(number - 1, "", "", "An empty row within the grid.", "Take it out.")
        self._last_row = number
        self._ended = self._ended and line.endswith(self._separator)
        cells = self._cells(number, line)
        self._pixels += len(cells)
        width = len(self._rows[0]) if self._rows else len(cells)
        if len(cells) != width:
            place = f"column {min(len(cells), width) + 1}"
            found = f"{len(cells)} cells; the first row has {width}"
            self._wrong(number, place, found, "A row of another length.", "Give every row as many cells.")
            return
        self._rows.append(self._values(number, line, cells))

    def _cells(self, number: int, line: str) -> list[str]:
        if '"' not in line:
            return line.split(self._separator)
        csv.field_size_limit(max(csv.field_size_limit(), len(line)))
        try:
            return next(csv.reader([line], delimiter=self._separator, strict=True))
        except csv.Error:
            self._wrong(number, "", line[:80], "A double quote that is not closed.", "Leave the quotes out.")
            return line.split(self._separator)

    def _values(self, number: int, line: str, cells: list[str]) -> NDArray[np.float32]:
        self._note_signs(number, line)
        fair = _FAIR_LINE.fullmatch(line) and len(line) <= _LONGEST_CELL * len(cells)
        if fair:
            plain = line if self._separator == "," else line.replace(",", ".")
            plain = plain.replace("−", "-")
            cells = cells if plain is line else self._cells(number, plain)
            try:
                return _narrow([float(cell or "nan") for cell in cells])
            except ValueError:
                pass
        return _narrow([self._value(number, k, cell) for k, cell in enumerate(cells, start=1)])

    def _note_signs(self, number: int, line: str) -> None:
        for sign in "." if self._separator == "," else ".,":
            if sign not in self._signs and sign in line:
                self._signs[sign] = (number, line)
        if self._separator == "," and "." not in self._signs and not self._padded:
            self._padded = _PADDED.search(line) is not None

    def _value(self, number: int, column: int, cell: str) -> float:
        """One cell with care; a NaN and a problem where it is no number."""
        cell = cell[: 2 * _LONGEST_CELL]
        text = cell.strip(" \u00a0").replace("−", "-")
        if self._separator != ",":
            text = text.replace(",", ".")
        if not text or text.lower() == "nan":
            return float("nan")
        if len(text) <= _LONGEST_CELL and _NUMBER.fullmatch(text):
            return float(text)
        remedy = "Nothing but numbers: no titles, no units; leave a pixel without a value empty."
        message = "This cell is not a number."
        if "," in cell and self._separator == ",":
            message = "A decimal comma where the comma parts the cells."
            remedy = "Part the cells by semicolons, or write decimal points."
        self._wrong(number, f"column {column}", cell, message, remedy)
        return float("nan")

    def _wrong(self, row: int, place: str, found: str, message: str, remedy: str) -> None:
        if self.problems.count < MOST_TOLD:
            self.problems.add(f"row {row}", place, found, message=message, remedy=remedy)

    def grid(self) -> NDArray[np.float32]:
        """All rows as one grid.

        Raises
        ------
        service.errors.Invalid
            Everything that was met on the way.
        """
        self._refuse_two_signs()
        self.problems.refuse()
        if not self._rows:
            raise _empty()
        grid = np.vstack(self._rows)
        if grid.size > LARGEST_PIXELS:
            raise too_many_pixels(f"{grid.shape[0]} rows of {grid.shape[1]}")
        if self._ended and grid.shape[1] > 1:  # every row ends with its separator
            grid = grid[:, :-1]
        if self._separator == "," and "." not in self._signs and (self._padded or _cut_in_two(grid)):
            raise _decimal_commas()
        return np.ascontiguousarray(grid)

    def _refuse_two_signs(self) -> None:
        if len(self._signs) < 2:
            return
        number, line = max(self._signs.values(), key=lambda met: met[0])
        sign = ", and ".join(
            f"{'point' if s == '.' else 'comma'} in row {at}" for s, (at, _) in self._signs.items()
        )
        self._wrong(
            number,
            "",
            f"{sign}: {line[:30]}",
            "Two decimal signs in one file.",
            f"Write all numbers with a point, or all with a comma and {_WORDS[self._separator]} between.",
        )


def _narrow(values: list[float]) -> NDArray[np.float32]:
    with np.errstate(over="ignore"):  # too great a number becomes infinite, which is refused later
        return np.array(values, dtype=np.float64).astype(np.float32)


def _cut_in_two(grid: NDArray[np.float32]) -> bool:
    """Whether "25,3,26,1" looks as if decimal commas had been taken for separators.

    Then every second column holds a single digit, and the ones between do not.
    """
    if grid.shape[1] % 2:
        return False
    wholes, tenths = grid[:, ::2], grid[:, 1::2]
    digits = bool(np.all((tenths >= 0) & (tenths <= 9)))
    return digits and bool(np.any(np.abs(wholes) > 9))


def _decimal_commas() -> Invalid:
    return one_problem(
        "file",
        "column 2",
        "whole numbers, and digits as after a decimal sign between them",
        message="This looks like decimal commas in a file parted by commas.",
        remedy="Part the cells by semicolons, or write decimal points.",
    )


def _empty() -> Invalid:
    return one_problem(
        "file", "", "no cells", message="The file is empty.", remedy="Save the grid of temperatures again."
    )
