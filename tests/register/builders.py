"""Register files for tests: rows by column title, as a CSV or a workbook."""

import csv
import io
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from typing import Any

from service.domain.people import Actor
from service.domain.words import Role
from tests.builders import Plant
from tests.intake.workbooks import workbook

Row = Mapping[str, Any]


def keeper(plant: Plant, **change: Any) -> Actor:
    """An engineer who may keep the whole client."""
    return replace(plant.actor(Role.ENGINEER), whole_clients=frozenset({plant.client_id}), **change)


def titles_of(rows: Iterable[Row]) -> list[str]:
    return list(dict.fromkeys(title for row in rows for title in row))


def csv_of(rows: Sequence[Row], *, separator: str = ",", encoding: str = "utf-8") -> bytes:
    titles = titles_of(rows)
    buffer = io.StringIO()
    writer = csv.writer(buffer, delimiter=separator)
    writer.writerow(titles)
    writer.writerows([row.get(title, "") for title in titles] for row in rows)
    return buffer.getvalue().encode(encoding)


def workbook_of(sheets: Mapping[str, Sequence[Row]]) -> bytes:
    table = {}
    for name, rows in sheets.items():
        titles = titles_of(rows)
        table[name] = [titles, *([row.get(title) for title in titles] for row in rows)]
    return workbook(table)


def flat_row(point: int = 1, **change: Any) -> dict[str, Any]:
    """One row of the flat form; ``change`` by column title with underscores for spaces."""
    view = (point - 1) // 3 + 1
    row = {
        "Site code": "WEN",
        "Site name": "Wendlebrook works",
        "Time zone": "Europe/London",
        "Area code": "SWR",
        "Area name": "Switchroom",
        "Equipment tag": "MCC1",
        "Equipment name": "MCC 1",
        "Access": "hinged cover",
        "Load hours": "mon-fri 07:00-11:30; 13:15-15:00",
        "View tag": f"MCC1-F{view:02d}",
        "View name": f"Feeder {view:02d}",
        "Point tag": f"MCC1-P{point:03d}",
        "Point name": f"Line terminal {point}",
        "Kind": "joint",
        "Emissivity": 0.95,
        "Common load A": 100,
        "Common load source": "rating",
    }
    return row | {title.replace("_", " "): value for title, value in change.items()}


def flat_rows(count: int) -> list[dict[str, Any]]:
    return [flat_row(point) for point in range(1, count + 1)]
