"""The tables, private to storage (migrations/env.py excepted)."""

from service.storage.tables import (
    field,
    findings,
    people,
    pictures,
    planning,
    readings,
    record,
    register,
    returns,
    rounds,
)
from service.storage.tables.base import Base

metadata = Base.metadata

__all__ = [
    "Base",
    "field",
    "findings",
    "metadata",
    "people",
    "pictures",
    "planning",
    "readings",
    "record",
    "register",
    "returns",
    "rounds",
]
