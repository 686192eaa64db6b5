"""Check that the database is whole, keeps what it acknowledges, and has its files beside it."""

from pathlib import Path

from service.errors import RiselineError
from service.storage import pictures, rasters, sheet_scans, spoken_notes
from service.storage.checks import faults_of
from service.storage.engine import refuse_unsafe_durability
from service.storage.files import FileShelf, Shelf
from service.storage.unit import Store
from service.usecases.record.migrate import require_newest


def verify(store: Store, database_url: str, *, migrations: Path, files: FileShelf, shelf: Shelf) -> list[str]:
    """Everything found wrong, in plain sentences; empty when all is well."""
    try:
        require_newest(database_url, migrations=migrations)
        refuse_unsafe_durability(store.engine)
    except RiselineError as error:
        return [f"{error.message}. {error.remedy}"]
    return faults_of(store) or _missing_files(store, files, shelf)


def _missing_files(store: Store, files: FileShelf, shelf: Shelf) -> list[str]:
    """A database that was restored without its files is not whole."""
    with store.look() as unit:
        named = (
            ("rasters", rasters.files_named(unit), files),
            ("signed sheets", sheet_scans.files_named(unit), files),
            ("pictures", pictures.files_named(unit), shelf),
            ("spoken notes", spoken_notes.files_named(unit), shelf),
        )
    faults = []
    for noun, names, where in named:
        missing = [name for name in names if not where.has(name)]
        if missing:
            faults.append(f"{len(missing)} files of {noun} are not in {where}, the first is {missing[0]}")
    return faults
