"""JSON bodies: bytes to plain values, refused as one problem when they are none."""

import json
from collections.abc import Sequence
from typing import Any

from service.domain.cells import shown
from service.intake.collecting import Problems, one_problem
from service.intake.limits import MOST_BYTES, MOST_ROWS


def read_message(content: bytes, *, known: Sequence[str]) -> dict[str, Any]:
    """The fields of a JSON object.

    Raises
    ------
    service.errors.Invalid
        Not JSON, not an object, too large, or fields that are not ``known``.
    """
    if len(content) > MOST_BYTES:
        raise one_problem(
            "body",
            "",
            f"{len(content) / 1048576:.1f} MiB",
            message=f"The body is larger than {MOST_BYTES // 1048576} MiB.",
            remedy="Send it in parts.",
        )
    try:
        body = json.loads(content, parse_constant=_no_number)
    except (ValueError, RecursionError) as error:
        raise one_problem(
            "body", "", shown(error), message="This is not JSON.", remedy="Send a JSON object in UTF-8."
        ) from error
    if not isinstance(body, dict):
        raise one_problem(
            "body", "", body, message="This is not a JSON object.", remedy='Send {"rows": […]}.'
        )
    problems = Problems()
    for name in body:
        if name not in known:
            problems.add("body", name, body[name], message="No field of this name.", remedy="Leave it out.")
    problems.refuse()
    return body


def rows_in(body: dict[str, Any]) -> list[Any]:
    """The rows of a message: at least one, at most as many as a file may have.

    Raises
    ------
    service.errors.Invalid
        There is no such list.
    """
    rows = body.get("rows")
    if isinstance(rows, list) and 1 <= len(rows) <= MOST_ROWS:
        return rows
    found = f"{len(rows)} rows" if isinstance(rows, list) else rows
    raise one_problem(
        "body",
        "rows",
        found,
        message=f"A list of 1 to {MOST_ROWS} rows is expected.",
        remedy='Send {"rows": […]}.',
    )


def _no_number(word: str) -> float:
    raise ValueError(f"{word} is no JSON number")
