"""Keep the shipped criteria in the database, so that verdicts can name what they stand on."""

from datetime import datetime

from service.storage.criteria import add_missing_presets
from service.storage.unit import Store


def ensure_presets(store: Store, *, now: datetime) -> int:
    """Add the shipped sets that are missing; returns how many were added. Safe to run again."""
    with store.begin() as unit:
        return add_missing_presets(unit, now=now)
