"""One field of a form, a file and the API at once: what it is called, what it takes, how it is read."""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from difflib import get_close_matches
from enum import StrEnum
from functools import cache
from zoneinfo import available_timezones

from service.domain.cells import Cell, Sign, cell_text, read_day, read_number, shown
from service.domain.load_hours import load_hours_problem
from service.errors import Problem

Value = str | int | float | bool | date | None


class FieldKind(StrEnum):
    TEXT = "text"
    LONG_TEXT = "long text"
    NUMBER = "number"
    INTEGER = "integer"
    FLAG = "flag"
    CHOICE = "choice"
    OPEN_CHOICE = "choice or none"
    DAY = "day"
    LOAD_HOURS = "load hours"
    TIME_ZONE = "time zone"


#: kinds that may be absent altogether; the others have a default
NULLABLE = frozenset({FieldKind.NUMBER, FieldKind.INTEGER, FieldKind.DAY, FieldKind.OPEN_CHOICE})
#: kinds whose choices are the only values
CHOSEN = frozenset({FieldKind.CHOICE, FieldKind.OPEN_CHOICE})
#: more choices than these are not listed in a problem
MOST_CHOICES_TOLD = 12
#: what people type for nothing; in a file a dash empties a field that an empty cell leaves alone
NOTHING = frozenset({"", "-", "–", "−"})
YES = frozenset({"yes", "y", "true", "1", "x", "on"})
NO = frozenset({"no", "n", "false", "0", "off"})
_CONTROL = re.compile(r"[\x00-\x08\x0b-\x1f\x7f\ufffe\uffff\ud800-\udfff]")


@dataclass(frozen=True, slots=True, kw_only=True)
class Field:
    """One field.

    Attributes
    ----------
    label : str
        In trade words, as a form shows it.
    column : str
        Title of its column in a file; unlike the label it is unique over the whole register.
    low, high : float or None
        Closed bounds of a number.
    choices : tuple of str
        The only values of a choice; of a text, suggestions.
    most : int
        Characters of a text.
    default : Value
        What an empty box means where the field cannot be absent.
    group : str
        Heading under which a form shows it.
    """

    name: str
    label: str
    kind: FieldKind = FieldKind.TEXT
    column: str = ""
    help: str = ""
    unit: str = ""
    required: bool = False
    low: float | None = None
    high: float | None = None
    choices: tuple[str, ...] = ()
    most: int = 200
    default: Value = None
    group: str = ""

    @property
    def empty(self) -> Value:
        """What the field holds when nothing was typed."""
        if self.default is not None:
            return self.default
        if self.kind in NULLABLE:
            return None
        return False if self.kind is FieldKind.FLAG else ""

    def read(self, found: object, where: str, *, decimal: Sign = ".") -> tuple[Value, Problem | None]:
        """The value of one box or cell, or the problem with it; an empty one, or a dash, gives ``empty``."""
        if found is None or (isinstance(found, str) and found.strip() in NOTHING):
            return self.empty, self._problem(
                where, "", "This is needed.", "Fill it in."
            ) if self.required else None
        if not isinstance(found, str | int | float | bool | date):
            return None, self._problem(where, found, "This is not one value.", "Type one value.")
        if self.kind is FieldKind.NUMBER or self.kind is FieldKind.INTEGER:
            return self._read_number(found, where, decimal)
        if self.kind is FieldKind.DAY:
            return self._read_day(found, where)
        if self.kind is FieldKind.FLAG:
            return self._read_flag(found, where)
        return self._read_text(found, where)

    def _problem(self, where: str, found: object, message: str, remedy: str) -> Problem:
        return Problem(where, self.name, shown(found), message, remedy)

    def _read_number(self, found: Cell, where: str, decimal: Sign) -> tuple[Value, Problem | None]:
        value, problem = read_number(found, decimal=decimal, where=where, field=self.name)
        if value is None:
            return None, problem
        low, high = self.low, self.high
        if (low is not None and value < low) or (high is not None and value > high):
            bounds = (
                f"between {_plain(low)} and {_plain(high)}" if high is not None else f"at least {_plain(low)}"
            )
            unit = f" {self.unit}" if self.unit else ""
            return None, self._problem(where, found, f"{self.label} must be {bounds}{unit}.", self._hint())
        if self.kind is FieldKind.NUMBER:
            return value, None
        if not value.is_integer():
            return None, self._problem(
                where, found, f"{self.label} is a whole number.", "Leave the decimals out."
            )
        return int(value), None

    def _hint(self) -> str:
        return self.help or "Correct the number, or check its unit."

    def _read_day(self, found: Cell, where: str) -> tuple[Value, Problem | None]:
        day, problem = read_day(found, where=where, field=self.name)
        if day is not None and not 1950 <= day.year <= 2100:
            return None, self._problem(where, found, "This day is out of range.", "Check the year.")
        return day, problem

    def _read_flag(self, found: Cell, where: str) -> tuple[Value, Problem | None]:
        word = cell_text(found).strip().casefold()
        if word in YES or word in NO:
            return word in YES, None
        return None, self._problem(where, found, "This is neither yes nor no.", "Write yes or no.")

    def _read_text(self, found: Cell, where: str) -> tuple[Value, Problem | None]:
        text = cell_text(found).strip()
        if self.kind is FieldKind.LONG_TEXT:
            text = text.replace("\r\n", "\n")
        if _CONTROL.search(text) or (self.kind is not FieldKind.LONG_TEXT and "\n" in text):
            return None, self._problem(
                where, found, "A control character or a line break in the text.", "Type it anew on one line."
            )
        if len(text) > self.most:
            return None, self._problem(
                where, found, f"Longer than {self.most} characters.", "Shorten the text."
            )
        return self._checked_word(text, where)

    def _checked_word(self, text: str, where: str) -> tuple[Value, Problem | None]:
        if self.kind in CHOSEN:
            chosen = next((c for c in self.choices if c.casefold() == text.casefold()), None)
            if chosen is None:
                return None, self._problem(
                    where, text, "This is none of the choices.", self._choices_told(text)
                )
            return chosen, None
        if self.kind is FieldKind.LOAD_HOURS:
            return text, load_hours_problem(text, where=where, field=self.name)
        if self.kind is FieldKind.TIME_ZONE and not known_time_zone(text):
            return None, self._problem(
                where, text, "This time zone is not known.", "Write it like Europe/London."
            )
        return text, None

    def _choices_told(self, text: str) -> str:
        """All choices where they are few, else the nearest and where the others stand."""
        words = [choice for choice in self.choices if choice]
        if len(words) <= MOST_CHOICES_TOLD:
            return f"Choose: {', '.join(words)}."
        near = get_close_matches(plain_word(text), words, n=1, cutoff=0.6)
        return f"Did you mean {near[0]}? {self.help}" if near else f"{self.help}"


def plain_word(text: str) -> str:
    """A typed choice as keys are written: small letters, hyphens for spaces."""
    return "-".join(text.casefold().replace(",", " ").split())


@cache
def time_zones() -> frozenset[str]:
    return frozenset(name for name in available_timezones() if "/" in name or name == "UTC")


def known_time_zone(name: str) -> bool:
    return name in time_zones()


def _plain(bound: float | None) -> str:
    return "" if bound is None else f"{bound:g}"


def read_all(
    fields: Sequence[Field],
    found: Mapping[str, object],
    where: str,
    *,
    decimal: Sign = ".",
    partial: bool = False,
) -> tuple[dict[str, Value], list[Problem]]:
    """Every field from a form, a row or a body: the values that are sound, and all problems.

    Parameters
    ----------
    fields : sequence of Field
        The catalogue.
    found : mapping of str to object
        What was sent, by field name.
    where : str
        Place in the input, for the problems.
    decimal : {".", ","}
        Decimal sign of numbers that came as text.
    partial : bool
        True for an edit: what was not sent is left alone instead of being set to its default.

    Returns
    -------
    values : dict
        By field name.
    problems : list of Problem
        Empty when all is sound.
    """
    values: dict[str, Value] = {}
    problems: list[Problem] = []
    for field in fields:
        if partial and field.name not in found:
            continue
        value, problem = field.read(found.get(field.name), where, decimal=decimal)
        if problem is not None:
            problems.append(problem)
        else:
            values[field.name] = value
    names = {field.name for field in fields}
    problems += [
        Problem(where, shown(name), "", "There is no such field.", "Leave it out.")
        for name in found
        if name not in names
    ]
    return values, problems


def typed_text(value: Value) -> str:
    """A value as a form's box or a file's cell shows it."""
    if isinstance(value, datetime):
        value = value.date()
    return cell_text(value)
