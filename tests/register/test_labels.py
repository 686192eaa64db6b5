"""Labels: a code for ever, sheets that can be printed again, and what scanning one opens."""

import re
from datetime import datetime, timedelta

import pytest
from fastapi import FastAPI
from starlette.testclient import TestClient

from service.charts.label_sheet import Label, label_sheet, wrapped
from service.domain.label_sheets import LabelGrid
from service.domain.sheet_codes import LABEL_BODY, read_code
from service.domain.words import Role
from service.errors import Forbidden, Invalid, NotFound
from service.storage.tables.register import EquipmentRow
from service.storage.tables.rounds import RoundRow
from service.storage.unit import Store
from service.usecases.labels.find import find_label
from service.usecases.labels.make import Wanted, make_labels
from tests.builders import Plant, build_plant
from tests.doors import browser_as, open_app, program_as
from tests.rounds.builders import DAY, NOW, change, issued


@pytest.fixture
def plant(any_store: Store) -> Plant:
    return build_plant(any_store, sites=2, boards=2)


def test_a_code_is_given_once_and_kept_whatever_becomes_of_the_tag(any_store: Store, plant: Plant) -> None:
    wanted = Wanted(site_id=plant.site_ids[0])
    first = make_labels(any_store, plant.actor(), wanted, now=NOW)
    assert len({one.code for one in first}) == 2
    assert all(read_code(one.code, LABEL_BODY) == one.code for one in first)
    change(any_store, EquipmentRow, first[0].equipment_id, tag="RENAMED-1")
    again = make_labels(any_store, plant.actor(), Wanted(equipment_ids=(first[0].equipment_id,)), now=NOW)
    assert [(one.tag, one.code) for one in again] == [("RENAMED-1", first[0].code)]


def test_retired_equipment_gets_no_label_and_nothing_chosen_is_told(any_store: Store, plant: Plant) -> None:
    change(any_store, EquipmentRow, plant.equipment_ids[0], retired_at=NOW)
    made = make_labels(any_store, plant.actor(), Wanted(site_id=plant.site_ids[0]), now=NOW)
    assert [one.equipment_id for one in made] == [plant.equipment_ids[1]]
    for wanted in (Wanted(), Wanted(equipment_ids=(plant.equipment_ids[0],))):
        with pytest.raises(Invalid):
            make_labels(any_store, plant.actor(), wanted, now=NOW)
    with pytest.raises(Forbidden):
        make_labels(any_store, plant.actor(Role.TECHNICIAN), Wanted(site_id=plant.site_ids[0]), now=NOW)
    with pytest.raises(NotFound):
        make_labels(any_store, plant.actor(), Wanted(site_id=plant.site_ids[0] + 99), now=NOW)


@pytest.mark.parametrize(
    ("days", "state", "under_way"),
    [
        (0, "issued", True),
        (3, "returned", True),
        (-3, "issued", True),
        (4, "issued", False),
        (0, "signed off", False),
    ],
)
def test_a_label_opens_the_stop_of_the_round_that_its_reader_walks_about_today(
    any_store: Store, *, days: int, state: str, under_way: bool
) -> None:
    walk = issued(any_store)
    change(any_store, RoundRow, walk.round.id, state=state)
    (label,) = make_labels(
        any_store, walk.engineer, Wanted(equipment_ids=tuple(walk.plant.equipment_ids)), now=NOW
    )
    now = datetime.combine(DAY, NOW.timetz()) + timedelta(days=days)
    found = find_label(any_store, walk.technician(), label.code.lower(), now=now)
    assert (found.under_way is not None) is under_way
    assert found.equipment.equipment_id == walk.plant.equipment_ids[0]
    assert find_label(any_store, walk.engineer, label.code, now=now).under_way is None
    stranger = walk.plant.actor(Role.TECHNICIAN, person_id=4711)
    with pytest.raises(NotFound):
        find_label(any_store, stranger, label.code, now=now)


@pytest.fixture
def now() -> datetime:
    """The day on which the round is walked."""
    return datetime.combine(DAY, NOW.timetz())


@pytest.fixture
def app(store: Store, now: datetime) -> FastAPI:
    return open_app(store, lambda: now)


def codes_on(page: TestClient, address: str) -> list[str]:
    return re.findall(r'data-code="([^"]+)"', page.get(address).text)


def test_the_pages_make_print_and_open_labels(store: Store, app: FastAPI, now: datetime) -> None:
    walk = issued(store, boards=3)
    site = walk.plant.site_ids[0]
    engineer = browser_as(app, store, walk.plant, Role.ENGINEER, now)
    assert codes_on(engineer, f"/labels/sheets?site={site}") == []
    form = {"site": str(site), "equipment": str(walk.plant.equipment_ids[1]), "grid": "2x5", "start": "3"}
    made = engineer.post("/labels", data=form)
    assert made.status_code == 303
    (code,) = codes_on(engineer, made.headers["location"])
    engineer.post("/labels", data={"site": str(site)})
    assert len(codes_on(engineer, f"/labels/sheets?site={site}")) == 3
    assert code in codes_on(engineer, f"/labels/sheets?site={site}")
    wrong = engineer.post("/labels", data={"site": str(site), "side_mm": "99", "start": "x"})
    assert wrong.status_code == 422
    assert "#field-side-mm" in wrong.text
    assert "#field-start" in wrong.text
    to = engineer.get(f"/at/{code.replace('-', '')}")
    assert to.headers["location"] == f"/equipment/{walk.plant.equipment_ids[1]}"
    technician = browser_as(app, store, walk.plant, Role.TECHNICIAN, now)
    opened = technician.get(f"/at/{code}").headers["location"]
    assert re.fullmatch(rf"/field/#/rounds/{walk.round.id}/stops/\d+", opened)
    unknown = technician.get("/at/2222-2222")
    assert unknown.status_code == 404
    assert "type the code beneath its name" in unknown.text
    stranger = browser_as(app, store, walk.plant, Role.TECHNICIAN, now)
    stranger.cookies.clear()
    assert stranger.get(f"/at/{code}").headers["location"].startswith("/sign-in?next=%2Fat%2F")


def test_the_api_gives_codes_and_says_what_one_leads_to(store: Store, app: FastAPI, now: datetime) -> None:
    walk = issued(store)
    engineer, technician = (
        program_as(app, store, walk.plant, role, now) for role in (Role.ENGINEER, Role.TECHNICIAN)
    )
    sent = engineer.post("/api/v1/labels", json={"equipment_ids": walk.plant.equipment_ids})
    assert sent.status_code == 200, sent.text
    (label,) = sent.json()
    found = technician.get(f"/api/v1/labels/{label['code']}").json()
    assert found["round_id"] == walk.round.id
    assert {name: found[name] for name in label} == label
    assert technician.get("/api/v1/labels/none").status_code == 404


def test_what_stands_on_a_label_is_escaped_and_never_wider_than_it() -> None:
    label = Label(
        "<b>T&1", "A name that is far too long for one line of a small label", "Site, area", "C", "x"
    )
    drawn = str(label_sheet([(0, label)], LabelGrid()))
    assert "&lt;b&gt;T&amp;1" in drawn
    assert "<b>" not in drawn
    assert wrapped("one two three four", 12.0, 2.0, most=2) == ["one two", "three four"]
    assert wrapped("one two three four five", 12.0, 2.0, most=2) == ["one two", "three fou…"]
