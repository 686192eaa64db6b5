"""Check that the database is whole, keeps what it acknowledges, and has its files beside it."""

from pathlib import Path

from service.errors import RiselineError
from service.storage import rasters
from service.storage.checks import faults_of
from service.storage.engine import refuse_unsafe_durability
from service.storage.files import FileShelf
from service.storage.unit import Store
from service.usecases.record.migrate import require_newest


def verify(store: Store, database_url: str, *, migrations: Path, files: FileShelf) -> list[str]:
    """Everything found wrong, in plain sentences; empty when all is well."""
    try:
        require_newest(database_url, migrations=migrations)
        refuse_unsafe_durability(store.engine)
    except RiselineError as error:
        return [f"{error.message}. {error.remedy}"]
    return faults_of(store) or _missing_files(store, files)


def _missing_files(store: Store, files: FileShelf) -> list[str]:
    """A database that was restored without its folder of files is not whole."""
    with store.look() as unit:
        missing = [name for name in rasters.files_named(unit) if not files.has(name)]
    if not missing:
        return []
    return [f"{len(missing)} files of rasters are not in {files.folder}, the first is {missing[0]}"]
