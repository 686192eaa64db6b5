"""When points are due: what could not clear stays due, repairs come back, intervals say why."""

from datetime import UTC, date, datetime

import pytest

from service.domain.people import Actor
from service.domain.words import Role
from service.errors import Forbidden, Invalid
from service.storage.tables.readings import PointStateRow
from service.storage.tables.register import EquipmentRow, PointRow
from service.storage.unit import Store
from service.usecases.rounds.due import list_due, refresh_due
from service.usecases.rounds.plan import RoundWish, plan_round
from tests.builders import Plant, build_plant
from tests.rounds.builders import DAY, NOW, change, judged, repaired_finding, stand

MAY = datetime(2026, 5, 11, 9, 0, tzinfo=UTC)
NOV = datetime(2026, 11, 3, 9, 0, tzinfo=UTC)


def due(store: Store, point_id: int) -> tuple[date | None, str]:
    with store.begin() as unit:
        refresh_due(unit, [point_id], NOW)
    with store.look() as unit:
        state = unit.session.get(PointStateRow, point_id)
        assert state is not None
        return state.due_on, state.due_reason


def test_the_interval_counts_from_the_last_full_visit_and_names_its_source(any_store: Store) -> None:
    plant = build_plant(any_store)
    judged(any_store, plant.point_ids[0], at=MAY)
    assert due(any_store, plant.point_ids[0]) == (
        date(2027, 5, 11),
        "12 months: medium need, average condition (ANSI/NETA MTS Appendix B); last read 11 May 2026",
    )


def test_a_reading_that_could_only_accuse_leaves_the_point_due(store: Store) -> None:
    plant = build_plant(store)
    point = plant.point_ids[0]
    judged(store, point, at=MAY)
    judged(store, point, at=NOV, level=2, at_least=True)
    day, reason = due(store, point)
    assert day == date(2026, 11, 11)
    assert reason.endswith("last cleared 11 May 2026, 3 Nov 2026 could not clear")


def test_a_cold_part_was_not_cleared_of_the_heat_it_had_before(any_store: Store) -> None:
    plant = build_plant(any_store)
    judged(any_store, plant.point_ids[0], at=MAY)
    judged(any_store, plant.point_ids[0], at=NOV, level=2, cold=True)
    day, reason = due(any_store, plant.point_ids[0])
    assert day == date(2026, 11, 11)
    assert reason.endswith("last cleared 11 May 2026, 3 Nov 2026 could not clear")


def test_a_point_without_any_full_visit_is_due_at_once(store: Store) -> None:
    plant = build_plant(store)
    judged(store, plant.point_ids[0], at=NOV, level=None)
    day, reason = due(store, plant.point_ids[0])
    assert (day, reason) == (
        date(2021, 1, 4),
        "not cleared yet: the reading of 3 Nov 2026 could not clear it",
    )


def test_a_full_visit_above_nothing_found_counts_and_halves_the_interval(store: Store) -> None:
    plant = build_plant(store)
    judged(store, plant.point_ids[0], at=MAY, level=1)
    day, reason = due(store, plant.point_ids[0])
    assert day == date(2026, 11, 11)
    assert reason.startswith(
        "half the interval, since the point stands at Look again; the whole one is 12 months: "
    )
    assert "stands at Look again" in reason


def test_a_worsening_trend_halves_the_interval(store: Store) -> None:
    plant = build_plant(store)
    judged(store, plant.point_ids[0], at=MAY)
    stand(store, plant.point_ids[0], trend="rising")
    day, reason = due(store, plant.point_ids[0])
    assert day == date(2026, 11, 11)
    assert "since its trend is rising" in reason


@pytest.mark.parametrize(
    ("fields", "months"),
    [
        # NFPA 70B-2023 Table 9.2.2 and NETA MTS Appendix B, by hand
        ({"criticality": "high", "condition": "average"}, 6),
        ({"criticality": "high", "condition": "poor"}, 3),
        ({"criticality": "low", "condition": "good"}, 12),
        ({"condition": "poor"}, 6),
        ({"interval_months": 2.0}, 2),
        ({"pf_interval_months": 6.0}, 3),
    ],
)
def test_the_interval_follows_the_register(store: Store, fields: dict[str, object], months: int) -> None:
    plant = build_plant(store)
    change(store, EquipmentRow, plant.equipment_ids[0], **fields)
    judged(store, plant.point_ids[0], at=MAY)
    month = 5 + months
    assert due(store, plant.point_ids[0])[0] == date(2026 + (month - 1) // 12, (month - 1) % 12 + 1, 11)


def test_a_repair_that_waits_for_its_proof_is_due_since_the_repair(store: Store) -> None:
    plant = build_plant(store)
    judged(store, plant.point_ids[0], at=NOV, level=4)
    repaired_finding(store, plant, plant.point_ids[0], at=NOV)
    day, reason = due(store, plant.point_ids[0])
    assert day == NOV.date()
    assert reason.startswith("read again: repaired 3 Nov 2026")


def test_a_retired_point_is_never_due(store: Store) -> None:
    plant = build_plant(store)
    change(store, PointRow, plant.point_ids[0], retired_at=NOW)
    assert due(store, plant.point_ids[0]) == (None, "")


def test_first_visits_of_a_fresh_register_are_spread_by_site(any_store: Store) -> None:
    plant = build_plant(any_store, sites=3)
    with any_store.begin() as unit:
        refresh_due(unit, plant.point_ids, NOW)
    with any_store.look() as unit:
        days = [unit.session.get(PointStateRow, point).due_on for point in plant.point_ids]  # type: ignore[union-attr]
    assert sorted(set(days)) == [date(2021, 1, 4), date(2021, 5, 5), date(2021, 9, 4)]
    assert len(set(days[:6])) == 1


def test_a_new_point_at_a_visited_site_is_due_at_once(store: Store) -> None:
    plant = build_plant(store, sites=3)
    judged(store, plant.point_ids[-1], at=MAY)
    assert due(store, plant.point_ids[-2]) == (date(2021, 1, 4), "never read")


def test_nothing_is_written_when_nothing_changed(store: Store) -> None:
    plant = build_plant(store)
    with store.begin() as unit:
        assert refresh_due(unit, plant.point_ids, NOW) == 6
        assert refresh_due(unit, plant.point_ids, NOW) == 0


def _all_due(store: Store, plant: Plant) -> Actor:
    with store.begin() as unit:
        refresh_due(unit, plant.point_ids, NOW)
    return plant.actor()


def test_the_list_of_what_is_due_stays_inside_the_grants(store: Store) -> None:
    plant = build_plant(store, sites=2, boards=2)
    engineer = _all_due(store, plant)
    found = list_due(store, engineer, until=DAY, now=NOW)
    assert [(site.name, site.points, len(site.equipment)) for site in found] == [
        ("Site 1", 12, 2),
        ("Site 2", 12, 2),
    ]
    narrow = plant.actor(sites=frozenset(plant.site_ids[1:]))
    assert [site.name for site in list_due(store, narrow, until=DAY, now=NOW)] == ["Site 2"]
    with pytest.raises(Forbidden):
        list_due(store, plant.actor(Role.TECHNICIAN), until=DAY, now=NOW)


def test_a_round_takes_the_due_equipment_of_a_site(store: Store) -> None:
    plant = build_plant(store, boards=3)
    judged(store, plant.point_ids[0], at=NOV)
    for point in plant.point_ids[1:6]:
        judged(store, point, at=NOV)
    engineer = _all_due(store, plant)
    wish = RoundWish(name="Due", planned_on=DAY, due_site_ids=tuple(plant.site_ids))
    round_ = plan_round(store, engineer, wish, now=NOW)
    from service.storage import rounds

    with store.look() as unit:
        assert [s.equipment_id for s in rounds.stops_of(unit, round_.id)] == plant.equipment_ids[1:]


def test_a_day_on_which_nothing_is_due_is_said(store: Store) -> None:
    plant = build_plant(store)
    for point in plant.point_ids:
        judged(store, point, at=NOV)
    engineer = _all_due(store, plant)
    wish = RoundWish(name="Due", planned_on=DAY, due_site_ids=tuple(plant.site_ids))
    with pytest.raises(Invalid, match="problem"):
        plan_round(store, engineer, wish, now=NOW)
