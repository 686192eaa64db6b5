"""R2: what was acknowledged is on the disk before its answer leaves.

The service runs under strace while readings and files are sent. Two things are asked of the log:
that no 2xx leaves before the write-ahead frames of its commit, its file and its file's folders are flushed;
and that, when the power is cut at any instant and what was not flushed is lost in any mixture, SQLite
opens what is left and all that was acknowledged is in it. Broken twins flush too little in one way each.
"""

import hashlib
import re
import shutil
import sqlite3
import threading
from bisect import bisect_right
from collections.abc import Sequence
from contextlib import closing
from dataclasses import dataclass, field
from pathlib import Path
from random import Random

import pytest

from tests.reliability.killing import Sent
from tests.reliability.power_cuts import Disk, cuts, instants
from tests.reliability.running_service import Phone, grid_of_file, lay_ground, running_service
from tests.reliability.syscalls import Call, calls_of, watching

SEED = 20_261_128
SENDS = ("write", "writev", "sendto", "sendmsg")
#: every so many sends of readings, a file is sent too
FILE_EVERY = 4


@dataclass
class Recorded:
    """A traced run: the disk before it, its calls, what was acknowledged and when each answer left."""

    top: Path
    before: Disk
    calls: list[Call]
    #: by the stamp at which the answer began to leave
    acknowledged: dict[int, Sent | str] = field(default_factory=dict)


@pytest.fixture
def strace(tmp_path: Path) -> Path:
    """Where the log goes; skips loudly where there is no strace."""
    watching(tmp_path)
    return tmp_path / "calls.log"


def record(
    sqlite_url: str, log: Path, *, sends: int, altered: Sequence[str] = (), phones: int = 2
) -> Recorded:
    top = log.parent / "disk"
    top.mkdir()
    shutil.move(sqlite_url.removeprefix("sqlite:///"), top / "riseline.db")
    ground = lay_ground(f"sqlite:///{top}/riseline.db", top / "files", sends=sends, seed=SEED)
    disk = Disk(top)
    with running_service(
        ground, before=watching(log), altered=altered, RISELINE_UNSAFE_DATABASE="true"
    ) as service:
        made = [Phone(service.port, ground) for _ in range(phones)]
        threads = [
            threading.Thread(target=walk, args=(made[k], ground.sends[k::phones])) for k in range(phones)
        ]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()
        for phone in made:
            phone.close()
        service.stop()
    recorded = Recorded(top, disk, list(calls_of(log)))
    answered: dict[int, list[int]] = {}
    for call in recorded.calls:
        if call.name in SENDS and call.texts and call.texts[0].startswith(b"HTTP/1.1 2"):
            to = int(call.on.rpartition(":")[2].rstrip("]"))
            answered.setdefault(to, []).append(call.begun)
    for phone in made:
        assert set(phone.answers) == {201}, phone.answers
        for port, what in phone.acknowledged:
            recorded.acknowledged[answered[port].pop(0)] = what
    assert not any(answered.values()), "an answer left that nobody received"
    return recorded


def walk(phone: Phone, sends: Sequence[Sent]) -> None:
    for k, sent in enumerate(sends):
        phone.send(sent)
        if k % FILE_EVERY == 0:
            phone.send_file(sent.uids[0], grid_of_file(int(sent.key.removeprefix("key-"))))


# ---- order --------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Commit:
    """The last frame of a transaction in the log: it holds these readings and files."""

    ended: int
    uids: frozenset[bytes]


def commits_of(calls: Sequence[Call], log: str) -> list[Commit]:
    """What each transaction wrote, by thread, from its first frame to the one that says *commit*.

    A frame's header is 24 bytes, and its second number is not 0 in the last frame of a transaction
    (SQLite, Database File Format §4.1).
    """
    found: list[Commit] = []
    pages: dict[int, bytes] = {}
    last: set[int] = set()
    for call in calls:
        if call.name != "pwrite64" or call.on != log:
            continue
        content = call.texts[0]
        if len(content) == 24:
            if content[4:8] != bytes(4):
                last.add(call.thread)
        elif len(content) > 32:  # not the log's own header
            pages[call.thread] = pages.get(call.thread, b"") + content
            if call.thread in last:
                last.discard(call.thread)
                uids = frozenset(re.findall(rb"[\w-]+\.\d{4}(?!\d)|[0-9a-f]{64}", pages.pop(call.thread)))
                found.append(Commit(call.ended, uids))
    return found


class Flushes:
    """Every fsync and fdatasync of a log, by what was flushed, in the order in which they began."""

    def __init__(self, calls: Sequence[Call]) -> None:
        self.calls: dict[str, list[Call]] = {}
        for call in sorted(calls, key=lambda call: call.begun):
            if call.name in ("fsync", "fdatasync"):
                self.calls.setdefault(call.on, []).append(call)

    def after(self, path: str, stamp: int) -> float:
        """When the first flush of a file or folder that began after a stamp had returned."""
        here = self.calls.get(path, [])
        at = bisect_right(here, stamp, key=lambda call: call.begun)
        return here[at].ended if at < len(here) else float("inf")

    def before(self, path: str, stamp: int) -> bool:
        """Whether it was flushed at all before a stamp."""
        return any(call.ended < stamp for call in self.calls.get(path, []))


def violations(recorded: Recorded) -> list[str]:
    """Answers that left before what they acknowledge was flushed."""
    log = f"{recorded.top}/riseline.db-wal"
    flushes = Flushes(recorded.calls)
    renames = {call.texts[1].decode(): call for call in recorded.calls if call.name.startswith("rename")}
    made = {call.texts[0].decode(): call for call in recorded.calls if call.name.startswith("mkdir")}
    first: dict[bytes, Commit] = {}
    for commit in commits_of(recorded.calls, log):
        for uid in commit.uids:
            first.setdefault(uid, commit)
    told = []
    for left, what in recorded.acknowledged.items():
        marks = what.uids if isinstance(what, Sent) else (what,)
        for mark in marks:
            commit = first.get(mark.encode())
            if commit is None or flushes.after(log, commit.ended) >= left:
                told.append(f"{mark}: the answer left before its commit was flushed")
        if isinstance(what, str):
            told += [
                f"{what}: {fault}" for fault in unflushed(recorded.top, what, left, flushes, renames, made)
            ]
    return told


def unflushed(
    top: Path,
    content_hash: str,
    left: int,
    flushes: Flushes,
    renames: dict[str, Call],
    made: dict[str, Call],
) -> list[str]:
    """What of a file was not on the disk when its answer left: bytes, name, names of its folders."""
    path = top / "files" / "rasters" / content_hash[:2] / f"{content_hash}.csv"
    renamed = renames[str(path)]
    told = []
    if not flushes.before(renamed.texts[0].decode(), renamed.begun):
        told.append("renamed before its bytes were flushed")
    if flushes.after(str(path.parent), renamed.ended) >= left:
        told.append("the answer left before its folder was flushed")
    for folder in (path.parent, path.parent.parent, path.parent.parent.parent):
        making = made.get(str(folder))
        if making is not None and flushes.after(str(folder.parent), making.ended) >= left:
            told.append(f"the answer left before the name of {folder.relative_to(top)} was flushed")
    return told


def test_no_answer_leaves_before_its_commit_and_its_file_are_flushed(sqlite_url: str, strace: Path) -> None:
    recorded = record(sqlite_url, strace, sends=50)
    assert len(recorded.acknowledged) > 50
    assert violations(recorded) == []
    after_cuts(recorded, count=40)


#: broken twins, and what is said of each
TWINS = {
    "flushes_later": "before its commit was flushed",
    "forgets_folders": "before its folder was flushed",
    "forgets_new_folders": "before the name of files/rasters",
}


def test_a_twin_that_flushes_too_little_in_every_way_is_seen(sqlite_url: str, strace: Path) -> None:
    recorded = record(sqlite_url, strace, sends=12, altered=list(TWINS))
    told = violations(recorded)
    assert [says for says in TWINS.values() if not any(says in one for one in told)] == []
    with pytest.raises(AssertionError, match="lost"):
        after_cuts(recorded, count=60)


@pytest.mark.torture
@pytest.mark.parametrize("twin", list(TWINS))
def test_each_way_of_flushing_too_little_is_seen(sqlite_url: str, strace: Path, twin: str) -> None:
    recorded = record(sqlite_url, strace, sends=12, altered=[twin])
    assert any(TWINS[twin] in one for one in violations(recorded))
    with pytest.raises(AssertionError, match="lost"):
        after_cuts(recorded, count=60)


@pytest.mark.torture
def test_a_thousand_commits_and_a_thousand_cuts_lose_nothing(sqlite_url: str, strace: Path) -> None:
    recorded = record(sqlite_url, strace, sends=1000, altered=["moves_the_log_often"])
    found = violations(recorded)
    print(f"{len(recorded.acknowledged)} answers, {len(found)} before their flush")
    assert found == []
    print(after_cuts(recorded, count=1000))


# ---- cuts ---------------------------------------------------------------------------------------


@dataclass
class Found:
    cuts: int = 0
    acknowledged: int = 0
    unacknowledged: int = 0


def after_cuts(recorded: Recorded, *, count: int) -> Found:
    """Cut the power so many times; each time all that was acknowledged must be found again."""
    draw = Random(SEED)
    found, disk = Found(), recorded.before
    at = instants(recorded.calls, recorded.acknowledged, count, draw)
    order = sorted(recorded.acknowledged)
    sends = [what for what in recorded.acknowledged.values() if isinstance(what, Sent)]
    calls = sorted(recorded.calls, key=lambda call: call.ended)
    for number, stamp in enumerate(cuts(recorded.top, calls, at, disk)):
        image = recorded.top.with_name(f"cut-{number}")
        disk.cut(image, draw)
        promised = [recorded.acknowledged[left] for left in order if left <= stamp]
        look(image, promised, sends, found)
        shutil.rmtree(image)
    return found


def look(image: Path, promised: Sequence[Sent | str], sends: Sequence[Sent], found: Found) -> None:
    """The database is sound, every acknowledged send is whole, every other whole or absent."""
    with closing(sqlite3.connect(image / "riseline.db")) as connection:
        assert connection.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
        assert connection.execute("PRAGMA foreign_key_check").fetchall() == []
        stored = {uid for (uid,) in connection.execute("SELECT uid FROM readings")}
        files = dict(connection.execute("SELECT content_hash, stored_as FROM rasters"))
    lost = [one for one in promised if isinstance(one, Sent) and not stored.issuperset(one.uids)]
    assert not lost, f"lost: {len(lost)} of {len(promised)} acknowledged, the first {lost[0].key}"
    assert all(len(stored.intersection(one.uids)) in (0, len(one.uids)) for one in sends), "half a batch"
    gone = [one for one in promised if isinstance(one, str) and one not in files]
    assert not gone, f"lost: the row of {gone[0]}"
    for content_hash, name in files.items():
        path = image / "files" / name
        assert path.is_file(), f"lost: the file of {name}, which a row names"
        assert hashlib.sha256(path.read_bytes()).hexdigest() == content_hash, f"lost: the bytes of {name}"
    found.cuts += 1
    found.acknowledged += len(promised)
    found.unacknowledged += sum(stored.issuperset(one.uids) for one in sends) + len(files) - len(promised)
