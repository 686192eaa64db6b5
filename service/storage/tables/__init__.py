"""The tables, private to storage (migrations/env.py excepted)."""

from service.storage.tables import findings, people, planning, readings, record, register, rounds
from service.storage.tables.base import Base

metadata = Base.metadata

__all__ = ["Base", "findings", "metadata", "people", "planning", "readings", "record", "register", "rounds"]
