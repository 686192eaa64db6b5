"""Equipment and its forms in the browser: told in words, nothing typed is lost."""

import re
from collections.abc import Callable
from datetime import datetime

import pytest
from starlette.testclient import TestClient

from service.domain.register import Noun
from service.domain.register_tree import ClientLine, Mark, SiteLine
from service.domain.words import Role
from service.pages.register_view import mark_title, register_title
from service.storage.unit import Store
from service.usecases.register.edit import edit_thing
from tests.builders import Plant, build_plant
from tests.doors import browser_as, open_app
from tests.register.builders import csv_of, flat_row, flat_rows, keeper
from tests.register.counting import ask, counts

Clock = Callable[[], datetime]


@pytest.fixture
def plant(store: Store) -> Plant:
    return build_plant(store)


@pytest.fixture
def engineer(store: Store, plant: Plant, clock: Clock, now: datetime) -> TestClient:
    return browser_as(open_app(store, clock), store, plant, Role.ENGINEER, now)


def title_of(page: str) -> str:
    found = re.search(r"<h1>(.*?)</h1>", page, re.S)
    assert found
    return found.group(1).replace("\u00a0", " ")


POINT = {
    "tag": "F99-L1",
    "name": "Line terminal L1",
    "kind": "joint",
    "medium": "air",
    "reference_kind": "over like parts",
}


def plain(text: str) -> str:
    return text.replace("\u00a0", " ")


@pytest.mark.parametrize(
    ("mark", "words"),
    [
        (Mark(), "MCC 1 has no points yet"),
        (Mark(no_verdict=1), "MCC 1: no verdict yet on 1 point"),
        (Mark((5, 0, 0, 0, 0)), "MCC 1: nothing found on five of 5 points"),
        (Mark((5, 0, 0, 0, 0), 1), "MCC 1: nothing found on five of 6 points; no verdict on one"),
        (Mark((5, 1, 0, 0, 0)), "MCC 1: one of 6 points stands at Look again"),
        (Mark((5, 1, 0, 0, 2)), "MCC 1: two of 8 points stand at Act now"),
        (Mark((0, 0, 2, 0, 0), 0, True), "MCC 1: two of 2 points stand at at least Plan repair"),
    ],
)
def test_a_title_says_the_news(mark: Mark, words: str) -> None:
    assert plain(mark_title("MCC 1", mark)) == words.replace("stand at at least", "stand at at least")


def test_the_register_has_its_news_too() -> None:
    def client(*marks: Mark) -> ClientLine:
        return ClientLine(
            1, "MW", "Merrowdale Water", tuple(SiteLine(n, 1, f"S{n}", "x", m) for n, m in enumerate(marks))
        )

    assert register_title([]) == "No sites in the register yet"
    assert plain(register_title([client(Mark())])) == "No points yet on 1 site"
    assert plain(register_title([client(Mark((4, 0, 0, 1, 0)), Mark((1, 0, 0, 1, 0)))])) == (
        "Two of 7 points on 2 sites stand at Repair soon"
    )


def test_the_place_opens_on_the_only_site_down_to_its_points(engineer: TestClient, plant: Plant) -> None:
    page = engineer.get("/equipment").text
    assert title_of(page) == "Site 1: no verdict yet on 6 points"
    assert page.count('href="/points/') == 6
    assert f'href="/equipment/{plant.equipment_ids[0]}"' in page


def test_a_tag_is_found_from_the_place(engineer: TestClient, plant: Plant) -> None:
    page = engineer.get("/equipment", params={"q": "f01-l2"}).text
    assert title_of(page) == "One entry holds “f01-l2”"
    assert f'href="/points/{plant.point_ids[1]}"' in page
    assert title_of(engineer.get("/equipment", params={"q": "zzz"}).text) == "No tag or name holds “zzz”"


def test_equipment_tells_what_the_site_typed_and_never_more(
    engineer: TestClient, store: Store, plant: Plant, now: datetime
) -> None:
    address = f"/equipment/{plant.equipment_ids[0]}"
    assert engineer.get(address).text.count("not given: ask the permit issuer") == 2
    edit_thing(
        store, keeper(plant), Noun.EQUIPMENT, plant.equipment_ids[0], version=1, now=now,
        fields={"stand_off": "1.0 m <b>from</b> the door", "access": "bolted cover"},
    )  # fmt: skip
    page = engineer.get(address).text
    assert "1.0 m &lt;b&gt;from&lt;/b&gt; the door" in page
    assert page.count("not given: ask the permit issuer") == 1
    assert "Only the qualified person opens the cover." in page


def test_a_point_is_added_through_its_form(engineer: TestClient, store: Store, plant: Plant) -> None:
    address = f"/register/point/new?in={plant.view_ids[0]}"
    assert engineer.get(address).status_code == 200
    done = engineer.post(address, data=POINT)
    assert (done.status_code, done.headers["location"]) == (303, f"/equipment/{plant.equipment_ids[0]}")
    assert ask(store, "SELECT name FROM points WHERE tag = 'F99-L1'") == [("Line terminal L1",)]
    assert ask(store, "SELECT count(*) FROM view_members WHERE point_id = 7") == [(0,)]


def test_wrong_boxes_are_listed_with_links_and_what_was_typed_is_kept(
    engineer: TestClient, store: Store, plant: Plant
) -> None:
    before = counts(store)
    page = engineer.post(
        f"/register/point/new?in={plant.view_ids[0]}",
        data=POINT | {"name": "", "emissivity": "9", "part": "x", "phase": "L1"},
    )
    assert page.status_code == 422
    assert 'href="#field-name"' in page.text
    assert 'href="#field-emissivity"' in page.text
    assert 'value="9"' in page.text
    assert 'value="L1"' in page.text
    assert counts(store) == before


def test_both_versions_are_shown_when_somebody_was_faster(
    engineer: TestClient, store: Store, plant: Plant, now: datetime
) -> None:
    point = plant.point_ids[0]
    typed = POINT | {
        "tag": "S1-MCC1-F01-L1",
        "name": "Mine",
        "version": "1",
        "phase": "L1",
        "like_part": "yes",
        "common_load_a": "100",
    }
    edit_thing(store, keeper(plant), Noun.POINT, point, version=1, fields={"name": "Theirs"}, now=now)
    page = engineer.post(f"/register/point/{point}/edit", data=typed)
    assert page.status_code == 422
    assert "Found: Theirs." in page.text
    assert 'value="Mine"' in page.text
    assert ask(store, "SELECT name FROM points WHERE id = 1") == [("Theirs",)]
    again = engineer.post(f"/register/point/{point}/edit", data=typed | {"version": "2"})
    assert again.status_code == 303
    assert ask(store, "SELECT name FROM points WHERE id = 1") == [("Mine",)]


def test_retiring_says_first_what_goes_along(engineer: TestClient, store: Store, plant: Plant) -> None:
    board = plant.equipment_ids[0]
    page = engineer.get(f"/register/equipment/{board}/retire").text
    assert "2 views and 6 points go out of use" in page
    done = engineer.post(f"/register/equipment/{board}/retire", data={"version": "1"})
    assert done.headers["location"] == f"/equipment?site={plant.site_ids[0]}"
    listed = engineer.get(f"/register/retired?site={plant.site_ids[0]}").text
    assert title_of(listed) == "9 retired entries at Site 1"
    assert engineer.post(f"/register/equipment/{board}/restore", data={"version": "2"}).status_code == 303
    assert ask(store, "SELECT count(*) FROM points WHERE retired_at IS NULL") == [(6,)]


def test_a_file_is_tried_out_then_stored_without_being_sent_again(engineer: TestClient, store: Store) -> None:
    before = counts(store)
    page = engineer.post("/register/import", files={"file": ("register.csv", csv_of(flat_rows(3)))}).text
    assert title_of(page) == "This file adds 7 entries, 3 of them points"
    assert counts(store) == before
    uid = re.search(r'name="uid" value="([^"]+)"', page)
    assert uid
    done = engineer.post("/register/import/commit", data={"uid": uid.group(1), "decimal": ""})
    assert (done.status_code, done.headers["location"]) == (303, "/equipment")
    assert counts(store)["points"] == before["points"] + 3
    same = engineer.post("/register/import", files={"file": ("register.csv", csv_of(flat_rows(3)))}).text
    assert title_of(same) == "This file changes nothing: the register says the same already"


def test_every_problem_of_a_file_stands_in_a_table(engineer: TestClient, store: Store) -> None:
    before = counts(store)
    rows = [flat_row(1), flat_row(2, Kind="joynt"), flat_row(3, Emissivity="95 %"), flat_row(4, Kind="bolt")]
    reply = engineer.post("/register/import", files={"file": ("register.csv", csv_of(rows))})
    assert reply.status_code == 422
    assert title_of(reply.text) == "3 problems stand against this file; nothing was stored"
    for words in ("Row 3", "Row 4", "Row 5", "joynt", "95 %", "bolt"):
        assert words in reply.text
    assert 'name="uid"' not in reply.text
    assert counts(store) == before


def test_a_staged_file_belongs_to_its_sender(
    store: Store, plant: Plant, clock: Clock, now: datetime, engineer: TestClient
) -> None:
    page = engineer.post("/register/import", files={"file": ("r.csv", csv_of(flat_rows(3)))}).text
    uid = re.search(r'name="uid" value="([^"]+)"', page)
    assert uid
    other = browser_as(open_app(store, clock), store, plant, Role.MANAGER, now)
    assert other.post("/register/import/commit", data={"uid": uid.group(1)}).status_code == 403
    assert engineer.post("/register/import/commit", data={"uid": "guessed"}).status_code == 404


def test_no_file_is_told_at_its_box(engineer: TestClient) -> None:
    page = engineer.post("/register/import", data={"decimal": ""})
    assert page.status_code == 422
    assert 'href="#field-file"' in page.text


def test_instruments_are_kept_under_set_up(engineer: TestClient, store: Store, plant: Plant) -> None:
    assert (
        title_of(engineer.get("/set-up/instruments").text) == "One instrument: one with no calibration date"
    )
    typed = {
        "serial": "IR-1",
        "name": "Camera 1",
        "kind": "camera",
        "version": "1",
        "calibration_due": "2026-01-31",
        "clock_offset_s": "0",
    }
    assert engineer.post(f"/register/instrument/{plant.instrument_id}/edit", data=typed).status_code == 303
    page = engineer.get("/set-up/instruments").text
    assert title_of(page) == "One instrument: one past its calibration"
    assert "past due" in page


@pytest.mark.parametrize(
    "address",
    [
        "/register/site/new?in=1",
        "/register/point/1/edit",
        "/register/point/1/retire",
        "/register/import",
        "/set-up/instruments",
        "/register/retired",
    ],
)
def test_others_find_no_form(store: Store, plant: Plant, clock: Clock, now: datetime, address: str) -> None:
    manager = browser_as(open_app(store, clock), store, plant, Role.MANAGER, now)
    assert manager.get(address).status_code == 403
    page = manager.get("/equipment").text
    assert "/register/" not in page
