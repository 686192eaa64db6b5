"""Fields and problems of a form: their ids in the page, and where a person looks for them."""

from collections.abc import Sequence

from service.errors import Problem
from service.pages.view.words import sentence_case


def field_id(name: str) -> str:
    """A field's name as part of an HTML id."""
    return "".join(letter if letter.isalnum() else "-" for letter in name)


def of_field(problems: Sequence[Problem], name: str) -> list[Problem]:
    return [problem for problem in problems if problem.field == name]


def place_of(problem: Problem) -> str:
    """Row 14, L2: as the person would look for it."""
    words = [word for word in (problem.where, problem.field.replace("_", " ")) if word and word != "body"]
    return f"{sentence_case(', '.join(words))}:" if words else ""
