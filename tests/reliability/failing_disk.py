"""Disks that fail on order: a layer that refuses the n-th change, a small one, and a limit to the byte."""

import mmap
import os
import resource
import shutil
import struct
import subprocess
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path

import pytest

SOURCE = Path(__file__).with_suffix(".c")
NO_COMPILER = "NO COMPILER HERE: the n-th write that fails was not proven"
NO_MOUNT = "NO SMALL DISK HERE (it may not be mounted): a full disk was proven by RLIMIT_FSIZE alone"
SMALL = 64 * 1024 * 1024
PAGE = 4096
_ORDERS = struct.Struct("4l")


@dataclass
class FailingDisk:
    """The layer, and the orders that it shares with a service it was loaded into."""

    environment: dict[str, str]
    orders: mmap.mmap

    def fail(self, number: int, error: int, *, stays: bool = False) -> None:
        """Let the ``number``-th change from now on fail, and with ``stays`` all after it."""
        _ORDERS.pack_into(self.orders, 0, 0, 0, 0, 0)
        _ORDERS.pack_into(self.orders, 0, 0, error, int(stays), 0)
        struct.pack_into("l", self.orders, 0, number)

    def heal(self) -> None:
        struct.pack_into("l", self.orders, 0, 0)

    @property
    def refused(self) -> int:
        return int(_ORDERS.unpack_from(self.orders, 0)[3])


def build_failing_disk(aside: Path, folder: Path) -> FailingDisk:
    """The layer over all that lies below ``folder``; skips loudly where nothing can build it."""
    compiler = shutil.which("cc") or shutil.which("gcc") or shutil.which("clang")
    if compiler is None:
        pytest.skip(NO_COMPILER)
    library, orders = aside / "failing_disk.so", aside / "orders"
    subprocess.run([compiler, "-shared", "-fPIC", "-O1", "-o", str(library), str(SOURCE), "-ldl"], check=True)
    orders.write_bytes(bytes(_ORDERS.size))
    with orders.open("r+b") as file:
        shared = mmap.mmap(file.fileno(), _ORDERS.size)
    environment = {
        "LD_PRELOAD": str(library),
        "FAILING_DISK_ORDERS": str(orders),
        "FAILING_DISK_FOLDER": f"{folder}/",
    }
    return FailingDisk(environment, shared)


@dataclass
class SmallDisk:
    """A file system of 64 MB, and the ballast that fills it."""

    folder: Path

    @property
    def ballast(self) -> Path:
        return self.folder / "ballast"

    def leave(self, pages: int) -> None:
        """Fill it until so many pages are free."""
        self.empty()
        with self.ballast.open("wb") as ballast:
            while (room := shutil.disk_usage(self.folder).free - pages * PAGE) > 0:
                with suppress(OSError):  # the service took a page meanwhile
                    os.posix_fallocate(ballast.fileno(), os.fstat(ballast.fileno()).st_size, room)

    def empty(self) -> None:
        self.ballast.unlink(missing_ok=True)


@contextmanager
def mounted(folder: Path) -> Iterator[SmallDisk]:
    """A small disk for the block; skips loudly where none may be mounted."""
    folder.mkdir()
    mount = shutil.which("mount")
    how = ["-t", "tmpfs", "-o", f"size={SMALL}", "tmpfs", str(folder)]
    if mount is None or subprocess.run([mount, *how], capture_output=True, check=False).returncode:
        pytest.skip(NO_MOUNT)
    try:
        yield SmallDisk(folder)
    finally:
        subprocess.run(["umount", "-l", str(folder)], check=True)


def limit_files(pid: int, size: int | None) -> None:
    """Let a process write no file beyond a place [bytes]; None lifts it."""
    hard = resource.prlimit(pid, resource.RLIMIT_FSIZE)[1]
    resource.prlimit(pid, resource.RLIMIT_FSIZE, (hard if size is None else size, hard))
