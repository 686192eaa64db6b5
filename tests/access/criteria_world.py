"""Sets of criteria to ask for: one of client A that nobody chose yet, and a preset of the house."""

from dataclasses import replace
from datetime import datetime

from service.domain.presets import TWO_COLUMN
from service.storage.criteria import add_criteria
from service.storage.unit import Unit


def add_sets(unit: Unit, *, client_id: int, mark: str, now: datetime) -> dict[str, int]:
    """Ids by the names under which the table of routes asks for them."""
    ids = {}
    for key, name, title in (
        ("criteria_id", f"c{client_id}-own", f"{mark} rules"),
        ("criteria_id_preset", "house-all", "For all"),
    ):
        made = replace(TWO_COLUMN, id=name, title=title)
        ids[key] = add_criteria(unit, made, valid_from=now.date(), now=now, by_person_id=None)
    return ids
