"""What every row of this folder says of itself: source, clause and kind, in the id of its test."""

import re
from collections.abc import Iterable, Sequence
from typing import Any

import pytest

PUBLISHED = "published"
LIBRARY = "reference library"
BY_HAND = "worked by hand"
PRACTICE = "common practice, no source"
MEMORY = "from memory"
KINDS = (PUBLISHED, LIBRARY, BY_HAND, PRACTICE, MEMORY)
#: Not a row: a test that guards a table against typing errors and gaps.
GUARD = "guard of a table"
#: The libraries that are asked as referees, as they name themselves in the ids.
REFEREES = (
    "astropy",
    "GTC",
    "ht",
    "mpmath",
    "pymannkendall",
    "scipy",
    "transformer-thermal-model",
    "uncertainties",
)

_KIND = re.compile(r"\[(" + "|".join(map(re.escape, (*KINDS, GUARD))) + r")\]")


def named(rows: Iterable[Sequence[Any]]) -> list[Any]:
    """Rows as parameters whose ids show source, clause and kind: the last three of each row."""
    return [pytest.param(*row[:-3], id=told(*row[-3:])) for row in rows]


def evidence(source: str, clause: str, kind: str) -> pytest.MarkDecorator:
    """Source, clause and kind of a test that is one row by itself, or the same for all of its rows."""
    assert kind in (*KINDS, GUARD)
    return pytest.mark.parametrize(
        "evidence_of_the_row", [kind], indirect=True, ids=[told(source, clause, kind)]
    )


def told(source: str, clause: str, kind: str) -> str:
    return f"{source}, {clause} [{kind}]"


def kinds_in(test_id: str) -> list[str]:
    """The kinds that the id of a test names; a sound one names one."""
    return _KIND.findall(test_id)


def referee_in(test_id: str) -> str:
    """The referee that an id names, by whole words; empty where it names none."""
    return next((name for name in REFEREES if re.search(rf"(?<!\w){name}(?![\w-])", test_id)), "")
