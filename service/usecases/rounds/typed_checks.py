"""Checks of what people type about rounds: each finding is a Problem."""

from datetime import date

from service.errors import Invalid, Problem

LONGEST_NAME = 120
LONGEST_TEXT = 2000
MOST_STOPS = 200
FIRST_DAY = date(2000, 1, 1)
LAST_DAY = date(2100, 12, 31)


def text_problems(field: str, text: str, *, longest: int = LONGEST_TEXT, required: str = "") -> list[Problem]:
    """A text that may be stored; ``required`` is what to say when it is empty."""
    found = []
    if required and not text.strip():
        found.append(problem(field, "", required, "Type it."))
    if len(text) > longest:
        found.append(problem(field, f"{len(text)} characters", f"Longer than {longest}.", "Shorten it."))
    if not storable(text):
        found.append(problem(field, "", "Holds characters that cannot be printed.", "Type it again by hand."))
    return found


def reason_given(reason: str, *, longest: int) -> str:
    """Why something is taken back, without the blanks about it.

    Raises
    ------
    Invalid
        None was given, or one that cannot be stored.
    """
    told = reason.strip()
    problems = text_problems("reason", told, longest=longest, required="It needs a reason.")
    if problems:
        raise Invalid(problems)
    return told


def storable(text: str) -> bool:
    """False for control characters and halves of surrogate pairs, which no database keeps."""
    return not any(
        (ord(letter) < 32 and letter not in "\n\r\t") or 0xD800 <= ord(letter) <= 0xDFFF for letter in text
    )


def day_problems(field: str, day: date) -> list[Problem]:
    if FIRST_DAY <= day <= LAST_DAY:
        return []
    return [problem(field, day.isoformat(), "No day for a round.", "Check the year.")]


def problem(field: str, found: str, message: str, remedy: str, *, where: str = "form") -> Problem:
    return Problem(where=where, field=field, found=found, message=message, remedy=remedy)
