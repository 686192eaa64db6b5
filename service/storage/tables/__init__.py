"""The tables, private to storage (migrations/env.py excepted)."""

from service.storage.tables import findings, people, readings, record, register, rounds
from service.storage.tables.base import Base

metadata = Base.metadata

__all__ = ["Base", "findings", "metadata", "people", "readings", "record", "register", "rounds"]
