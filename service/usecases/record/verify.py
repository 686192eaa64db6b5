"""Check that the database is whole and keeps what it acknowledges."""

from pathlib import Path

from service.errors import RiselineError
from service.storage.checks import faults_of
from service.storage.engine import refuse_unsafe_durability
from service.storage.unit import Store
from service.usecases.record.migrate import require_newest


def verify(store: Store, database_url: str, *, migrations: Path) -> list[str]:
    """Everything found wrong, in plain sentences; empty when all is well."""
    try:
        require_newest(database_url, migrations=migrations)
        refuse_unsafe_durability(store.engine)
    except RiselineError as error:
        return [f"{error.message}. {error.remedy}"]
    return faults_of(store)
