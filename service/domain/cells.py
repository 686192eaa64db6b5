"""Cells of a form or a file: what they hold, guarded and bared, and read as numbers and days."""

import math
import re
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime, time
from typing import Literal

from service.errors import Problem

Cell = str | int | float | bool | date | datetime | time | None
Sign = Literal[".", ","]

MOST_FOUND = 60
#: a guarded or dangerous start: any number of apostrophes, then what starts a formula
_STARTS = re.compile(r"'*[=+\-@\t\r]")

_MINUS = str.maketrans({"−": "-", "–": "-", "\u00a0": " ", "\u2009": " ", "\u202f": " "})
_PLAIN = re.compile(r"[+-]?(?:\d+(?:\.\d*)?|\.\d+)(?:[eE][+-]?\d{1,2})?")
_GROUPED = re.compile(r"[+-]?\d{1,3}(?:([ ,.'])\d{3})(?:\1\d{3})*(?:[.,]\d+)?")
_ONE_SIGN = re.compile(r"[+-]?\d*([.,])\d*")
_BOTH_SIGNS = re.compile(r"[+-]?\d{1,3}(?:[.,]\d{3})*([.,])\d+")


def shown(found: object) -> str:
    """What was found, short enough for a list and free of control characters."""
    text = "".join(c if c.isprintable() else "·" for c in str("" if found is None else found))
    return text if len(text) <= MOST_FOUND else f"{text[: MOST_FOUND - 1]}…"


def guarded(text: str) -> str:
    """The text with one leading apostrophe where a spreadsheet could take it for a formula.

    Only for texts: a number is written as a number, so that −3.2 stays one.

    Examples
    --------
    >>> guarded("=1+1"), guarded("MCC1")
    ("'=1+1", 'MCC1')
    """
    return f"'{text}" if _STARTS.match(text) else text


def bared(text: str) -> str:
    """The text without the apostrophe that `guarded` put there: the two undo each other exactly.

    Examples
    --------
    >>> bared("'-3.2"), bared(guarded("'=x")), bared("'quoted'")
    ('-3.2', "'=x", "'quoted'")
    """
    return text[1:] if text.startswith("'") and _STARTS.match(text) else text


@dataclass(frozen=True, slots=True)
class DecimalSigns:
    """How the numbers typed as text in one file write their decimal sign.

    ``sign`` is the one to propose: None when the file holds none, or when both are met and a
    person has to say (``mixed``). Three digits behind one sign ("1,234") prove nothing: such
    cells are counted as ``unsure``, and where nothing else tells, a person has to say too.
    """

    commas: int = 0
    points: int = 0
    unsure: int = 0
    comma_example: str = ""
    point_example: str = ""
    unsure_example: str = ""

    @property
    def mixed(self) -> bool:
        return bool(self.commas and self.points)

    @property
    def sign(self) -> Sign | None:
        if self.commas and not self.points:
            return ","
        if self.points and not self.commas:
            return "."
        return None

    @property
    def must_be_asked(self) -> bool:
        return self.mixed or (self.sign is None and self.unsure > 0)


def decimal_signs(cells: Iterable[Cell]) -> DecimalSigns:
    """Count what the cells of a whole file say; give it only the columns that hold numbers."""
    counts = {",": 0, ".": 0, "?": 0}
    examples = {",": "", ".": "", "?": ""}
    for cell in cells:
        if not isinstance(cell, str):
            continue
        told = _told_sign(cell.translate(_MINUS))
        if told:
            counts[told] += 1
            examples[told] = examples[told] or shown(cell)
    return DecimalSigns(counts[","], counts["."], counts["?"], examples[","], examples["."], examples["?"])


def _told_sign(text: str) -> str:
    """The decimal sign that a number shows; "?" when it may be either; empty when it shows none."""
    one = _ONE_SIGN.fullmatch(text)
    if one:
        before, after = re.split("[.,]", text.lstrip("+-"))
        if not (before or after):
            return ""
        # "1,234" may be a thousand or a bit more than one; "0,123" and "1234,567" may not
        grouped = len(after) == 3 and 1 <= len(before) <= 3 and before != "0"
        return "?" if grouped else one.group(1)
    both = _BOTH_SIGNS.fullmatch(text)
    return both.group(1) if both and len(set(re.findall("[.,]", text))) == 2 else ""


def read_number(cell: Cell, *, decimal: Sign, where: str, field: str) -> tuple[float | None, Problem | None]:
    """A finite number from a cell, by the decimal sign of the file; or the problem with it.

    Groups of three digits may be parted by a space, an apostrophe or the other sign.

    Examples
    --------
    >>> read_number("1.041,5", decimal=",", where="row 2", field="amps")
    (1041.5, None)
    """
    if cell is None or isinstance(cell, bool | date | time):
        if cell is None:
            return None, None
        return None, _not_a_number(cell, where, field, "Type a number.")
    if isinstance(cell, int | float):
        if abs(cell) < 1e300 and math.isfinite(cell):
            return float(cell), None
        return None, _not_a_number(cell, where, field, "Type a number.")
    text = cell.strip().translate(_MINUS)
    other = "," if decimal == "." else "."
    grouped = _GROUPED.fullmatch(text)
    if grouped and grouped.group(1) != decimal:
        text = text.replace(grouped.group(1), "")
    plain = text.replace(decimal, ".") if other not in text else ""
    if _PLAIN.fullmatch(plain):
        value = float(plain)
        if math.isfinite(value):
            return value, None
    if other in text and _PLAIN.fullmatch(text.replace(other, ".")):
        word = {".": "point", ",": "comma"}
        remedy = f"The decimal sign here is a {word[decimal]}; write it so, or choose the other for the whole file."
        return None, _not_a_number(cell, where, field, remedy)
    return None, _not_a_number(cell, where, field, "Type the number alone, without unit or words.")


def _not_a_number(cell: Cell, where: str, field: str, remedy: str) -> Problem:
    return Problem(where, field, shown(cell), "This is not a number.", remedy)


def read_day(cell: Cell, *, where: str, field: str) -> tuple[date | None, Problem | None]:
    """A day: a date cell, 2026-11-25 or 25.11.2026; 3/4/2026 is refused, since two days are meant."""
    if cell is None:
        return None, None
    if isinstance(cell, datetime):
        return cell.date(), None
    if isinstance(cell, date):
        return cell, None
    text = str(cell).strip()
    dotted = re.fullmatch(r"(\d{1,2})\.(\d{1,2})\.(\d{4})", text)
    try:
        if dotted:
            return date(int(dotted[3]), int(dotted[2]), int(dotted[1])), None
        if re.fullmatch(r"\d{4}-\d{2}-\d{2}", text):
            return date.fromisoformat(text), None
    except ValueError:
        pass
    return None, Problem(
        where, field, shown(cell), "This is not a day.", "Write year, month, day: 2026-11-25."
    )


def cell_text(cell: Cell) -> str:
    """A cell as text: 25 for the number 25, 2026-11-25 for a day."""
    if cell is None:
        return ""
    if isinstance(cell, bool):
        return "yes" if cell else "no"
    if isinstance(cell, float):
        return str(int(cell)) if cell.is_integer() and abs(cell) < 2**53 else repr(cell)
    if isinstance(cell, datetime):
        return cell.isoformat(" ", "minutes")
    if isinstance(cell, date):
        return cell.isoformat()
    return str(cell)
