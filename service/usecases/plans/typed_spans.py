"""Checks of days typed from and to, of absences and closures: every problem at once."""

from datetime import date

from service.errors import Problem
from service.usecases.people.typed import line_problems, problem
from service.usecases.rounds.typed_checks import day_problems

LONGEST_NOTE = 120
#: longer than any leave; a slip in the year is not
LONGEST_DAYS = 400


def span_problems(
    from_on: date, to_on: date, words: str, *, field: str, needed: bool = False
) -> list[Problem]:
    """What is wrong with the days, and with the words under ``field``."""
    found = day_problems("from_on", from_on) + day_problems("to_on", to_on)
    if to_on < from_on:
        found.append(problem("to_on", to_on, "It ends before it begins.", remedy="Check both days."))
    elif (to_on - from_on).days >= LONGEST_DAYS:
        days = f"{(to_on - from_on).days + 1} days"
        found.append(problem("to_on", days, f"Longer than {LONGEST_DAYS} days.", remedy="Check the year."))
    return found + line_problems(field, words, longest=LONGEST_NOTE, needed=needed)
