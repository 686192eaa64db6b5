"""How much is due at each site: counted by the database, the same as counted one by one."""

from collections.abc import Callable
from datetime import date, datetime

import pytest
from sqlalchemy import insert

from service.domain.stop_facts import DueTotal
from service.domain.words import Role
from service.errors import NotFound
from service.storage.due_totals import due_totals
from service.storage.tables.readings import PointStateRow
from service.storage.tables.register import EquipmentRow, PointRow, ViewRow
from service.storage.unit import Store
from service.usecases.rounds.browse import read_month
from service.usecases.rounds.choices import read_choices
from service.usecases.rounds.due import list_due, refresh_due
from service.usecases.rounds.plan import RoundWish, plan_round
from tests.builders import STAMPS, Plant, build_plant
from tests.doors import browser_as, open_app
from tests.rounds.builders import NOW, change

TODAY, UNTIL = NOW.date(), date(2026, 12, 31)


@pytest.fixture
def plant(any_store: Store) -> Plant:
    """Everything at two sites is due: 21 points at the first, 3 of them on their own pumps; 21 at the second."""
    made = build_plant(any_store, sites=2, boards=3, views=2, bearings=3)
    with any_store.begin() as unit:
        refresh_due(unit, made.point_ids, NOW)
    return made


def totals(store: Store, plant: Plant, until: date = UNTIL) -> tuple[DueTotal, ...]:
    with store.look() as unit:
        return due_totals(unit, plant.site_ids, until=until, today=TODAY)


def test_totals_are_those_of_the_list(any_store: Store, plant: Plant) -> None:
    change(any_store, EquipmentRow, plant.equipment_ids[0], minutes=17)
    listed = list_due(any_store, plant.actor(), until=UNTIL, now=NOW)
    assert [(one.site_id, one.points, one.equipment, one.minutes) for one in totals(any_store, plant)] == [
        (site.site_id, site.points, len(site.equipment), site.minutes) for site in listed
    ]
    assert [one.points for one in totals(any_store, plant)] == [21, 21]


@pytest.mark.parametrize(("kind", "left"), [(PointRow, 20), (ViewRow, 18), (EquipmentRow, 15)])
def test_what_is_retired_itself_or_with_its_view_or_equipment_is_not_counted(
    any_store: Store, plant: Plant, kind: type[PointRow] | type[ViewRow] | type[EquipmentRow], left: int
) -> None:
    change(any_store, kind, 1, retired_at=NOW)
    assert {one.name: one.points for one in totals(any_store, plant)} == {"Site 1": left, "Site 2": 21}


def test_what_is_due_later_is_not_counted(any_store: Store, plant: Plant) -> None:
    change_due(any_store, plant.point_ids[0], date(2027, 1, 1))
    assert [one.points for one in totals(any_store, plant) if one.name == "Site 1"] == [20]
    assert totals(any_store, plant, until=date(2019, 1, 1)) == ()


def change_due(store: Store, point_id: int, day: date) -> None:
    with store.begin() as unit:
        unit.session.get_one(PointStateRow, point_id).due_on = day


def test_points_on_a_round_to_come_are_told(any_store: Store, plant: Plant) -> None:
    wish = RoundWish(name="One board", planned_on=date(2026, 12, 8), equipment_ids=(plant.equipment_ids[0],))
    plan_round(any_store, plant.actor(), wish, now=NOW)
    assert {one.name: one.taken for one in totals(any_store, plant)} == {"Site 1": 6, "Site 2": 0}


def test_the_month_opens_the_site_that_was_asked_for_and_counts_all(any_store: Store, plant: Plant) -> None:
    month = read_month(any_store, plant.actor(), UNTIL, due_at=plant.site_ids[1], now=NOW)
    assert month.due_points == 42
    assert month.opened is not None
    assert (month.opened.name, len(month.opened.equipment)) == ("Site 2", 6)
    first = read_month(any_store, plant.actor(), UNTIL, now=NOW)
    assert first.opened is not None
    assert first.opened.name == "Site 1"
    narrow = plant.actor(sites=frozenset(plant.site_ids[:1]))
    with pytest.raises(NotFound):
        read_month(any_store, narrow, UNTIL, due_at=plant.site_ids[1], now=NOW)
    assert read_month(any_store, narrow, UNTIL, now=NOW).due_points == 21


def test_more_than_two_thousand_equipment_are_all_counted(store: Store, now: datetime) -> None:
    """Symptom: the sentence over the month told 2,000 stops of a fleet that had more of them due."""
    plant = build_plant(store, boards=1, views=1)
    many(store, plant, 2100)
    (site,) = totals(store, plant)
    assert (site.points, site.equipment) == (2100, 2100)
    (listed,) = list_due(store, plant.actor(), until=UNTIL, now=NOW)
    assert listed.points == 2100
    assert read_choices(store, plant.actor(), now=NOW).sites[0].due == 2100


def many(store: Store, plant: Plant, count: int) -> None:
    """So many pumps of one due bearing each."""
    ids = range(1000, 1000 + count)
    site = {"site_id": plant.site_ids[0]}
    with store.begin() as unit:
        for kind, rows in (
            (
                EquipmentRow,
                [site | STAMPS | {"id": k, "area_id": 1, "tag": f"E{k}", "name": f"E{k}"} for k in ids],
            ),
            (
                ViewRow,
                [site | STAMPS | {"id": k, "equipment_id": k, "tag": f"V{k}", "name": "V"} for k in ids],
            ),
            (
                PointRow,
                [
                    site | STAMPS | {"id": k, "view_id": k, "tag": f"P{k}", "name": "P", "kind": "bearing"}
                    for k in ids
                ],
            ),
            (
                PointStateRow,
                [site | {"point_id": k, "equipment_id": k, "due_on": TODAY, "due_reason": "x"} for k in ids],
            ),
        ):
            unit.session.execute(insert(kind), rows)


def test_a_site_opens_by_its_link_and_the_others_stay_one_line_each(
    store: Store, now: datetime, clock: Callable[[], datetime]
) -> None:
    plant = build_plant(store, sites=3, boards=2)
    with store.begin() as unit:
        refresh_due(unit, plant.point_ids, NOW)
    engineer = browser_as(open_app(store, clock), store, plant, Role.ENGINEER, now)
    page = engineer.get("/rounds?month=2026-12").text
    assert "36\u00a0points due by the end of the month" in page
    assert page.count("Never read") == 2, "the two boards of the first site"
    link = f"/rounds?month=2026-12&amp;due={plant.site_ids[2]}#due-{plant.site_ids[2]}"
    assert link in page
    other = engineer.get(link.replace("&amp;", "&")).text
    assert "S3-MCC1" in other
    assert "S1-MCC1" not in other
    assert f'href="/rounds/new?due={plant.site_ids[2]}"' in other
    assert engineer.get("/rounds?month=2026-12&due=999").status_code == 404
