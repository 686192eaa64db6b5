"""Checks of what is typed about when somebody walks: every problem at once."""

import math
from collections.abc import Collection

from service.domain.load_hours import REMEDY, parse_load_hours
from service.domain.planning import WalkingHours, WalkPart
from service.domain.public_holidays import code_problem
from service.domain.walking_hours import runs_over_midnight
from service.domain.words import Role
from service.errors import Problem
from service.usecases.people.typed import line_problems, problem

LONGEST_HOURS = 200
LONGEST_PLACE = 120
MOST_LATITUDE, MOST_LONGITUDE = 90.0, 180.0


def walks_problems(role: Role, *, walk: Collection[Role]) -> list[Problem]:
    """A manager or an administrator is given no round."""
    if role in walk:
        return []
    message = f"This person is {role}: only technicians and engineers walk rounds."
    return [problem("person_id", role, message, remedy="Choose somebody else.")]


def hours_problems(wanted: WalkingHours) -> list[Problem]:
    """What is wrong with hours, place and holidays."""
    walks = wanted.part is not WalkPart.NONE
    found = line_problems("hours", wanted.hours, longest=LONGEST_HOURS, needed=walks)
    if not found:
        found += _clock_problems(wanted.hours)
    found += line_problems("start_place", wanted.start_place, longest=LONGEST_PLACE, needed=False)
    found += _place_problems(wanted.start_latitude, wanted.start_longitude)
    unknown = code_problem(wanted.holidays_of, field="holidays_of")
    return found + ([unknown] if unknown else [])


def _clock_problems(hours: str) -> list[Problem]:
    try:
        parsed = parse_load_hours(hours)
    except ValueError as error:
        return [problem("hours", hours, str(error), remedy=REMEDY)]
    if parsed is not None and runs_over_midnight(parsed):
        message = "These hours run over midnight; a round is walked within one day."
        return [problem("hours", hours, message, remedy="End them at 24:00, or begin at 00:00.")]
    return []


def _place_problems(latitude: float | None, longitude: float | None) -> list[Problem]:
    found = []
    sides = (("start_latitude", latitude, MOST_LATITUDE), ("start_longitude", longitude, MOST_LONGITUDE))
    for field, value, most in sides:
        if value is not None and not (math.isfinite(value) and abs(value) <= most):
            message = f"Not between −{most:.0f} and {most:.0f} degrees."
            found.append(problem(field, value, message, remedy="Type decimal degrees, such as 54.61."))
    if (latitude is None) != (longitude is None):
        missing = "start_latitude" if latitude is None else "start_longitude"
        found.append(
            problem(missing, "nothing", "One is given without the other.", remedy="Type both or none.")
        )
    return found
