"""Files beside the database: kept under the name of their content, whole or not at all."""

import os
import re
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Protocol

from service.errors import NotFound, told_of_disk

#: room, first two letters of the content's name, the content's name, kind
_NAME = re.compile(r"[a-z]{3,20}/[0-9a-f]{2}/[0-9a-f]{64}\.[a-z0-9]{2,5}")


class Shelf(Protocol):
    """Where files lie that never change: a folder, or a bucket."""

    def keep(self, name: str, content: bytes) -> None: ...

    def read(self, name: str) -> bytes: ...

    def has(self, name: str) -> bool: ...


def shelf_name(room: str, content_hash: str, kind: str) -> str:
    """Where a content lies on a shelf: by its room, its own name (SHA-256 in hex) and its kind."""
    return f"{room}/{content_hash[:2]}/{content_hash}.{kind}"


def checked_name(name: str) -> str:
    """The name, when it is one of a kept file.

    Raises
    ------
    ValueError
        It is not: nothing else is ever asked of a shelf.
    """
    if not _NAME.fullmatch(name):
        raise ValueError(f"not a name of a kept file: {name!r}")
    return name


@dataclass(frozen=True, slots=True)
class FileShelf:
    """A folder of files that never change: equal contents have one name and lie there once."""

    folder: Path

    def keep(self, name: str, content: bytes) -> None:
        """Put a content under its name; it is on the disk when this returns, and so is its name.

        Raises
        ------
        service.errors.StorageFull, service.errors.Unavailable
            There is no room, or the disk does not take it; nothing of it counts as kept.
        """
        path = self._path(name)
        try:
            above = _made(self.folder)
            path.parent.mkdir(parents=True, exist_ok=True)
            if not (path.exists() and path.stat().st_size == len(content)):
                _write_whole(path, content)
            # also where it was there already: who put it there may not have flushed the folders yet
            for folder in (*_up_to(self.folder, path.parent), *above):
                _flush(folder)
        except OSError as error:
            raise told_of_disk(error, "This file cannot be kept; nothing of it was") from error

    def read(self, name: str) -> bytes:
        """The content under a name.

        Raises
        ------
        service.errors.NotFound
            It is not there: the folder was not restored with the database.
        """
        try:
            return self._path(name).read_bytes()
        except FileNotFoundError as error:
            raise NotFound(
                "This file is not kept here any more.",
                remedy="Restore the folder of files that belongs to this database.",
            ) from error

    def has(self, name: str) -> bool:
        return self._path(name).is_file()

    def _path(self, name: str) -> Path:
        return self.folder / checked_name(name)

    def __str__(self) -> str:
        return str(self.folder)


def _made(folder: Path) -> tuple[Path, ...]:
    """Make a folder; the folders in which a new name stands because of it."""
    missing = [one for one in (folder, *folder.parents) if not one.exists()]
    folder.mkdir(parents=True, exist_ok=True)
    return tuple(one.parent for one in missing)


def _up_to(top: Path, folder: Path) -> Iterator[Path]:
    """A folder and those above it, as far as ``top``."""
    yield folder
    while folder != top:
        folder = folder.parent
        yield folder


def _write_whole(path: Path, content: bytes) -> None:
    """Aside first, flushed, then renamed: a crash leaves the old state or the new one."""
    handle, aside = tempfile.mkstemp(dir=path.parent, prefix=".half-")
    try:
        with os.fdopen(handle, "wb") as half:
            half.write(content)
            half.flush()
            os.fsync(half.fileno())
        Path(aside).replace(path)
    except BaseException:
        Path(aside).unlink(missing_ok=True)
        raise


def _flush(folder: Path) -> None:
    """A name is on the disk once its folder is flushed; flushing the file itself does not do it."""
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
