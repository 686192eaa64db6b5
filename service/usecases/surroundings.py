"""What the doors hand to use cases: the store, the clock and a few facts of this installation."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from service.security.passwords import STANDARD, Hasher
from service.storage.files import FileShelf, Shelf
from service.storage.unit import Store


def system_clock() -> datetime:
    return datetime.now(UTC)


@dataclass(frozen=True, slots=True)
class Surroundings:
    store: Store
    web: Path
    files: FileShelf
    pictures: Shelf
    clock: Callable[[], datetime] = system_clock
    demo: bool = False
    secure_cookies: bool = True
    session_hours: int = 12
    body_limit: int = 12 * 1024 * 1024
    hasher: Hasher = STANDARD

    def now(self) -> datetime:
        return self.clock()
