"""The healthy part of the demonstration stays calm, and a noisier one would not pass for it."""

from pathlib import Path

import pytest

from seed_data.calm import LIKE_PARTS, MOST_READINGS, Calm, found_faults, measure_calm
from seed_data.world import World, build_world
from service.storage.engine import open_engine
from service.storage.unit import Store
from tests.conftest import NOW
from tests.demo_ground import fill

#: Two monthly sites over fourteen months: enough readings to tell 1.5 K from 0.5 K.
SITES, MONTHS = ("WEN", "SAL"), 14


@pytest.fixture(scope="module")
def calm(demo_database: Path, demo_world: World) -> Calm:
    return _measured(demo_database, demo_world)


def _measured(path: Path, world: World) -> Calm:
    engine = open_engine(f"sqlite:///{path}")
    measured = measure_calm(Store(engine), world, now=NOW)
    engine.dispose()
    return measured


def test_healthy_part_stays_calm_over_five_years_and_at_every_years_end(calm: Calm) -> None:
    """At most 2 % of readings over like parts and 4 % of standings (study of like parts, §4)."""
    assert calm.complaints() == []


def test_five_years_of_readings_over_like_parts_were_measured(calm: Calm) -> None:
    assert calm.readings_of(LIKE_PARTS).of > 12_000
    assert len({day for day, _ in calm.standings}) == 6


def test_a_noisier_plant_fails_the_same_check(sqlite_template: Path, tmp_path: Path) -> None:
    """1.5 K a phase instead of 0.5 K: the check would see it."""
    world = build_world(NOW.date(), scatter_k=1.5, sites=SITES, months=MONTHS)
    noisy = _measured(fill(sqlite_template, tmp_path / "noisy.db", world, now=NOW), world)
    assert noisy.readings_of(LIKE_PARTS).share > 2 * MOST_READINGS
    told = noisy.complaints()
    assert any(line.startswith("healthy readings") for line in told)
    assert any(line.startswith(f"healthy standings above Nothing found on {world.last}") for line in told)


def test_no_live_fault_of_the_truth_stands_at_nothing_found(demo_store: Store, demo_world: World) -> None:
    missed = {tag: level for tag, level in found_faults(demo_store, demo_world, now=NOW).items() if not level}
    assert missed == {}
