"""R3: a full disk is refused, not suffered.

The service runs while its disk fills up to the page, its files may not grow beyond a byte, or its
n-th change of a file fails with ENOSPC or EIO. Each send is then acknowledged, or refused by a problem
document with 507 or 503; reading goes on; the same process takes the same sends as soon as there is
room; and in the end everything that was ever acknowledged is there once, in a sound database. The
broken twins pass over a failure in silence.
"""

import errno
import hashlib
import http.client
import sqlite3
import time
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, closing, contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from random import Random

import pytest

from tests.reliability.failing_disk import (
    FailingDisk,
    SmallDisk,
    build_failing_disk,
    limit_files,
    mounted,
)
from tests.reliability.killing import Sent
from tests.reliability.running_service import (
    Ground,
    Phone,
    Running,
    grid_of_file,
    lay_ground,
    running_service,
)

SEED = 20_261_129
REFUSED = (503, 507)
FILE_EVERY = 3
#: seconds within which the first send after there is room again must be taken (the figure of R3)
RECOVERS_S = 5.0
PAGES = ("/", "/rounds", "/equipment", "/desk")
Trials = Callable[..., AbstractContextManager["Trial"]]


@dataclass
class Trial:
    """A service on a failing disk, and all that was sent to it."""

    ground: Ground
    service: Running
    phone: Phone
    draw: Random
    at: int = 0
    refused: int = 0
    statuses: dict[int, int] = field(default_factory=dict)
    pending: list[tuple[Sent, bytes | None]] = field(default_factory=list)
    slowest_s: float = 0.0

    def __post_init__(self) -> None:
        self.taken = self.ground.sends[0]

    def send_next(self) -> int:
        """The next batch of readings; now and then, before it, a file for one that was taken earlier."""
        sent = self.ground.sends[self.at]
        self.at += 1
        if self.at % FILE_EVERY == 0 and self._send(self.taken, grid_of_file(self.at)) != 201:
            return 507
        status = self._send(sent, None)
        if status == 201:
            self.taken = sent
        return status

    def _send(self, sent: Sent, content: bytes | None) -> int:
        status = self._post(sent, content)
        if status != 201:
            assert status in REFUSED, f"answered {status}: {self.phone.last[:300]!r}"
            self.refused += 1
            self.pending.append((sent, content))
        return status

    def _post(self, sent: Sent, content: bytes | None) -> int:
        status = self.phone.send(sent) if content is None else self.phone.send_file(sent.uids[0], content)
        self.statuses[status] = self.statuses.get(status, 0) + 1
        return status

    def still_reads(self) -> None:
        """What can be read on a good day can be read now."""
        rows = f"/api/v1/rounds/{self.ground.sends[self.at - 1].round_id}/readings"
        for address in (rows, self.draw.choice(PAGES)):
            assert self.phone.ask(address) == 200, f"{address}: {self.phone.last[:300]!r}"

    def room_again(self) -> None:
        """Everything that was refused is taken when it is sent again, by the same process, at once."""
        since = time.monotonic()
        for sent, content in self.pending:
            assert self._post(sent, content) == 201, self.phone.last
            self.slowest_s = max(self.slowest_s, time.monotonic() - since)
            since = time.monotonic()
        self.pending.clear()

    def look_at_the_end(self) -> None:
        """After the service has ended: every send once, every file whole, the database sound."""
        assert self.slowest_s <= RECOVERS_S
        told = [what for _, what in self.phone.acknowledged]
        uids = [uid for one in told if isinstance(one, Sent) for uid in one.uids]
        with closing(sqlite3.connect(self.ground.database)) as connection:
            assert connection.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
            assert connection.execute("PRAGMA foreign_key_check").fetchall() == []
            stored = [uid for (uid,) in connection.execute("SELECT uid FROM readings")]
            rows = dict(connection.execute("SELECT content_hash, stored_as FROM rasters"))
            verdicts = connection.execute("SELECT count(*) FROM assessments WHERE current").fetchone()[0]
        lost = set(uids) - set(stored)
        assert not lost, f"{len(lost)} acknowledged readings are lost"
        assert sorted(stored) == sorted(set(uids)), "a reading is there twice, or was never acknowledged"
        assert verdicts == len(stored), "a reading without its verdict"
        for one in told:
            if isinstance(one, str):
                path = self.ground.files / rows[one]
                assert path.is_file(), "an acknowledged file is lost"
                assert hashlib.sha256(path.read_bytes()).hexdigest() == one
        assert not list(self.ground.files.rglob(".half-*")), "half a file was left"


@pytest.fixture
def trial_on(sqlite_url: str, tmp_path: Path) -> Trials:
    """Makes a trial in a folder."""

    @contextmanager
    def make(
        folder: Path, *, sends: int, altered: tuple[str, ...] = (), **environment: str
    ) -> Iterator[Trial]:
        database = folder / "riseline.db"
        database.write_bytes(Path(sqlite_url.removeprefix("sqlite:///")).read_bytes())
        ground = lay_ground(f"sqlite:///{database}", folder / "files", sends=sends, seed=SEED)
        with running_service(ground, altered=altered, **environment) as service:
            trial = Trial(ground, service, Phone(service.port, ground), Random(SEED))
            try:
                trial.send_next()
                yield trial
            finally:
                trial.phone.close()
            service.stop()
        trial.look_at_the_end()

    return make


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    made = tmp_path / "disk"
    made.mkdir()
    return made


# ---- the n-th change fails ----------------------------------------------------------------------


@pytest.fixture
def failing_disk(folder: Path) -> FailingDisk:
    return build_failing_disk(folder.parent, folder)


def fail_nth(trial: Trial, disk: FailingDisk, number: int, error: int, *, stays: bool) -> None:
    """Send until the n-th change has failed; read meanwhile; heal; send again."""
    disk.fail(number, error, stays=stays)
    for _ in range(60):
        trial.send_next()
        if disk.refused:
            break
    assert disk.refused, f"no change number {number}"
    trial.still_reads()
    disk.heal()
    trial.room_again()


def test_the_nth_write_that_fails_loses_nothing(
    trial_on: Trials, folder: Path, failing_disk: FailingDisk
) -> None:
    draw = Random(SEED)
    with trial_on(folder, sends=400, **failing_disk.environment) as trial:
        for number in [*range(1, 8), *draw.sample(range(8, 160), 6)]:
            error = draw.choice((errno.ENOSPC, errno.EIO))
            fail_nth(trial, failing_disk, number, error, stays=draw.random() < 0.5)
        assert trial.refused > 5, trial.statuses


@pytest.mark.torture
def test_each_of_five_hundred_writes_fails_and_nothing_is_lost(
    trial_on: Trials, folder: Path, failing_disk: FailingDisk
) -> None:
    draw = Random(SEED)
    with trial_on(folder, sends=14_000, **failing_disk.environment) as trial:
        for number in range(1, 501):
            for error in (errno.ENOSPC, errno.EIO):
                fail_nth(trial, failing_disk, number, error, stays=draw.random() < 0.5)
            if number % 50 == 0:
                print(f"{number} changes have failed: {trial.statuses}", flush=True)
        print(f"{trial.statuses}, {trial.refused} refused, slowest again {trial.slowest_s:.2f} s")


@pytest.mark.parametrize(
    ("twin", "says"),
    [("shrugs_at_a_full_disk", "file"), ("acknowledges_what_failed", "lost|answered 500|answered 404")],
)
def test_a_twin_that_passes_over_a_failure_is_seen(
    trial_on: Trials, folder: Path, failing_disk: FailingDisk, twin: str, says: str
) -> None:
    twin_on = trial_on(folder, sends=60, altered=(twin,), **failing_disk.environment)
    with pytest.raises((AssertionError, KeyError), match=says), twin_on as trial:
        for number in range(1, 10):
            fail_nth(trial, failing_disk, number, errno.ENOSPC, stays=False)  # what follows it succeeds


# ---- a disk that is full ------------------------------------------------------------------------


@pytest.fixture
def small_disk(tmp_path: Path) -> Iterator[SmallDisk]:
    with mounted(tmp_path / "small") as disk:
        yield disk


def fill_up(trial: Trial, disk: SmallDisk, pages: int) -> None:
    """Send with so many pages free until one is refused; read; make room; send again."""
    disk.leave(pages)
    for _ in range(40):
        if trial.send_next() != 201:
            break
    trial.still_reads()
    disk.empty()
    trial.room_again()


def work_goes_on(trial: Trial) -> None:
    """The worker of the same process has outlived the full disk: it brings jobs to their end again."""
    deadline = time.monotonic() + 60
    with closing(sqlite3.connect(trial.ground.database)) as connection:

        def done() -> int:
            return int(connection.execute("SELECT count(*) FROM jobs WHERE state = 'done'").fetchone()[0])

        before = done()
        assert trial.send_next() == 201
        while done() <= before:
            assert time.monotonic() < deadline, "no job was done within a minute"
            trial.still_reads()


def test_a_full_disk_is_refused_and_recovered_from(trial_on: Trials, small_disk: SmallDisk) -> None:
    with trial_on(small_disk.folder, sends=400, RISELINE_WORKER_THREAD="true") as trial:
        for pages in (0, 1, 3, 8, 21, 89):
            fill_up(trial, small_disk, pages)
        assert trial.refused >= 5, trial.statuses
        work_goes_on(trial)


@pytest.mark.torture
def test_a_disk_filled_page_by_page_is_refused_and_recovered_from(
    trial_on: Trials, small_disk: SmallDisk
) -> None:
    with trial_on(small_disk.folder, sends=6000, RISELINE_WORKER_THREAD="true") as trial:
        for pages in range(300):
            fill_up(trial, small_disk, pages)
        print(f"{trial.statuses}, {trial.refused} refused, slowest again {trial.slowest_s:.2f} s")


# ---- files that may not grow --------------------------------------------------------------------


def cut_short(trial: Trial, size: int) -> None:
    """Send while no file may reach beyond a byte; read; lift it; send again."""
    limit_files(trial.service.pid, size)
    for _ in range(2):
        trial.send_next()
    trial.still_reads()
    limit_files(trial.service.pid, None)
    trial.room_again()


def test_files_that_may_not_grow_further_lose_nothing(trial_on: Trials, folder: Path) -> None:
    draw = Random(SEED)
    with trial_on(folder, sends=100) as trial:
        for size in (0, 33, 57, 4151, 4152, *draw.sample(range(1_000_000), 5)):
            cut_short(trial, size)
        assert trial.refused > 5, trial.statuses
        assert too_large_for_the_temporary_folder(trial) == 507
        limit_files(trial.service.pid, None)


@pytest.mark.torture
def test_a_thousand_limits_to_the_byte_lose_nothing(trial_on: Trials, folder: Path) -> None:
    draw = Random(SEED)
    with trial_on(folder, sends=2100) as trial:
        for size in draw.sample(range(4_200_000), 1000):
            cut_short(trial, size)
        print(f"{trial.statuses}, {trial.refused} refused, slowest again {trial.slowest_s:.2f} s")


def too_large_for_the_temporary_folder(trial: Trial) -> int:
    """What a form with a file of 2 MB is answered when only 0.5 MB of it can be put aside."""
    limit_files(trial.service.pid, 500_000)
    reading = trial.ground.sends[0].uids[0]
    head = '--edge\r\nContent-Disposition: form-data; name="file"; filename="a.csv"\r\n\r\n'
    body = head.encode() + b"20.0,21.0\n" * 200_000 + b"\r\n--edge--\r\n"
    connection = http.client.HTTPConnection("127.0.0.1", trial.service.port, timeout=60)
    headers = {
        "Content-Type": "multipart/form-data; boundary=edge",
        "Cookie": f"riseline={trial.ground.session}",
        "Sec-Fetch-Site": "same-origin",
    }
    connection.request("POST", f"/readings/{reading}/rasters", body=body, headers=headers)
    answer = connection.getresponse()
    said = answer.read()
    connection.close()
    assert b"no room" in said, said[:2000]
    return answer.status
