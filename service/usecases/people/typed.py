"""Checks of what is typed about people: every problem at once."""

import re
from datetime import date

from service.domain.people import CertificateFields, PersonFields
from service.errors import Problem

LOGIN = re.compile(r"[a-z0-9][a-z0-9._@+-]{1,59}")
EMAIL = re.compile(r"[^@\s]+@[^@\s]+")
CATEGORIES = range(1, 5)


def problem(
    field: str, found: object, message: str, *, remedy: str = "Correct it and send it again."
) -> Problem:
    return Problem(where="form", field=field, found=str(found)[:80], message=message, remedy=remedy)


def line_problems(field: str, text: str, *, longest: int = 100, needed: bool = True) -> list[Problem]:
    """What is wrong with one line of text."""
    if needed and not text.strip():
        return [problem(field, "nothing", "This is needed.", remedy="Fill it in.")]
    if len(text) > longest:
        found = f"{len(text)} characters"
        return [problem(field, found, f"At most {longest} characters fit.", remedy="Shorten it.")]
    if not text.isprintable():
        return [problem(field, repr(text), "It holds a sign that cannot be printed.", remedy="Type it anew.")]
    return []


def person_problems(fields: PersonFields) -> list[Problem]:
    found = line_problems("name", fields.name)
    if not LOGIN.fullmatch(fields.login):
        found.append(
            problem(
                "login",
                repr(fields.login),
                "A sign-in name has 2 to 60 small letters, figures or . _ @ + -.",
                remedy="Take one that starts with a letter or a figure.",
            )
        )
    found += line_problems("email", fields.email, longest=200, needed=False)
    if fields.email and not EMAIL.fullmatch(fields.email):
        found.append(
            problem("email", fields.email, "This is no mail address.", remedy="Correct it or leave it.")
        )
    return found


def certificate_problems(fields: CertificateFields) -> list[Problem]:
    found = line_problems("scope", fields.scope)
    found += line_problems("number", fields.number, needed=False)
    if fields.category not in CATEGORIES:
        found.append(problem("category", fields.category, "A category is 1, 2, 3 or 4."))
    if not date(1990, 1, 1) <= fields.expires_on <= date(2100, 1, 1):
        found.append(problem("expires_on", fields.expires_on, "This is no likely last day of a certificate."))
    return found
