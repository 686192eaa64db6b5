"""The evidence list itself: every test names one kind, every referee its library."""

import tomllib
from pathlib import Path

import pytest

from tests.published.count import rows_by_kind, rows_by_referee
from tests.published.evidence import (
    BY_HAND,
    GUARD,
    LIBRARY,
    PUBLISHED,
    REFEREES,
    evidence,
    kinds_in,
    referee_in,
)

HERE = Path(__file__).parent
ROOT = HERE.parents[1]
#: numpy's sister is no choice of the tests: it comes with the service
OF_THE_SERVICE = {"scipy"}


def ids_here(request: pytest.FixtureRequest) -> list[str]:
    return [item.nodeid for item in request.session.items if item.path.parent == HERE]


@evidence("This folder", "every id", GUARD)
def test_every_test_of_this_folder_names_one_kind(request: pytest.FixtureRequest) -> None:
    assert [test_id for test_id in ids_here(request) if len(kinds_in(test_id)) != 1] == []


@evidence("This folder", "every id of a reference library", GUARD)
def test_every_row_of_a_library_names_which(request: pytest.FixtureRequest) -> None:
    rows = [test_id for test_id in ids_here(request) if LIBRARY in kinds_in(test_id)]
    assert [test_id for test_id in rows if not referee_in(test_id)] == []


@evidence("requirements.lock", "every referee", GUARD)
@pytest.mark.parametrize("name", sorted(REFEREES))
def test_a_referee_is_locked_and_asked_for_by_name(name: str) -> None:
    locked = (ROOT / "requirements.lock").read_text().casefold().splitlines()
    assert any(line.startswith(f"{name.casefold()}==") for line in locked)
    wanted = tomllib.loads((ROOT / "pyproject.toml").read_text())
    place = (
        wanted["project"]["dependencies"] if name in OF_THE_SERVICE else wanted["dependency-groups"]["dev"]
    )
    assert any(line.startswith(name) for line in place)
    source = "".join(path.read_text() for path in HERE.glob("test_*.py"))
    assert f"from {name.replace('-', '_')}" in source or f"import {name.replace('-', '_')}" in source


@evidence("This folder", "the count", GUARD)
def test_rows_are_counted_by_the_kind_in_their_id() -> None:
    ids = ["a[ht, x [reference library]]", "b[Table 1 [published]]", "c[Table 2 [published]-80]", "d[guard]"]
    assert rows_by_kind(ids) == {PUBLISHED: 2, LIBRARY: 1}
    assert rows_by_referee(ids) == {"ht": 1}
    assert rows_by_kind(ids)[BY_HAND] == 0
