"""How many rows of each kind stand here: ``python -m tests.published.count``.

Counted from the ids of the collected tests, so that the figure cannot drift from what runs.
"""

import sys
from collections import Counter
from collections.abc import Iterable
from pathlib import Path

import pytest

from tests.published.evidence import KINDS, LIBRARY, REFEREES, kinds_in, referee_in


def rows_by_kind(test_ids: Iterable[str]) -> Counter[str]:
    return Counter(kind for test_id in test_ids for kind in kinds_in(test_id) if kind in KINDS)


def rows_by_referee(test_ids: Iterable[str]) -> Counter[str]:
    return Counter(referee_in(test_id) for test_id in test_ids if LIBRARY in kinds_in(test_id))


class _Collected:
    def __init__(self) -> None:
        self.ids: list[str] = []

    def pytest_collection_finish(self, session: pytest.Session) -> None:
        self.ids = [item.nodeid for item in session.items]


def main() -> int:
    collected = _Collected()
    options = ["--collect-only", "-o", "addopts=", "-p", "no:terminal", "-p", "no:randomly"]
    failed = pytest.main([*options, str(Path(__file__).parent)], plugins=[collected])
    if failed:
        return int(failed)
    kinds, referees = rows_by_kind(collected.ids), rows_by_referee(collected.ids)
    for kind in KINDS:
        print(f"{kinds[kind]:5d}  {kind}")
    print(f"{kinds.total():5d}  rows\n")
    for name in REFEREES:
        print(f"{referees[name]:5d}  {name}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
