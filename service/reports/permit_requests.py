"""The list of permits to ask for as CSV; no cell of it can become a formula."""

import csv
import io
from collections.abc import Iterable, Sequence

from service.domain.cells import guarded

HEADERS = (
    "site",
    "contact",
    "phone",
    "ask_by",
    "day",
    "from",
    "to",
    "round",
    "equipment_tag",
    "equipment",
    "area",
    "access",
    "voltage_class",
    "stand_off",
    "reads",
    "second_person",
    "permit",
    "permit_number",
    "run_for_the_visit",
    "run_request",
)


def permit_requests_csv(rows: Iterable[Sequence[str]]) -> bytes:
    """UTF-8 with a byte order mark, commas, CRLF (RFC 4180): a row a cover or machine to run, columns as in ``HEADERS``."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(HEADERS)
    for row in rows:
        writer.writerow([guarded(cell) for cell in row])
    return ("\ufeff" + out.getvalue()).encode()
