"""R17: whatever is sent, the answer comes within seconds and the worker hardly grows."""

import subprocess
import sys
from contextlib import suppress
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from service.errors import Invalid
from service.intake.limits import MOST_BYTES, MOST_ROWS
from service.intake.tables import read_tables
from tests.intake.workbooks import MIB, workbook

MOST_GROWTH = 256 * MIB
MOST_SECONDS = 10
PROGRAM = """
import resource, sys
from service.errors import Invalid
from service.intake.tables import read_tables
content = open(sys.argv[1], "rb").read()
before = resource.getrusage(resource.RUSAGE_SELF)
try:
    read_tables(content)
except Invalid:
    pass
after, child = resource.getrusage(resource.RUSAGE_SELF), resource.getrusage(resource.RUSAGE_CHILDREN)
busy = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime + child.ru_utime + child.ru_stime
print((after.ru_maxrss - before.ru_maxrss) * 1024, busy)
"""
HEAVY = {
    "one line as long as a file may be": lambda: b"x" * (MOST_BYTES - 1),
    "a quote that is never closed": lambda: (b'a,b\n"' + b"x,\n" * 3_400_000)[:MOST_BYTES],
    "a hundred columns of one letter": lambda: (
        b",".join(b"c%d" % n for n in range(100)) + b"\n" + (b"a," * 99 + b"b\n") * 50_000
    )[:MOST_BYTES],
    "letters that take four bytes each": lambda: ("a,b\n" + "😀,x\n" * (MOST_ROWS - 1)).encode(),
    "a workbook of two hundred thousand cells": lambda: workbook(
        {"P": [[f"c{k}" for k in range(20)]] + [[f"T-{r}-{k}" for k in range(20)] for r in range(10_000)]}
    ),
}


@pytest.mark.parametrize("name", HEAVY)
def test_a_heavy_file_is_answered_soon_and_in_little_memory(name: str, tmp_path: Path) -> None:
    path = tmp_path / "file"
    path.write_bytes(HEAVY[name]())
    done = subprocess.run(
        [sys.executable, "-c", PROGRAM, str(path)], capture_output=True, check=True, timeout=120
    )
    growth, seconds = (float(word) for word in done.stdout.split())
    assert growth <= MOST_GROWTH
    # processor time: other tests may be at work on this machine
    assert seconds <= MOST_SECONDS


PIECES = st.sampled_from(
    [
        b",",
        b";",
        b"\t",
        b"|",
        b'"',
        b'""',
        b"\n",
        b"\r\n",
        b"\r",
        b"\0",
        b"sep=",
        b"\xef\xbb\xbf",
        b"\xff\xfe",
        b"'",
        b"=1",
        b"1,5",
        b"\x81",
    ]
)


@pytest.mark.torture
@settings(max_examples=50_000, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck))
@given(st.lists(st.one_of(PIECES, st.binary(max_size=12), st.text(max_size=8).map(str.encode)), max_size=40))
def test_fifty_thousand_files_are_tables_or_refusals(pieces: list[bytes]) -> None:
    content = b"".join(pieces)
    with suppress(Invalid):
        for table in read_tables(content):
            assert all(len(row.cells) == len(table.header) for row in table.rows)
