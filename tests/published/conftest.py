"""Each test here carries its kind in its id; those with a referee can be run by themselves."""

from pathlib import Path

import pytest

from tests.browser.conftest import chromium
from tests.published.evidence import LIBRARY, kinds_in

__all__ = ["chromium"]

HERE = Path(__file__).parent


@pytest.fixture(autouse=True)
def evidence_of_the_row(request: pytest.FixtureRequest) -> str:
    """The kind given by ``@evidence``; tables give theirs with each row."""
    return str(getattr(request, "param", ""))


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    for item in items:
        if item.path.parent == HERE and LIBRARY in kinds_in(item.nodeid):
            item.add_marker(pytest.mark.referee)
