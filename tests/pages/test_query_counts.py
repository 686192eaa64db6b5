"""Pages ask as many statements of a large plant as of a small one: first render and later ones."""

import shutil
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, date, datetime
from pathlib import Path

import pytest
from sqlalchemy import event
from starlette.testclient import TestClient

from service.domain.words import Role
from service.storage.engine import open_engine
from service.storage.unit import Store
from service.usecases.condition.point_history import see_point_history
from tests.builders import Plant, build_plant
from tests.conftest import NOW
from tests.doors import browser_as, open_app
from tests.pages.standing_builders import open_finding, repair, tell
from tests.readings.builders import issue

PAGES: dict[str, Callable[[Plant], str]] = {
    "Standing": lambda plant: "/",
    "Standing of a site": lambda plant: f"/standing/sites/{plant.site_ids[0]}",
    "Desk": lambda plant: "/desk",
    "point history": lambda plant: f"/points/{plant.point_ids[0]}",
    "equipment tree": lambda plant: f"/equipment?site={plant.site_ids[0]}",
    "rounds": lambda plant: "/rounds?month=2026-11",
    "year": lambda plant: "/reports/year?year=2026",
    "year gone by": lambda plant: "/reports/year?year=2025",
    "equipment of a year": lambda plant: "/reports/year/equipment.csv?year=2026",
}


@dataclass
class World:
    """A plant with months of returned rounds, and an engineer's browser on it."""

    store: Store
    plant: Plant
    engineer: TestClient


def build_world(path: Path, *, months: int, **kinds: int) -> Plant:
    """Two hot joints in every month; findings open, repaired and told of."""
    store = Store(open_engine(f"sqlite:///{path}"))
    plant = build_plant(store, **kinds)
    for month in range(12 - months, 12):
        issued = issue(store, plant=plant, day=date(2026, month, 17))
        records = issued.all_records()
        records[0]["temperature_c"] = records[4]["temperature_c"] = 70.0
        issued.bring(records, key=issued.code)
    mended = open_finding(store, plant, plant.point_ids[0], state="repaired")
    repair(store, mended, datetime(2026, 10, 1, tzinfo=UTC))
    tell(store, open_finding(store, plant, plant.point_ids[3]), "Control room", NOW)
    store.engine.dispose()
    return plant


@pytest.fixture(scope="module")
def plants(sqlite_template: Path, tmp_path_factory: pytest.TempPathFactory) -> list[tuple[Path, Plant]]:
    """6 points at one site after two months, 60 points at three sites after five; only read from here on."""
    small, large = (tmp_path_factory.mktemp("counts") / "riseline.db" for _ in range(2))
    for path in (small, large):
        shutil.copy(sqlite_template, path)
    few = build_world(small, months=2, sites=1, boards=1, views=2)
    many = build_world(large, months=5, sites=3, boards=1, views=6, bearings=2)
    assert [len(plant.point_ids) for plant in (few, many)] == [6, 60]
    return [(small, few), (large, many)]


@contextmanager
def opened(path: Path, plant: Plant) -> Iterator[World]:
    """The service as just started: nothing drawn, nothing kept yet."""
    store = Store(open_engine(f"sqlite:///{path}"))
    app = open_app(store, lambda: NOW)
    yield World(store, plant, browser_as(app, store, plant, Role.ENGINEER, NOW))
    store.engine.dispose()


@pytest.fixture
def worlds(plants: list[tuple[Path, Plant]]) -> Iterator[tuple[World, World]]:
    (small, few), (large, many) = plants
    with opened(small, few) as one, opened(large, many) as other:
        yield one, other


def statements_of(store: Store, ask: Callable[[], object]) -> list[str]:
    seen: list[str] = []

    def remember(_connection: object, _cursor: object, statement: str, *_rest: object) -> None:
        seen.append(statement)

    event.listen(store.engine, "before_cursor_execute", remember)
    try:
        ask()
    finally:
        event.remove(store.engine, "before_cursor_execute", remember)
    return seen


def number_stays_the_same(worlds: tuple[World, World], ask: Callable[[World], object]) -> None:
    few, many = (statements_of(world.store, lambda world=world: ask(world)) for world in worlds)
    assert few, "nothing was asked at all"
    more = sorted(set(many) - set(few)) or many
    assert len(few) == len(many), f"{len(few)} statements grow to {len(many)}: {more}"


@pytest.mark.parametrize("name", PAGES)
def test_a_page_asks_no_more_of_a_large_plant(worlds: tuple[World, World], name: str) -> None:
    def ask(world: World) -> None:
        answer = world.engineer.get(PAGES[name](world.plant))
        assert answer.status_code == 200, answer.text[:300]

    number_stays_the_same(worlds, ask)
    number_stays_the_same(worlds, ask)


def test_no_page_sorts_all_readings_to_find_the_latest(worlds: tuple[World, World]) -> None:
    _, large = worlds
    for name in ("Standing", "Desk"):
        address = PAGES[name](large.plant)
        for statement in statements_of(large.store, lambda address=address: large.engineer.get(address)):
            assert "OVER (" not in statement, f"{name}: {statement}"


def test_a_loop_of_queries_is_caught(worlds: tuple[World, World]) -> None:
    """The broken twin: each point asked for by itself."""

    def ask(world: World) -> None:
        for point_id in world.plant.point_ids:
            see_point_history(world.store, world.plant.actor(), point_id=point_id, now=NOW)

    with pytest.raises(AssertionError, match=r"\d+ statements grow to \d+"):
        number_stays_the_same(worlds, ask)
