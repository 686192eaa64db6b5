"""The demonstration, loaded once."""

from tests.demo_ground import demo_database, demo_store, demo_world

__all__ = ["demo_database", "demo_store", "demo_world"]
