"""The pages of findings: times on the site's clock, and an Act now whose reading was corrected."""

import re
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from typing import Any
from urllib.parse import unquote

import pytest
from starlette.testclient import TestClient

from service.domain.words import FindingState, Role
from service.storage.tables.findings import RepairRow, TellingRow
from service.storage.tables.register import SiteRow
from service.storage.unit import Store
from service.usecases.condition.presets import ensure_presets
from tests.builders import Plant, build_plant
from tests.doors import browser_as, open_app, program_as
from tests.findings import test_corrected as slip
from tests.pages.standing_builders import open_finding, set_state

NOW = datetime(2026, 11, 25, 9, 0, tzinfo=UTC)


@pytest.fixture
def plant(store: Store) -> Plant:
    ensure_presets(store, now=NOW - timedelta(days=400))
    return build_plant(store)


@pytest.fixture
def engineer(store: Store, plant: Plant) -> TestClient:
    return browser_as(open_app(store, lambda: NOW), store, plant, Role.ENGINEER, NOW)


def live_at(store: Store, plant: Plant, zone: str) -> int:
    with store.begin() as unit:
        site = unit.session.get(SiteRow, plant.site_ids[0])
        assert site is not None
        site.time_zone = zone
    finding_id = open_finding(store, plant, plant.point_ids[0])
    set_state(store, plant.point_ids[0], level=4)
    return finding_id


def say(answer: Any) -> str:
    """The sentence for the next page."""
    return unquote(str(answer.headers["set-cookie"]))


def repaired_at(store: Store) -> list[datetime]:
    with store.look() as unit:
        return [row.repaired_at for row in unit.session.query(RepairRow)]


def told_at(store: Store) -> list[datetime]:
    with store.look() as unit:
        return [row.told_at for row in unit.session.query(TellingRow)]


Timed = Callable[[Store], list[datetime]]
BOXES = [
    ("repair", "repaired_at", {"as_left": "remade", "version": "1"}, repaired_at),
    ("told", "told_at", {"told_whom": "Shift lead"}, told_at),
]


@pytest.mark.parametrize(("move", "box", "rest", "kept"), BOXES)
def test_times_were_typed_in_utc_while_pages_show_the_site_s_clock(
    store: Store, plant: Plant, engineer: TestClient, move: str, box: str, rest: dict[str, str], kept: Timed
) -> None:
    finding = live_at(store, plant, "America/New_York")
    page = engineer.get(f"/findings/{finding}").text
    assert "(America/New_York)" in page
    assert "(UTC)" not in page
    answer = engineer.post(f"/findings/{finding}/{move}", data=rest | {box: "2026-11-20T14:30"})
    assert answer.status_code == 303
    assert kept(store) == [datetime(2026, 11, 20, 19, 30, tzinfo=UTC)]
    assert "20 Nov 2026, 14:30" in engineer.get(f"/findings/{finding}").text


@pytest.mark.parametrize(("move", "box", "rest", "kept"), BOXES)
def test_a_time_that_the_clock_skipped_is_refused_with_the_one_to_type(
    store: Store, plant: Plant, engineer: TestClient, move: str, box: str, rest: dict[str, str], kept: Timed
) -> None:
    finding = live_at(store, plant, "Europe/London")
    answer = engineer.post(f"/findings/{finding}/{move}", data=rest | {box: "2026-03-29T01:30"})
    assert answer.status_code == 422
    assert "skipped this time" in answer.text
    assert "Type 02:30" in answer.text
    assert 'value="2026-03-29T01:30"' in answer.text, "nothing typed is lost"
    assert kept(store) == []


@pytest.mark.parametrize(("move", "box", "rest", "kept"), BOXES)
def test_of_a_time_that_came_twice_the_earlier_is_kept_and_said(
    store: Store, plant: Plant, engineer: TestClient, move: str, box: str, rest: dict[str, str], kept: Timed
) -> None:
    finding = live_at(store, plant, "Europe/London")
    answer = engineer.post(f"/findings/{finding}/{move}", data=rest | {box: "2026-10-25T01:30"})
    assert answer.status_code == 303
    assert kept(store) == [datetime(2026, 10, 25, 0, 30, tzinfo=UTC)]
    assert "01:30 came twice that night: the earlier is kept." in say(answer)


def test_just_now_is_still_just_now_and_a_time_to_come_is_still_refused(
    store: Store, plant: Plant, engineer: TestClient
) -> None:
    finding = live_at(store, plant, "Australia/Brisbane")
    told = {"told_whom": "Shift lead"}
    # ten to seven in the evening there is ten to nine here: nine o'clock has not come yet
    assert (
        engineer.post(f"/findings/{finding}/told", data=told | {"told_at": "2026-11-25T19:10"}).status_code
        == 422
    )
    assert (
        engineer.post(f"/findings/{finding}/told", data=told | {"told_at": "2026-11-25T18:50"}).status_code
        == 303
    )
    assert engineer.post(f"/findings/{finding}/told", data=told).status_code == 303
    assert told_at(store) == [NOW - timedelta(minutes=10), NOW]


@pytest.mark.parametrize("typed", ["0001-01-01T00:00", "9999-12-31T23:59", "soon", "2026-13-01T00:00"])
def test_a_time_that_is_none_is_refused_at_its_box(
    store: Store, plant: Plant, engineer: TestClient, typed: str
) -> None:
    finding = live_at(store, plant, "Asia/Tokyo")
    answer = engineer.post(f"/findings/{finding}/told", data={"told_whom": "A", "told_at": typed})
    assert answer.status_code == 422
    assert 'href="#field-told-at"' in answer.text


def test_the_api_takes_instants_with_their_offset(store: Store, plant: Plant) -> None:
    finding = live_at(store, plant, "America/New_York")
    client = program_as(open_app(store, lambda: NOW), store, plant, Role.ENGINEER, NOW)
    body = {"told_whom": "Shift lead", "told_at": "2026-11-20T14:30:00+01:00"}
    assert client.post(f"/api/v1/findings/{finding}/tellings", json=body).status_code == 201
    assert told_at(store) == [datetime(2026, 11, 20, 13, 30, tzinfo=UTC)]
    bare = body | {"told_at": "2026-11-20T14:30:00"}
    assert client.post(f"/api/v1/findings/{finding}/tellings", json=bare).status_code == 422


# ---- an Act now whose reading was corrected ---------------------------------------------------


def test_the_engineer_closes_a_slip_on_its_page(store: Store, plant: Plant, engineer: TestClient) -> None:
    made = slip.walk(store, plant, first_c=401.0)
    finding = slip.act_now(store, made).finding
    assert "Act now: stop and tell" in engineer.get(f"/findings/{finding.id}").text
    slip.correct(store, made, temperature_c=40.1)
    page = engineer.get(f"/findings/{finding.id}").text
    assert "Act now: stop and tell" not in page
    assert "Its reading was corrected" in page
    desk = engineer.get("/desk").text
    assert "The reading behind it was corrected: a digit too many (401.0 °C, now 40.1 °C)." in desk
    version = re.search(r'close-corrected".*?name="version" value="(\d+)"', page, re.DOTALL)
    assert version is not None
    answer = engineer.post(f"/findings/{finding.id}/close-corrected", data={"version": version[1]})
    assert answer.status_code == 303
    assert slip.act_now(store, made).finding.state is FindingState.SET_ASIDE
    assert "was corrected" not in engineer.get("/desk").text


def test_a_program_closes_it_too_and_a_manager_does_not(store: Store, plant: Plant) -> None:
    made = slip.walk(store, plant, first_c=401.0)
    slip.correct(store, made, temperature_c=40.1)
    finding = slip.act_now(store, made).finding
    app, address = open_app(store, lambda: NOW), f"/api/v1/findings/{finding.id}/close-corrected"
    answers = [
        program_as(app, store, plant, role, NOW).post(
            address, headers={"If-Match": f'"{finding.version}"'}, json={"note": "slip"}
        )
        for role in (Role.MANAGER, Role.ENGINEER)
    ]
    assert [answer.status_code for answer in answers] == [403, 200]
    answer = answers[1]
    assert (answer.json()["state"], answer.json()["outcome"]) == ("set aside", "reading corrected")


# ---- a point that was set aside ---------------------------------------------------------------


def test_standing_says_why_a_point_that_was_set_aside_is_back(
    store: Store, plant: Plant, engineer: TestClient
) -> None:
    finding = open_finding(
        store,
        plant,
        plant.point_ids[0],
        level=1,
        state="set aside",
        review_on=NOW.date() + timedelta(days=90),
    )
    set_state(store, plant.point_ids[0], level=1, finding_id=None, last_read_at=NOW)
    assert "The one point above Nothing found is decided on." in engineer.get("/").text
    set_state(store, plant.point_ids[0], level=2, finding_id=None)
    assert "Set aside at Look again; it has risen since." in engineer.get("/").text
    desk = engineer.get("/desk").text
    assert f'href="/findings/{finding}"' in desk
    assert "It was set aside at Look again and has risen since." in desk
