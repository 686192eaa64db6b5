"""Files beside the database: kept under the name of their content, whole or not at all."""

import errno
import os
import re
import tempfile
from dataclasses import dataclass
from pathlib import Path

from service.errors import NotFound, StorageFull

#: room, first two letters of the content's name, the content's name, kind
_NAME = re.compile(r"[a-z]{3,20}/[0-9a-f]{2}/[0-9a-f]{64}\.[a-z0-9]{2,5}")
_NO_ROOM = frozenset({errno.ENOSPC, errno.EDQUOT, errno.EFBIG})


@dataclass(frozen=True, slots=True)
class FileShelf:
    """A folder of files that never change: equal contents have one name and lie there once."""

    folder: Path

    def keep(self, name: str, content: bytes) -> None:
        """Put a content under its name; it is on the disk when this returns.

        Raises
        ------
        service.errors.StorageFull
            There is no room; nothing of it was kept.
        """
        path = self._path(name)
        if path.exists() and path.stat().st_size == len(content):
            return
        try:
            path.parent.mkdir(parents=True, exist_ok=True)
            _write_whole(path, content)
        except OSError as error:
            if error.errno not in _NO_ROOM:
                raise
            raise StorageFull("There is no room to keep this file; nothing of it was kept") from error

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
        if not _NAME.fullmatch(name):
            raise ValueError(f"not a name of a kept file: {name!r}")
        return self.folder / name


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
    folder = os.open(path.parent, os.O_RDONLY)
    try:
        os.fsync(folder)
    finally:
        os.close(folder)
