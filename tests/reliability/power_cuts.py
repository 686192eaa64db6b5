"""A disk that forgets what was not flushed: replays a log of calls and cuts the power at an instant.

What POSIX promises and no more: fsync and fdatasync of a file keep what had been written to it;
a name (made, changed or taken away) is kept by fsync of its folder. All else is, at the instant of the
cut, there or not in any mixture; a write may be there in some of its sectors only (512 bytes, which
a disk writes whole; SQLite and PostgreSQL rest on no more).
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from random import Random

from tests.reliability.syscalls import Call

SECTOR = 512
#: writes to a file that carry their place, or follow one another from the start
PLACED, FOLLOWING = "pwrite64", "write"


@dataclass
class File:
    """Bytes on the disk, and changes (stamp, place, bytes; a length alone cuts off) on their way to it."""

    kept: bytearray = field(default_factory=bytearray)
    pending: list[tuple[int, int, bytes | None]] = field(default_factory=list)
    end: int = 0

    def change(self, at: int, place: int, content: bytes | None) -> None:
        self.pending.append((at, place, content))

    def flush(self, before: int) -> None:
        """Keep what had returned before a stamp."""
        for at, place, content in self.pending:
            if at < before:
                apply(self.kept, place, content)
        self.pending = [one for one in self.pending if one[0] >= before]

    def after_cut(self, draw: Random) -> bytes:
        """What is found afterwards: of what was on its way any part, in any order of arrival."""
        found = bytearray(self.kept)
        luck = draw.choice((0.0, 0.5, 0.9, 1.0))
        for _, place, content in self.pending:
            if draw.random() >= luck:
                continue
            if content is None or draw.random() < 0.7:
                apply(found, place, content)
            else:
                _apply_some_sectors(found, place, content, draw)
        return bytes(found)


def apply(content: bytearray, place: int, change: bytes | None) -> None:
    """Write at a place; None cuts off, or lengthens with zeros, to ``place``."""
    end = place + (0 if change is None else len(change))
    if len(content) < end:
        content.extend(bytes(end - len(content)))
    if change is None:
        del content[place:]
    else:
        content[place:end] = change


def _apply_some_sectors(content: bytearray, place: int, change: bytes, draw: Random) -> None:
    start = place
    while start < place + len(change):
        end = min(start - start % SECTOR + SECTOR, place + len(change))
        if draw.random() < 0.5:
            apply(content, start, change[start - place : end - place])
        start = end


@dataclass
class Names:
    """One folder: the names in it on the disk, and changes (stamp, name, what) on their way."""

    kept: dict[str, "File | Names"] = field(default_factory=dict)
    now: dict[str, "File | Names"] = field(default_factory=dict)
    pending: list[tuple[int, dict[str, "File | Names | None"]]] = field(default_factory=list)

    def change(self, at: int, **names: "File | Names | None") -> None:
        """Names that change together; None takes one away."""
        self.pending.append((at, names))
        _put(self.now, names)

    def flush(self, before: int) -> None:
        for at, names in self.pending:
            if at < before:
                _put(self.kept, names)
        self.pending = [one for one in self.pending if one[0] >= before]

    def after_cut(self, draw: Random) -> dict[str, "File | Names"]:
        found = dict(self.kept)
        luck = draw.choice((0.0, 0.5, 1.0))
        for _, names in self.pending:
            if draw.random() < luck:
                _put(found, names)
        return found


def _put(names: dict[str, File | Names], change: dict[str, File | Names | None]) -> None:
    for name, what in change.items():
        if what is None:
            names.pop(name, None)
        else:
            names[name] = what


class Disk:
    """The folder ``top`` as it was when the log began, and then call after call."""

    def __init__(self, top: Path) -> None:
        self.top = top
        self.names = _as_it_is(top)

    def feed(self, call: Call) -> None:
        """Take in one call, in the order in which calls returned."""
        if call.name in ("write", "pwrite64", "ftruncate"):
            self._written(call)
        elif call.name in ("fsync", "fdatasync"):
            flushed = self._find(call.on)
            if flushed is not None:
                flushed.flush(call.begun)
        elif call.name in ("openat", "mkdir", "mkdirat"):
            self._opened(call)
        elif call.name in ("rename", "renameat", "renameat2"):
            self._renamed(call)
        elif call.name in ("unlink", "unlinkat"):
            self._taken_away(call)
        else:
            assert self._inside(call.on) is None, (
                f"a call that this disk does not know: {call.name} {call.on}"
            )

    def cut(self, into: Path, draw: Random) -> None:
        """Write what is found after a cut of the power at this instant."""
        _write_out(self.names, into, draw)

    def _inside(self, path: str) -> tuple[str, ...] | None:
        if not path.startswith(f"{self.top}/") and path != str(self.top):
            return None
        return Path(path).relative_to(self.top).parts

    def _folder(self, parts: Iterable[str]) -> Names | None:
        here = self.names
        for part in parts:
            below = here.now.get(part)
            if not isinstance(below, Names):
                return None
            here = below
        return here

    def _find(self, path: str) -> File | Names | None:
        parts = self._inside(path)
        if parts is None:
            return None
        if not parts:
            return self.names
        folder = self._folder(parts[:-1])
        return None if folder is None else folder.now.get(parts[-1])

    def _written(self, call: Call) -> None:
        file = self._find(call.on)
        if not isinstance(file, File):
            return
        if call.name == "ftruncate":
            file.change(call.ended, call.numbers[0], None)
            return
        content = call.texts[0]
        place = call.numbers[-1] if call.name == PLACED else file.end
        file.end = place + len(content)
        file.change(call.ended, place, content)

    def _opened(self, call: Call) -> None:
        """A file or folder that was not there is one more name of its folder."""
        parts = self._inside(call.texts[0].decode())
        if parts is None or not parts or self._find(call.texts[0].decode()) is not None:
            return
        folder = self._folder(parts[:-1])
        assert folder is not None, call
        folder.change(call.ended, **{parts[-1]: File() if call.name == "openat" else Names()})

    def _renamed(self, call: Call) -> None:
        old, new = (self._inside(text.decode()) for text in call.texts)
        if old is None or new is None:
            return
        assert old[:-1] == new[:-1], "a rename from one folder into another"
        folder = self._folder(old[:-1])
        assert folder is not None
        folder.change(call.ended, **{new[-1]: folder.now[old[-1]], old[-1]: None})

    def _taken_away(self, call: Call) -> None:
        parts = self._inside(call.texts[0].decode())
        folder = None if parts is None else self._folder(parts[:-1])
        if folder is not None and parts is not None and parts[-1] in folder.now:
            folder.change(call.ended, **{parts[-1]: None})


def _as_it_is(folder: Path) -> Names:
    names: dict[str, File | Names] = {
        one.name: _as_it_is(one) if one.is_dir() else File(bytearray(one.read_bytes()))
        for one in folder.iterdir()
    }
    return Names(dict(names), dict(names))


def _write_out(folder: Names, into: Path, draw: Random) -> None:
    into.mkdir()
    for name, what in folder.after_cut(draw).items():
        if isinstance(what, Names):
            _write_out(what, into / name, draw)
        elif not name.endswith("-shm"):  # lives in memory; SQLite makes it anew of the log
            (into / name).write_bytes(what.after_cut(draw))


def instants(calls: Iterable[Call], answers: Iterable[int], count: int, draw: Random) -> list[int]:
    """Stamps at which to cut: a third anywhere, the others just when an answer leaves."""
    stamps = sorted({call.ended for call in calls})
    left = sorted(answers)
    return sorted(draw.choice(stamps if k % 3 == 0 else left) for k in range(count))


def cuts(top: Path, calls: Iterable[Call], at: Iterable[int], disk: Disk) -> Iterator[int]:
    """Bring a disk to each of these stamps in turn."""
    left = iter(calls)
    call = next(left, None)
    for stamp in at:
        while call is not None and call.ended <= stamp:
            disk.feed(call)
            call = next(left, None)
        yield stamp
