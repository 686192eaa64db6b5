"""Create, edit, retire and restore: what is kept, who may, and that nothing is lost."""

from dataclasses import replace
from datetime import datetime, timedelta

import pytest
from sqlalchemy import text

from service.domain.register import Noun, Point, Registered
from service.domain.words import Role
from service.errors import Conflict, Forbidden, Invalid, NotFound, Stale
from service.storage.unit import Store
from service.usecases.register.browse import see_common_loads, see_thing
from service.usecases.register.create import create_thing
from service.usecases.register.edit import edit_thing
from service.usecases.register.retire import foresee_retiring, restore_thing, retire_thing
from tests.builders import Plant, build_plant
from tests.register.builders import keeper
from tests.register.counting import ask, counts

POINT = {"tag": "F99-L1", "name": "Line terminal L1", "kind": "joint", "common_load_a": "63"}


def add_point(store: Store, plant: Plant, now: datetime, **change: str) -> Point:
    thing = create_thing(
        store, keeper(plant), Noun.POINT, parent_id=plant.view_ids[0], fields=POINT | change, now=now
    )
    assert isinstance(thing, Point)
    return thing


def test_a_register_grows_from_client_to_point(any_store: Store, now: datetime) -> None:
    plant = build_plant(any_store)
    maker = keeper(plant)
    fields = {
        Noun.CLIENT: {"code": "NEW", "name": "Brackwater Estates"},
        Noun.SITE: {"code": "BR", "name": "Brackwater", "time_zone": "Europe/London"},
        Noun.AREA: {"code": "SWR", "name": "Switchroom"},
        Noun.EQUIPMENT: {"tag": "MCC1", "name": "MCC 1", "load_hours": "mon-fri 07:00-11:30"},
        Noun.VIEW: {"tag": "MCC1-F1", "name": "Feeder 1"},
        Noun.POINT: POINT,
    }
    parent: Registered | None = None
    for noun, typed in fields.items():
        parent = create_thing(
            any_store, maker, noun, parent_id=None if parent is None else parent.id, fields=typed, now=now
        )
        if noun is Noun.CLIENT:
            maker = replace(
                maker, clients=maker.clients | {parent.id}, whole_clients=maker.whole_clients | {parent.id}
            )
        if noun is Noun.SITE:
            maker = replace(maker, sites=maker.sites | {parent.id})
    assert isinstance(parent, Point)
    place = see_thing(any_store, maker, Noun.POINT, parent.id).place
    assert [name for _, _, name in place.ancestors] == [
        "Brackwater Estates", "Brackwater", "Switchroom", "MCC 1", "Feeder 1", "Line terminal L1",
    ]  # fmt: skip
    assert ask(any_store, "SELECT count(*) FROM grants WHERE client_id = :c", c=place.client_id) == [(1,)]


def test_a_new_point_begins_due_without_a_verdict_among_its_like_parts(
    any_store: Store, now: datetime
) -> None:
    plant = build_plant(any_store)
    point = add_point(any_store, plant, now)
    state = ask(
        any_store,
        "SELECT level, site_id, equipment_id, due_on FROM point_state WHERE point_id = :p",
        p=point.id,
    )
    assert [(level, site, equipment, str(due)) for level, site, equipment, due in state] == [
        (None, plant.site_ids[0], plant.equipment_ids[0], "2026-11-25")
    ]
    assert point.like_part
    (load,) = see_common_loads(any_store, keeper(plant), point.id)
    assert (load.version, load.amps) == (1, 63.0)
    assert ask(any_store, "SELECT data_version FROM site_state") == [(1,)]


def test_a_changed_common_load_keeps_the_old_one_with_the_reason(any_store: Store, now: datetime) -> None:
    plant = build_plant(any_store)
    point = add_point(any_store, plant, now)
    edited = edit_thing(
        any_store, keeper(plant), Noun.POINT, point.id, version=1, now=now + timedelta(days=1),
        fields={"common_load_a": "80", "common_load_source": "highest known"}, reason="second pump added",
    )  # fmt: skip
    assert isinstance(edited, Point)
    assert (edited.version, edited.common_load_version, edited.common_load_a) == (2, 2, 80.0)
    loads = see_common_loads(any_store, keeper(plant), point.id)
    assert [(load.version, load.amps, load.reason) for load in loads] == [
        (2, 80.0, "second pump added"),
        (1, 63.0, ""),
    ]


def test_a_point_leaves_and_joins_its_like_parts_over_time(any_store: Store, now: datetime) -> None:
    plant = build_plant(any_store)
    point = add_point(any_store, plant, now)
    for version, (word, day) in enumerate((("no", 1), ("yes", 2)), start=1):
        edit_thing(
            any_store, keeper(plant), Noun.POINT, point.id, version=version,
            fields={"like_part": word}, now=now + timedelta(days=day),
        )  # fmt: skip
    spans = ask(
        any_store, "SELECT to_at IS NULL FROM view_members WHERE point_id = :p ORDER BY id", p=point.id
    )
    assert [bool(is_open) for (is_open,) in spans] == [False, True]


def test_an_edit_that_changes_nothing_leaves_version_and_audit_alone(any_store: Store, now: datetime) -> None:
    plant = build_plant(any_store)
    point = add_point(any_store, plant, now)
    before = counts(any_store)
    same = edit_thing(any_store, keeper(plant), Noun.POINT, point.id, version=1, fields=POINT, now=now)
    assert same == point
    assert counts(any_store) == before


def test_an_edit_on_an_old_version_is_refused(any_store: Store, now: datetime) -> None:
    plant = build_plant(any_store)
    point = add_point(any_store, plant, now)
    edit_thing(any_store, keeper(plant), Noun.POINT, point.id, version=1, fields={"name": "First"}, now=now)
    with pytest.raises(Stale) as stale:
        edit_thing(
            any_store, keeper(plant), Noun.POINT, point.id, version=1, fields={"name": "Second"}, now=now
        )
    assert stale.value.current_version == 2
    assert ask(any_store, "SELECT name FROM points WHERE id = :p", p=point.id) == [("First",)]


def test_every_wrong_field_is_told_and_nothing_stored(store: Store, now: datetime) -> None:
    plant = build_plant(store)
    before = counts(store)
    with pytest.raises(Invalid) as invalid:
        add_point(store, plant, now, tag="S1-MCC1-F01-L1", kind="joynt", emissivity="1.2", distance_m="far")
    assert {problem.field for problem in invalid.value.problems} == {
        "tag",
        "kind",
        "emissivity",
        "distance_m",
    }
    assert counts(store) == before


def test_retiring_takes_along_what_stands_in_it_and_says_so(any_store: Store, now: datetime) -> None:
    plant = build_plant(any_store, views=2)
    board = plant.equipment_ids[0]
    foreseen = foresee_retiring(any_store, keeper(plant), Noun.EQUIPMENT, board)
    retired = retire_thing(any_store, keeper(plant), Noun.EQUIPMENT, board, version=1, now=now)
    assert foreseen.words == retired.words == "2 views and 6 points"
    for table, count in (("equipment", 1), ("views", 2), ("points", 6)):
        assert ask(any_store, f"SELECT count(*) FROM {table} WHERE retired_at IS NOT NULL") == [(count,)]
    assert ask(any_store, "SELECT count(*) FROM view_members WHERE to_at IS NULL") == [(0,)]
    assert ask(any_store, "SELECT count(*) FROM points") == [(6,)]


def test_restoring_brings_back_what_went_along_and_nothing_else(any_store: Store, now: datetime) -> None:
    plant = build_plant(any_store, views=2)
    maker, board, lone = keeper(plant), plant.equipment_ids[0], plant.point_ids[0]
    retire_thing(any_store, maker, Noun.POINT, lone, version=1, now=now - timedelta(days=3))
    retire_thing(any_store, maker, Noun.EQUIPMENT, board, version=1, now=now)
    restore_thing(any_store, maker, Noun.EQUIPMENT, board, version=2, now=now + timedelta(days=1))
    assert ask(any_store, "SELECT id FROM points WHERE retired_at IS NOT NULL") == [(lone,)]
    assert ask(any_store, "SELECT count(*) FROM view_members WHERE to_at IS NULL") == [(5,)]


def test_a_thing_comes_back_only_into_something_in_use(store: Store, now: datetime) -> None:
    plant = build_plant(store)
    retire_thing(store, keeper(plant), Noun.VIEW, plant.view_ids[0], version=1, now=now)
    with pytest.raises(Conflict, match="view it stands in is retired"):
        restore_thing(store, keeper(plant), Noun.POINT, plant.point_ids[0], version=2, now=now)


def test_the_tag_of_a_retired_thing_stays_taken(store: Store, now: datetime) -> None:
    plant = build_plant(store)
    retire_thing(store, keeper(plant), Noun.POINT, plant.point_ids[0], version=1, now=now)
    with pytest.raises(Invalid) as invalid:
        add_point(store, plant, now, tag="S1-MCC1-F01-L1")
    assert "retired" in invalid.value.problems[0].message


def test_a_retired_thing_is_not_edited_and_takes_nothing_in(store: Store, now: datetime) -> None:
    plant = build_plant(store)
    retire_thing(store, keeper(plant), Noun.VIEW, plant.view_ids[0], version=1, now=now)
    with pytest.raises(Conflict):
        edit_thing(
            store, keeper(plant), Noun.VIEW, plant.view_ids[0], version=2, fields={"name": "x"}, now=now
        )
    with pytest.raises(Conflict):
        add_point(store, plant, now)


@pytest.mark.parametrize(
    ("state", "out"), [("issued", True), ("returned", True), ("draft", False), ("signed off", False)]
)
def test_what_is_on_a_round_that_is_out_is_not_retired(
    store: Store, now: datetime, state: str, out: bool
) -> None:
    plant = build_plant(store)
    with store.begin() as unit:
        unit.session.execute(
            text(
                "INSERT INTO rounds (version, created_at, changed_at, client_id, code, name, planned_on, start_min,"
                " state, weather, note) VALUES (1, :at, :at, :client, 'R-1', 'Round', '2026-12-01', 420, :state, '', '')"
            ),
            {"at": "2026-11-01 08:00:00.000000", "client": plant.client_id, "state": state},
        )
        unit.session.execute(
            text(
                "INSERT INTO stops (round_id, equipment_id, site_id, position, minutes) VALUES (1, :e, :s, 1, 5)"
            ),
            {"e": plant.equipment_ids[0], "s": plant.site_ids[0]},
        )
    foreseen = foresee_retiring(store, keeper(plant), Noun.AREA, 1)
    assert foreseen.rounds_out == (("R-1",) if out else ())
    if out:
        with pytest.raises(Conflict, match="R-1"):
            retire_thing(store, keeper(plant), Noun.SITE, plant.site_ids[0], version=1, now=now)
    else:
        assert retire_thing(store, keeper(plant), Noun.SITE, plant.site_ids[0], version=1, now=now)


def test_equipment_moves_to_another_area_of_its_site_only(any_store: Store, now: datetime) -> None:
    plant = build_plant(any_store, sites=2)
    maker, board = keeper(plant), plant.equipment_ids[0]
    yard = create_thing(
        any_store,
        maker,
        Noun.AREA,
        parent_id=plant.site_ids[0],
        fields={"code": "YARD", "name": "Yard"},
        now=now,
    )
    foreign = ask(any_store, "SELECT id FROM areas WHERE site_id = :s", s=plant.site_ids[1])[0][0]
    edit_thing(any_store, maker, Noun.EQUIPMENT, board, version=1, fields={}, move_to=yard.id, now=now)
    assert ask(any_store, "SELECT area_id FROM equipment WHERE id = :e", e=board) == [(yard.id,)]
    with pytest.raises(Conflict):
        edit_thing(
            any_store, maker, Noun.EQUIPMENT, board, version=2, fields={}, move_to=int(str(foreign)), now=now
        )


@pytest.mark.parametrize("role", [Role.TECHNICIAN, Role.MANAGER, Role.ADMINISTRATOR])
def test_only_an_engineer_keeps_the_register(store: Store, now: datetime, role: Role) -> None:
    plant = build_plant(store)
    other = plant.actor(role)
    before = counts(store)
    with pytest.raises((Forbidden, NotFound)):
        create_thing(
            store,
            other,
            Noun.VIEW,
            parent_id=plant.equipment_ids[0],
            fields={"tag": "x", "name": "x"},
            now=now,
        )
    with pytest.raises((Forbidden, NotFound)):
        edit_thing(store, other, Noun.SITE, plant.site_ids[0], version=1, fields={"name": "x"}, now=now)
    with pytest.raises((Forbidden, NotFound)):
        retire_thing(store, other, Noun.SITE, plant.site_ids[0], version=1, now=now)
    assert counts(store) == before


@pytest.mark.parametrize("noun", [Noun.SITE, Noun.AREA, Noun.EQUIPMENT, Noun.VIEW, Noun.POINT])
def test_another_site_is_told_like_something_absent(store: Store, now: datetime, noun: Noun) -> None:
    plant = build_plant(store, sites=2)
    narrow = replace(keeper(plant), sites=frozenset({plant.site_ids[0]}), whole_clients=frozenset())
    table = noun.plural
    column = "id" if noun is Noun.SITE else "site_id"
    foreign = int(
        str(ask(store, f"SELECT max(id) FROM {table} WHERE {column} = :s", s=plant.site_ids[1])[0][0])
    )
    for refused in (
        lambda: see_thing(store, narrow, noun, foreign),
        lambda: edit_thing(store, narrow, noun, foreign, version=1, fields={"name": "x"}, now=now),
        lambda: retire_thing(store, narrow, noun, foreign, version=1, now=now),
        lambda: see_thing(store, narrow, noun, 10**9),
    ):
        with pytest.raises(NotFound) as absent:
            refused()
        assert absent.value.message == f"There is no such {noun}."


def test_a_grant_for_one_site_adds_no_site_and_edits_no_client(store: Store, now: datetime) -> None:
    plant = build_plant(store)
    narrow = replace(keeper(plant), whole_clients=frozenset())
    with pytest.raises(Forbidden):
        create_thing(
            store, narrow, Noun.SITE, parent_id=plant.client_id, fields={"code": "N", "name": "New"}, now=now
        )
    with pytest.raises(Forbidden):
        edit_thing(store, narrow, Noun.CLIENT, plant.client_id, version=1, fields={"name": "Mine"}, now=now)


def test_every_change_is_in_the_audit_trail_with_before_and_after(any_store: Store, now: datetime) -> None:
    plant = build_plant(any_store)
    maker = keeper(plant)
    point = add_point(any_store, plant, now)
    edit_thing(any_store, maker, Noun.POINT, point.id, version=1, fields={"emissivity": "0.9"}, now=now)
    retire_thing(any_store, maker, Noun.POINT, point.id, version=2, now=now)
    restore_thing(any_store, maker, Noun.POINT, point.id, version=3, now=now)
    told = ask(any_store, "SELECT verb, noun, noun_id, person_id, site_id FROM audit ORDER BY id")
    common = ("point", point.id, maker.person_id, plant.site_ids[0])
    assert told == [(verb, *common) for verb in ("create", "edit", "retire", "restore")]
    ((before, after),) = ask(any_store, "SELECT before, after FROM audit WHERE verb = 'edit'")
    assert "null" in str(before) or "None" in str(before)
    assert "0.9" in str(after)
