"""What the tables of the register hold, counted from outside."""

from sqlalchemy import text

from service.storage.unit import Store

TABLES = (
    "clients",
    "sites",
    "areas",
    "equipment",
    "views",
    "points",
    "instruments",
    "view_members",
    "common_loads",
    "point_state",
    "site_state",
    "audit",
)


def counts(store: Store) -> dict[str, int]:
    with store.look() as unit:
        return {
            table: int(unit.session.execute(text(f"SELECT count(*) FROM {table}")).scalar_one())
            for table in TABLES
        }


def ask(store: Store, question: str, **values: object) -> list[tuple[object, ...]]:
    with store.look() as unit:
        return [tuple(row) for row in unit.session.execute(text(question), values)]
