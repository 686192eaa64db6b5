"""What a process asked of the kernel, in order: the log of strace as typed calls.

A call has two stamps, the lines at which it began and had returned. strace writes its lines in the
order in which threads stop, so what returned at a smaller stamp than another began had returned first.
"""

import ast
import re
import shutil
import subprocess
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest

TRACED = (
    "openat,mkdir,mkdirat,rename,renameat,renameat2,unlink,unlinkat,write,pwrite64,writev,pwritev,"
    "ftruncate,fallocate,copy_file_range,sendfile,fsync,fdatasync,sync_file_range,sendto,sendmsg"
)
#: longer writes would be cut short in the log
LONGEST = 4 * 1024 * 1024
MISSING = "NO STRACE HERE: that flushing comes before answering was not proven"

_BEGUN = re.compile(r"(\d+) +(\w+)\((.*)$", re.DOTALL)
_RESUMED = re.compile(r"(\d+) +<\.\.\. (\w+) resumed>(.*)$", re.DOTALL)
_RETURNED = re.compile(r"^(.*)\) += (-?\d+|\?)(?:<[^>]*>)?(?: .*)?$", re.DOTALL)
_TEXT = re.compile(r'"((?:[^"\\]|\\.)*)"(\.\.\.)?')
_HANDLE = re.compile(r"^\d+<((?:->|[^<>]|<[^<>]*>)*)>")


@dataclass(frozen=True, slots=True)
class Call:
    """One call that succeeded: ``on`` is the file or socket of its handle, ``texts`` its strings."""

    begun: int
    ended: int
    thread: int
    name: str
    on: str
    texts: tuple[bytes, ...]
    numbers: tuple[int, ...]


def watching(log: Path) -> list[str]:
    """What to put before a command so that its calls are written down."""
    strace = shutil.which("strace")
    # in some containers it is there and may watch nobody
    if strace is None or subprocess.run([strace, "-o", "/dev/null", "true"], check=False).returncode:
        pytest.skip(MISSING)
    how = ["--seccomp-bpf", "-f", "-yy", "-q", "-s", str(LONGEST), "-e", "signal=none"]
    return [strace, *how, "-e", f"trace={TRACED}", "-o", str(log)]


def calls_of(log: Path) -> Iterator[Call]:
    """The calls of a log in the order in which they returned, without those that failed."""
    begun: dict[str, tuple[int, str, str]] = {}
    with log.open(encoding="latin-1", newline="\n") as lines:
        for stamp, line in enumerate(lines):
            line = line.rstrip("\n")
            if found := _RESUMED.match(line):
                thread, name, rest = found.groups()
                since, _, text = begun.pop(thread)
                text = text.removesuffix(" <unfinished ...>").removesuffix("<unfinished ...>") + rest
            elif found := _BEGUN.match(line):
                thread, name, text = found.groups()
                since = stamp
                if text.endswith("<unfinished ...>"):
                    begun[thread] = (stamp, name, text)
                    continue
            else:
                continue
            if call := _call(since, stamp, int(thread), name, text):
                yield call
    end = 10**12
    for thread, (since, name, text) in begun.items():  # what was still under way at the end
        text = text.removesuffix("<unfinished ...>").rstrip() + ") = 0"
        if call := _call(since, end, int(thread), name, text):
            yield call


def _call(begun: int, ended: int, thread: int, name: str, text: str) -> Call | None:
    found = _RETURNED.match(text)
    if found is None or found[2] == "?" or int(found[2]) < 0:
        return None
    asked = found[1]
    handle = _HANDLE.match(asked)
    strings = _TEXT.findall(asked)
    assert not any(cut for _, cut in strings), f"{name}: a text of the log was cut short"
    texts = tuple(_bytes(one) for one, _ in strings)
    numbers = (
        tuple(map(int, re.findall(r"-?\b\d+\b", _TEXT.sub("", asked[handle.end() :])))) if handle else ()
    )
    return Call(begun, ended, thread, name, handle[1] if handle else "", texts, numbers)


def _bytes(text: str) -> bytes:
    """strace writes strings as C does, and Python reads them alike."""
    return bytes(ast.literal_eval(f'b"{text}"'))
