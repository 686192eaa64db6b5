"""Copy the whole database to a file that can be restored from."""

from datetime import datetime
from pathlib import Path

from service.storage.copies import copy_database, suffix


def back_up(database_url: str, *, to: Path, now: datetime) -> Path:
    """Make one consistent copy while the service goes on.

    Parameters
    ----------
    to : Path
        A file to be written, or a folder: then the name tells the instant.

    Returns
    -------
    Path
        The file that was written.

    Raises
    ------
    service.errors.Conflict
        A file of this name is there already, or there is no database.
    service.errors.Unavailable
        The copy could not be made or did not stand its check.
    """
    target = to / f"riseline-{now:%Y%m%dT%H%M%SZ}{suffix(database_url)}" if to.is_dir() else to
    copy_database(database_url, target)
    return target
