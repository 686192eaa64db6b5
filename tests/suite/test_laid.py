"""Builders' rows that are laid down again are the builders' own."""

import shutil
from pathlib import Path

from service.domain.jobs import JobKind
from service.storage import jobs
from service.storage.engine import open_engine
from service.storage.unit import Store
from tests.builders import build_plant
from tests.conftest import NOW
from tests.laid import laid


def test_a_job_of_a_worker_on_one_file_was_laid_into_the_files_of_later_tests(
    sqlite_template: Path, tmp_path: Path
) -> None:
    def file(name: str) -> Store:
        shutil.copy(sqlite_template, tmp_path / name)
        return Store(open_engine(f"sqlite:///{tmp_path / name}"))

    def beside_a_worker(store: Store) -> int:
        build_plant(store)
        with store.begin() as unit:
            jobs.put(unit, JobKind.SWEEP_EXPIRED, {}, now=NOW, slot="sweep")
        return 1

    first, second = file("first.db"), file("second.db")
    wish = ("of this test", str(tmp_path))
    assert laid(first, wish, lambda: beside_a_worker(first)) == 1
    assert laid(second, wish, lambda: 2) == 2, "made anew, not laid down"
    for store in (first, second):
        store.engine.dispose()
