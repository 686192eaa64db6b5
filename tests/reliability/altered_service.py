"""The command `riseline`, altered: broken twins that a harness must catch, and a log that is moved often.

``python -m tests.reliability.altered_service ALTERATION… COMMAND``.
"""

import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

from sqlalchemy import Engine, event

from service import cli
from service.errors import StorageFull, Unavailable
from service.storage import files, unit


def moves_the_log_often() -> None:
    """Not broken: the write-ahead log goes into the file every few commits, as it does on a busy day."""
    _on_connecting("PRAGMA wal_autocheckpoint=64")


def flushes_later() -> None:
    """Broken: a commit is in the log, but not on the disk."""
    _on_connecting("PRAGMA synchronous=normal")


def forgets_folders() -> None:
    """Broken: a file is flushed, the folder that holds its name is not."""
    files._flush = lambda _folder: None


def forgets_new_folders() -> None:
    """Broken: the folder of a file is flushed, the one that holds that folder's name is not."""
    files._up_to = lambda _top, folder: iter((folder,))
    files._made = lambda folder: folder.mkdir(parents=True, exist_ok=True) or ()


def shrugs_at_a_full_disk() -> None:
    """Broken: a file that found no room is passed over in silence."""
    keep = files.FileShelf.keep

    def shrugging(shelf: files.FileShelf, name: str, content: bytes) -> None:
        try:
            keep(shelf, name, content)
        except (StorageFull, Unavailable):
            return

    files.FileShelf.keep = shrugging  # type: ignore[method-assign]


def acknowledges_what_failed() -> None:
    """Broken: a commit that failed is taken for done."""
    told = unit._translated

    class Deaf:
        def __init__(self) -> None:
            self.inner = told()

        def __enter__(self) -> None:
            self.inner.__enter__()

        def __exit__(self, kind: Any, error: Any, trace: Any) -> bool:
            try:
                return bool(self.inner.__exit__(kind, error, trace))
            except (StorageFull, Unavailable):
                return True

    unit._translated = Deaf  # type: ignore[assignment]


def _on_connecting(pragma: str) -> None:
    """After the service's own settings of a connection."""
    opened = cli.open_engine

    def opening(url: str, **how: Any) -> Engine:
        engine = opened(url, **how)
        event.listen(engine, "connect", lambda raw, _record: raw.execute(pragma).close())
        return engine

    cli.open_engine = opening


ALTERATIONS: dict[str, Callable[[], None]] = {
    each.__name__: each
    for each in (
        moves_the_log_often,
        flushes_later,
        forgets_folders,
        forgets_new_folders,
        shrugs_at_a_full_disk,
        acknowledges_what_failed,
    )
}


def main() -> int:
    *alterations, command = sys.argv[1:]
    for name in alterations:
        ALTERATIONS[name]()
    return cli.main([command])


if __name__ == "__main__":
    assert Path(cli.__file__).is_relative_to(Path(__file__).parents[2]), "the service of another checkout"
    sys.exit(main())
