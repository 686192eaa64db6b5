"""Looking into the register: pages, the tree with its marks, the search by tag, and who sees what."""

from dataclasses import replace
from datetime import datetime

import pytest
from sqlalchemy import event, text

from service.domain.register import Noun
from service.domain.register_tree import Mark
from service.domain.words import Role
from service.errors import NotFound
from service.storage.unit import Store
from service.usecases.register.browse import (
    find_tags,
    list_clients,
    list_things,
    see_equipment,
    see_site_tree,
    see_thing,
)
from service.usecases.register.import_register import commit_import
from service.usecases.register.retire import retire_thing
from tests.builders import Plant, build_plant
from tests.register.builders import csv_of, flat_rows, keeper


def stand_at(store: Store, plant: Plant, levels: dict[int, int | None]) -> None:
    """State rows of points: level by position among the plant's points."""
    with store.begin() as unit:
        for place, level in levels.items():
            unit.session.execute(
                text(
                    "INSERT INTO point_state (point_id, site_id, equipment_id, level, at_least, lower_run, clear_run,"
                    " previous_over_first_line, last_rule, last_sentence, trend, trend_visits, trend_method, pending,"
                    " baseline_visits, episode, due_reason, data_version)"
                    " SELECT p.id, p.site_id, v.equipment_id, :level, :no, 0, 0, :no, '', '', 'steady', 0, '', :no, 0,"
                    " 0, '', 0 FROM points p JOIN views v ON v.id = p.view_id WHERE p.id = :point"
                ),
                {"level": level, "point": plant.point_ids[place], "no": False},
            )


def put_on_round(store: Store, plant: Plant, equipment_id: int, role: Role) -> None:
    with store.begin() as unit:
        unit.session.execute(
            text(
                "INSERT INTO rounds (version, created_at, changed_at, client_id, code, name, planned_on, start_min,"
                " state, weather, note, person_id) VALUES (1, '2026-11-01 08:00:00', '2026-11-01 08:00:00', :client,"
                " 'R-1', 'Round', '2026-12-01', 420, 'issued', '', '', :person)"
            ),
            {"client": plant.client_id, "person": plant.people[role]},
        )
        unit.session.execute(
            text(
                "INSERT INTO stops (round_id, equipment_id, site_id, position, minutes)"
                " SELECT r.id, e.id, e.site_id, 1, 5 FROM rounds r, equipment e WHERE e.id = :e"
            ),
            {"e": equipment_id},
        )


def test_a_node_shows_the_gravest_level_beneath_it(any_store: Store) -> None:
    plant = build_plant(any_store, views=2)
    stand_at(any_store, plant, {0: 0, 1: 2, 2: None, 3: 1, 4: 4, 5: 4})
    tree = see_site_tree(any_store, plant.actor(), plant.site_ids[0])
    (area,) = tree.areas
    (board,) = area.children
    assert [(view.mark.level, view.mark.no_verdict) for view in board.children] == [(2, 1), (4, 0)]
    assert tree.mark == area.mark == board.mark == Mark((1, 1, 1, 0, 2), 1)
    assert (tree.mark.points, tree.mark.level, tree.mark.at_gravest) == (6, 4, 2)
    assert [point.mark.level for point in board.children[0].children] == [0, 2, None]


def test_at_least_stands_only_where_every_point_at_the_gravest_level_has_it() -> None:
    sure, unsure = Mark.of_points(2, False), Mark.of_points(2, True)
    assert Mark.of([unsure, unsure]).at_least
    assert not Mark.of([unsure, sure]).at_least
    assert Mark.of([Mark.of_points(1, False), unsure]).at_least
    assert Mark.of([]).level is None


def test_retired_points_mark_no_node(store: Store, now: datetime) -> None:
    plant = build_plant(store, views=1)
    stand_at(store, plant, {0: 4, 1: 0, 2: 0})
    retire_thing(store, keeper(plant), Noun.POINT, plant.point_ids[0], version=1, now=now)
    assert see_site_tree(store, plant.actor(), plant.site_ids[0]).mark == Mark((2, 0, 0, 0, 0))
    ((site,),) = (client.sites for client in list_clients(store, plant.actor()))
    assert site.mark.level == 0


def test_things_stand_in_walking_order_then_by_tag(store: Store, now: datetime) -> None:
    plant = build_plant(store, sites=0)
    rows = list(reversed(flat_rows(9)))
    commit_import(store, keeper(plant), csv_of(rows), now=now)
    everyone = replace(plant.actor(), every_site=True)
    ((site,),) = (client.sites for client in list_clients(store, everyone))
    tree = see_site_tree(store, everyone, site.id)
    views = tree.areas[0].children[0].children
    assert [view.key for view in views] == ["MCC1-F03", "MCC1-F02", "MCC1-F01"]


@pytest.mark.parametrize("wanted", ["mcc1-f01", "MCC1-F01", "  f01  ", "line terminals"])
def test_a_tag_or_name_is_found_by_any_part_of_it(any_store: Store, wanted: str) -> None:
    plant = build_plant(any_store, views=2)
    found = find_tags(any_store, plant.actor(), wanted)
    assert "S1-MCC1-F01" in {hit.tag for hit in found if hit.noun is Noun.VIEW}


@pytest.mark.parametrize("wanted", ["%", "_", "\\", "' OR 1=1 --"])
def test_what_means_something_to_a_database_means_nothing_in_a_search(any_store: Store, wanted: str) -> None:
    plant = build_plant(any_store)
    assert find_tags(any_store, plant.actor(), wanted) == ()


def test_the_exact_tag_comes_first(store: Store) -> None:
    plant = build_plant(store, boards=12)
    assert find_tags(store, plant.actor(), "S1-MCC1")[0].tag == "S1-MCC1"


def test_pages_follow_each_other_without_gap_or_repeat(any_store: Store) -> None:
    plant = build_plant(any_store, boards=3, views=2)
    seen: list[int] = []
    after = 0
    while True:
        page = list_things(any_store, plant.actor(), Noun.POINT, after=after, limit=5)
        seen += [thing.id for thing in page.items]
        if page.next_after is None:
            break
        after = page.next_after
    assert seen == sorted(plant.point_ids)


@pytest.mark.parametrize(
    ("above", "count"),
    [(Noun.CLIENT, 12), (Noun.SITE, 6), (Noun.AREA, 6), (Noun.EQUIPMENT, 6), (Noun.VIEW, 3)],
)
def test_a_list_is_narrowed_to_anything_above(store: Store, above: Noun, count: int) -> None:
    plant = build_plant(store, sites=2)
    page = list_things(store, plant.actor(), Noun.POINT, within=(above, 1))
    assert len(page.items) == count


def test_retired_things_are_listed_apart(store: Store, now: datetime) -> None:
    plant = build_plant(store)
    retire_thing(store, keeper(plant), Noun.POINT, plant.point_ids[0], version=1, now=now)
    listed = {
        flag: len(list_things(store, plant.actor(), Noun.POINT, retired=flag).items)
        for flag in (False, True, None)
    }
    assert listed == {False: 5, True: 1, None: 6}


def test_a_technician_sees_what_stands_on_own_rounds_and_nothing_else(any_store: Store) -> None:
    plant = build_plant(any_store, boards=2, views=1)
    mine, other = plant.equipment_ids
    put_on_round(any_store, plant, mine, Role.TECHNICIAN)
    technician = plant.actor(Role.TECHNICIAN)
    assert see_equipment(any_store, technician, mine).equipment.id == mine
    assert {hit.equipment_id for hit in find_tags(any_store, technician, "mcc")} == {mine}
    assert {thing.id for thing in list_things(any_store, technician, Noun.POINT).items} == set(
        plant.point_ids[:3]
    )
    tree = see_site_tree(any_store, technician, plant.site_ids[0])
    assert [board.id for area in tree.areas for board in area.children] == [mine]
    for noun, hidden in (
        (Noun.EQUIPMENT, other),
        (Noun.VIEW, plant.view_ids[1]),
        (Noun.POINT, plant.point_ids[3]),
    ):
        with pytest.raises(NotFound):
            see_thing(any_store, technician, noun, hidden)


def test_only_granted_sites_are_seen(store: Store) -> None:
    plant = build_plant(store, sites=2)
    narrow = replace(plant.actor(Role.MANAGER), sites=frozenset({plant.site_ids[0]}))
    ((site,),) = (client.sites for client in list_clients(store, narrow))
    assert site.id == plant.site_ids[0]
    assert {thing.id for thing in list_things(store, narrow, Noun.SITE).items} == {plant.site_ids[0]}
    assert {hit.site_id for hit in find_tags(store, narrow, "mcc")} == {plant.site_ids[0]}
    with pytest.raises(NotFound):
        see_site_tree(store, narrow, plant.site_ids[1])
    with pytest.raises(NotFound):
        see_equipment(store, narrow, plant.equipment_ids[1])


@pytest.mark.parametrize("boards", [1, 8])
def test_the_number_of_queries_does_not_grow_with_the_register(store: Store, boards: int) -> None:
    plant = build_plant(store, boards=boards)
    asked: list[str] = []

    def keep(_c: object, _cursor: object, statement: str, *_rest: object) -> None:
        if statement.lstrip().upper().startswith("SELECT"):
            asked.append(statement)

    event.listen(store.engine, "before_cursor_execute", keep)
    list_clients(store, plant.actor())
    see_site_tree(store, plant.actor(), plant.site_ids[0])
    find_tags(store, plant.actor(), "mcc")
    see_equipment(store, plant.actor(), plant.equipment_ids[0])
    event.remove(store.engine, "before_cursor_execute", keep)
    assert len(asked) == 3 + 5 + 2 + 8
