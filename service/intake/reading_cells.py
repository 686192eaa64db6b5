"""Columns of cells to columns of values: a whole column at once where nothing is odd in it."""

import math
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any, cast

from service.domain.cells import Cell, Sign, cell_text, decimal_signs, read_number, shown
from service.domain.fahrenheit import kept_celsius
from service.domain.words import LoadSource, Reason, SettingSource, VisitKind
from service.errors import Problem
from service.intake.collecting import Problems
from service.intake.limits import MOST_CHARACTERS

Cells = Sequence[Cell]


@dataclass(frozen=True, slots=True)
class Range:
    """Least and greatest value that a cell may hold, in the unit of the column."""

    low: float
    high: float
    unit: str
    temperature: bool = False
    share: bool = False


NUMBERS: dict[str, Range] = {
    "temperature_c": Range(-90, 2000, "°C", temperature=True),
    "ambient_c": Range(-60, 80, "°C", temperature=True),
    "reflected_c": Range(-90, 500, "°C", temperature=True),
    "current_a": Range(0, 100_000, "A"),
    "neutral_a": Range(0, 100_000, "A"),
    "wind_m_s": Range(0, 60, "m/s"),
    "emissivity_set": Range(0.01, 1, "", share=True),
    "humidity_percent": Range(0, 100, "%"),
    "distance_m": Range(0, 1000, "m"),
    "minutes_at_load": Range(0, 100_000, "minutes"),
    "reflected_set_c": Range(-90, 500, "°C", temperature=True),
    "transmission_set": Range(0.01, 1, "", share=True),
    "emissivity": Range(0.01, 1, "", share=True),
    "window_transmission": Range(0.01, 1, "", share=True),
    "window_c": Range(-60, 200, "°C", temperature=True),
    "path_transmission": Range(0.01, 1, "", share=True),
    "skew_s": Range(-4e9, 4e9, "s"),
}

_YES = frozenset({"yes", "y", "true", "x", "1", "on"})
_NO = frozenset({"no", "n", "false", "0", "off", "-"})
_REASONS: dict[str, Reason] = {r.value.casefold(): r for r in Reason} | {r.word: r for r in Reason}
_VISIT_KINDS: dict[str, VisitKind] = {kind.value: kind for kind in VisitKind}
_LOAD_SOURCES: dict[str, LoadSource] = {source.value: source for source in LoadSource}
_STANDINGS: dict[str, SettingSource] = {source.value: source for source in SettingSource}
_WORDS: dict[str, dict[str, Any]] = {
    "reason": _REASONS,
    "visit_kind": _VISIT_KINDS,
    "load_source": _LOAD_SOURCES,
    "emissivity_standing": _STANDINGS,
    "reflected_standing": _STANDINGS,
}
CONTROL = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\x7f\ud800-\udfff\ufffe\uffff]")
_PLAIN_POINT = re.compile(r"[0-9.+\-\x00]*")
_PLAIN_COMMA = re.compile(r"[0-9,+\-\x00]*")
#: A cell that settles what its sign means: not three digits behind one to three.
_TELLING = r"(?:^|\x00)[+-]?(?:\d*{0}\d{{1,2}}|\d*{0}\d{{4,}}|0?{0}\d{{3}}|\d{{4,}}{0}\d{{3}})(?=\x00|$)"
_TELLING_POINT = re.compile(_TELLING.format("[.]"))
_TELLING_COMMA = re.compile(_TELLING.format("[,]"))


def decimal_sign(columns: Iterable[Cells]) -> tuple[Sign | None, str]:
    """The decimal sign of a file, or None with what is in doubt; asked, never guessed.

    Returns
    -------
    sign : "." or "," or None
        None when both signs are met, or when only cells such as "1,250" are.
    example : str
        Cells that leave it open.
    """
    texts = [cell for cells in columns for cell in cells if type(cell) is str]
    joined = "\x00".join(texts)
    point, comma = "." in joined, "," in joined
    if not point and not comma:
        return ".", ""
    if point and comma:
        signs = decimal_signs(texts)
        return signs.sign, f"{signs.comma_example} and {signs.point_example}".strip(" and")
    telling = _TELLING_COMMA if comma else _TELLING_POINT
    if telling.search(joined):
        return ("," if comma else "."), ""
    sign = "," if comma else "."
    return None, next(text for text in texts if sign in text)


def read_numbers(
    name: str,
    cells: Cells,
    *,
    decimal: Sign,
    fahrenheit: bool,
    wheres: Sequence[str],
    problems: Problems,
    strict: bool,
) -> list[float | None]:
    """A column of numbers within their range; temperatures come out in °C.

    ``strict`` takes numbers only (JSON); otherwise texts are read by the decimal sign.
    """
    within = NUMBERS[name]
    values = _fast(cells, decimal) if not strict else _fast_numbers(cells)
    if values is None:
        values = [
            _one(name, cell, decimal=decimal, where=where, problems=problems, strict=strict)
            for cell, where in zip(cells, wheres, strict=True)
        ]
    if fahrenheit and within.temperature:
        values = [None if v is None else kept_celsius(v) for v in values]
    held = [v for v in values if v is not None]
    if held and not (within.low <= min(held) and max(held) <= within.high):
        _refuse_outside(name, cells, values, within=within, wheres=wheres, problems=problems)
    return values


def _fast(cells: Cells, decimal: Sign) -> list[float | None] | None:
    """All cells at once, or None when one of them needs a closer look."""
    texts = [cell for cell in cells if type(cell) is str]
    if len(texts) + cells.count(None) != len(cells):
        return _fast_numbers(cells) if not texts else None
    plain = _PLAIN_COMMA if decimal == "," else _PLAIN_POINT
    if not plain.fullmatch("\x00".join(texts)):
        return None
    typed = cast("list[str | None]", cells)
    try:
        if decimal == ",":
            return [None if c is None else float(c.replace(",", ".")) for c in typed]
        return [None if c is None else float(c) for c in typed]
    except ValueError:
        return None


def _fast_numbers(cells: Cells) -> list[float | None] | None:
    if not {type(cell) for cell in cells} <= {int, float, type(None)}:
        return None
    try:
        values = [None if c is None else float(c) for c in cells]  # type: ignore[arg-type]
    except OverflowError:
        return None
    return values if all(v is None or math.isfinite(v) for v in values) else None


def _one(
    name: str, cell: Cell, *, decimal: Sign, where: str, problems: Problems, strict: bool
) -> float | None:
    problem: Problem | None
    if strict and cell is not None and type(cell) not in (int, float):
        problem = Problem(where, name, shown(cell), "This is not a number.", "Send a JSON number.")
        value = None
    else:
        try:
            value, problem = read_number(cell, decimal=decimal, where=where, field=name)
        except OverflowError:
            value, problem = None, Problem(where, name, shown(cell), "Too large a number.", "Check it.")
    if problem is not None:
        problems.take(problem)
    return value


def _refuse_outside(
    name: str,
    cells: Cells,
    values: Sequence[float | None],
    *,
    within: Range,
    wheres: Sequence[str],
    problems: Problems,
) -> None:
    unit = f" {within.unit}" if within.unit else ""
    remedy = (
        "A share lies between 0.01 and 1: check it." if within.share else "Correct the number, or its unit."
    )
    for cell, value, where in zip(cells, values, wheres, strict=True):
        if value is not None and not within.low <= value <= within.high:
            problems.add(
                where,
                name,
                cell,
                message=f"Outside {within.low:g} to {within.high:g}{unit}, what can be read here.",
                # nobody means a share of two: it was typed in per cent
                remedy=f"For {value:g} % type {value / 100:g}."
                if within.share and 2 <= value <= 100
                else remedy,
            )


def read_texts(
    name: str, cells: Cells, *, wheres: Sequence[str], problems: Problems, strict: bool
) -> list[str]:
    """A column of texts that every database can hold."""
    texts = ["" if c is None else c if type(c) is str else cell_text(c) for c in cells]
    if strict:
        for cell, where in zip(cells, wheres, strict=True):
            if cell is not None and type(cell) is not str:
                problems.add(where, name, cell, message="This is not a text.", remedy="Send a JSON string.")
    if CONTROL.search("".join(texts)) or max(map(len, texts), default=0) > MOST_CHARACTERS:
        for text, where in zip(texts, wheres, strict=True):
            if CONTROL.search(text):
                problems.add(
                    where, name, text, message="A character that is no text.", remedy="Type it anew."
                )
            if len(text) > MOST_CHARACTERS:
                message = f"More than {MOST_CHARACTERS} characters."
                problems.add(where, name, text, message=message, remedy="Shorten the text.")
    return [text.strip() for text in texts]


def read_words(
    name: str, texts: Sequence[str], *, wheres: Sequence[str], problems: Problems
) -> list[Any | None]:
    """A column of words out of a fixed list; an empty cell is None."""
    known = _WORDS[name]
    found: dict[str, Any | None] = {text: known.get(text.casefold()) for text in set(texts)}
    if any(text and word is None for text, word in found.items()):
        offered = ", ".join(dict.fromkeys(word.value for word in known.values()))
        for text, where in zip(texts, wheres, strict=True):
            if text and found[text] is None:
                problems.add(where, name, text, message="Not one of the words.", remedy=f"One of: {offered}.")
    return [found[text] for text in texts]


def read_flags(
    name: str, cells: Cells, *, wheres: Sequence[str], problems: Problems, strict: bool
) -> list[bool]:
    """A column of yes or no; an empty cell is no."""
    answers = read_answers(name, cells, wheres=wheres, problems=problems, strict=strict)
    return [bool(answer) for answer in answers]


def read_answers(
    name: str, cells: Cells, *, wheres: Sequence[str], problems: Problems, strict: bool
) -> list[bool | None]:
    """A column of yes or no; an empty cell is no answer."""
    answers: list[bool | None] = []
    for cell, where in zip(cells, wheres, strict=True):
        if cell is None or isinstance(cell, bool):
            answers.append(cell)
            continue
        word = "" if strict else cell_text(cell).strip().casefold()
        if word not in _YES and word not in _NO:
            remedy = "Send true or false." if strict else "Type yes, or leave it empty."
            problems.add(where, name, cell, message="Neither yes nor no.", remedy=remedy)
        answers.append((word in _YES) if word else None)
    return answers
