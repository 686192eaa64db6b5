"""The trends of whole sites, worked out again: once each, seen, and stopped where nobody has begun."""

from datetime import UTC, datetime

import pytest
from sqlalchemy import select, update

from service.domain.words import Role, Trend
from service.errors import Forbidden
from service.jobs.worker import Worker
from service.storage.tables.readings import PointStateRow
from service.storage.tables.register import PointRow
from service.storage.unit import Store
from service.trends.policy import METHOD
from service.usecases.condition.all_trends import (
    ask_trends,
    put_trends,
    see_asked,
    see_progress,
    stop_asked,
    stop_trends,
)
from tests.builders import build_plant
from tests.condition.histories import read_monthly, state_of

NOW = datetime(2026, 11, 25, 9, 0, tzinfo=UTC)
RISING = [0.2, 0.1, 0.3, 0.1, 0.2, 0.3, 2.2, 4.1, 6.0, 8.2]


def two_sites_read(store: Store) -> list[int]:
    plant = build_plant(store, sites=2)
    points = [plant.point_ids[0], plant.point_ids[-1]]
    for point in points:
        read_monthly(store, point, RISING)
    with store.begin() as unit:
        unit.session.execute(update(PointStateRow).values(last_read_at=NOW, trend_method="an older rule"))
    return points


def test_sites_of_an_older_rule_are_put_once_and_told_by_the_worker(any_store: Store) -> None:
    points = two_sites_read(any_store)
    assert put_trends(any_store, now=NOW) == 2
    put_trends(any_store, now=NOW)
    before = see_progress(any_store)
    assert (before.waiting, before.told, before.told_by_others) == (2, 0, 2)
    assert Worker(any_store, clock=lambda: NOW).work_off() == 2
    after = see_progress(any_store)
    assert (after.waiting, after.told, after.told_by_others) == (0, 2, 0)
    for point in points:
        state = state_of(any_store, point)
        assert state.trend in (Trend.RISING, Trend.RISING_FASTER)
        assert state.trend_method == METHOD
    assert put_trends(any_store, now=NOW) == 0
    assert put_trends(any_store, now=NOW, every=True) == 2


def test_what_nobody_has_begun_is_taken_back_and_old_words_stay(any_store: Store) -> None:
    points = two_sites_read(any_store)
    put_trends(any_store, now=NOW)
    assert stop_trends(any_store) == 2
    assert Worker(any_store, clock=lambda: NOW).work_off() == 0
    assert state_of(any_store, points[0]).trend_method == "an older rule"
    assert "0 of 2 points" in see_progress(any_store).sentence


def test_a_register_without_readings_has_nothing_to_tell(any_store: Store) -> None:
    build_plant(any_store)
    assert put_trends(any_store, now=NOW) == 0
    assert see_progress(any_store).sentence == "No point has been read yet."


def test_an_engineer_puts_the_sites_in_sight_in_line_and_takes_them_back(store: Store) -> None:
    plant = build_plant(store, sites=2)
    with store.begin() as unit:
        for point_id, site_id in unit.session.execute(select(PointRow.id, PointRow.site_id)).all():
            equipment_id = plant.equipment_ids[plant.site_ids.index(site_id)]
            unit.session.add(
                PointStateRow(point_id=point_id, site_id=site_id, equipment_id=equipment_id, last_read_at=NOW)
            )
    here = plant.actor(sites=frozenset(plant.site_ids[:1]))
    assert ask_trends(store, here, now=NOW) == 1
    assert (see_asked(store, here), see_asked(store, plant.actor())) == (1, 1)
    assert ask_trends(store, plant.actor(), now=NOW) == 2
    assert see_asked(store, plant.actor()) == 2
    assert stop_asked(store, here, now=NOW) == 1
    assert see_asked(store, plant.actor()) == 1


def test_a_manager_asks_for_no_trends(store: Store) -> None:
    plant = build_plant(store)
    with pytest.raises(Forbidden):
        ask_trends(store, plant.actor(Role.MANAGER), now=NOW)
