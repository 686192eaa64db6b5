"""A permit typed on the walk from the paper: kept, put on record where nobody had typed one, never against the engineer."""

from typing import Any

import pytest
from httpx import Response
from starlette.testclient import TestClient

from service.domain.words import Access
from service.storage import pictures
from service.storage.tables.register import EquipmentRow
from service.storage.unit import Store
from tests.doors import browser, session_of
from tests.field.builders import AT, MORNING, NOW, Device, hand_on, second_technician
from tests.readings.builders import Issued, issue
from tests.rounds.builders import change

TIMES = {"valid_from": "2026-03-16T08:00", "valid_to": "2026-03-16T16:00:00Z"}


class Paper:
    """A round whose only stop lies behind a cover, with a permit that is asked for and says nothing yet."""

    def __init__(self, device: Device, engineer: TestClient, permit: dict[str, Any], stop_id: int) -> None:
        self.device, self.engineer, self.stop_id, self.id = device, engineer, stop_id, permit["id"]

    def type(self, number: str = "P-88", *, uid: str = "paper-0001", **more: Any) -> Response:
        body = {"stop_id": self.stop_id, "number": number, "device_time": AT, "skew_s": 0.0}
        return self.device.put("typed-permits", body | TIMES | more, uid=uid)

    @property
    def now(self) -> dict[str, Any]:
        (permit,) = self.engineer.get(f"/api/v1/rounds/{self.device.issued.round_id}/permits").json()
        return dict(permit)

    def engineers(self, way: str = "", **fields: Any) -> Response:
        body = {"stop_ids": [self.stop_id]} | fields
        address, headers = f"/api/v1/permits/{self.id}", {"If-Match": f'"{self.now["version"]}"'}
        if way:
            return self.engineer.post(f"{address}/{way}", headers=headers)
        return self.engineer.put(address, json=body, headers=headers)

    def pack(self) -> dict[str, Any]:
        pack = self.engineer.get(f"/api/v1/rounds/{self.device.issued.round_id}/pack").json()
        return dict(pack["stops"][0])

    def listed(self) -> list[dict[str, Any]]:
        return list(self.engineer.get(f"/api/v1/rounds/{self.device.issued.round_id}/typed-permits").json())


@pytest.fixture
def issued(store: Store) -> Issued:
    made = issue(store, walked_at=MORNING, boards=1, views=1)
    change(store, EquipmentRow, made.plant.equipment_ids[0], access=Access.HINGED_COVER.value)
    return made


@pytest.fixture
def paper(store: Store, issued: Issued, device: Device, engineer: TestClient) -> Paper:
    with store.look() as unit:
        stop_id = pictures.places_of_round(unit, issued.round_id).stops[0].stop_id
    body = {"site_id": issued.plant.site_ids[0], "stop_ids": [stop_id]}
    answer = engineer.post(f"/api/v1/rounds/{issued.round_id}/permits", json=body)
    assert answer.status_code == 201, answer.text
    return Paper(device, engineer, answer.json(), stop_id)


def test_what_is_typed_opens_the_stop_and_is_shown_to_the_engineer_and_grants_nothing(paper: Paper) -> None:
    assert paper.pack()["not_open"] == "NOT OPEN: NO PERMIT NUMBER"
    first, again = paper.type(), paper.type()
    assert (first.status_code, again.status_code) == (201, 201), first.text
    assert first.json() == again.json()
    assert (first.json()["stands"], first.json()["by"]) == (True, "Test technician")
    permit = paper.now
    assert (permit["number"], permit["state"], permit["granted_at"]) == ("P-88", "asked", None)
    assert (permit["valid_from"], permit["valid_to"]) == ("2026-03-16T08:00:00Z", "2026-03-16T16:00:00Z")
    assert (paper.pack()["not_open"], paper.pack()["permit"]["id"]) == ("", paper.id)
    page = paper.engineer.get(f"/permits/{paper.id}").text
    assert "Typed on the walk</b> by Test technician" in page
    assert "until somebody who plans keeps or corrects it; it grants nothing" in page
    walked = paper.engineer.get(f"/rounds/{paper.device.issued.round_id}/walked").text
    assert f'<a href="/permits/{paper.id}">P-88</a>' in walked
    assert "It stands on the permit; keep or correct it there." in walked
    reading = paper.device.read(0, 40.0, at=AT, uid="reading-1")
    assert reading.status_code == 201
    (kept,) = paper.engineer.get(f"/api/v1/rounds/{paper.device.issued.round_id}/readings").json()
    assert kept["no_permit_recorded"] is False


def test_the_engineer_confirms_or_corrects_it_and_then_it_stands_over_what_is_typed_later(
    paper: Paper,
) -> None:
    paper.type()
    corrected = paper.engineers(
        number="P-89", issuer="J. Wren", valid_from="2026-03-16T07:00:00Z", valid_to="2026-03-16T15:00:00Z"
    )
    assert corrected.status_code == 200, corrected.text
    (seen_to,) = paper.listed()
    assert (seen_to["settled_by"], seen_to["settled_at"] is not None) == ("Test engineer", True)
    later = paper.type("P-90", uid="paper-0002")
    assert (later.status_code, later.json()["stands"]) == (201, False)
    assert (paper.now["number"], paper.now["valid_to"]) == ("P-89", "2026-03-16T15:00:00Z")
    page = paper.engineer.get(f"/permits/{paper.id}").text
    assert "number P-90" in page
    assert "It was not put on the permit, which said otherwise." in page


def test_until_then_what_is_typed_again_stands_in_the_place_of_the_first(paper: Paper) -> None:
    paper.type("P-8")
    assert paper.type("P-88", uid="paper-0002").json()["stands"] is True
    assert paper.now["number"] == "P-88"
    assert [one["number"] for one in paper.listed()] == ["P-88", "P-8"]


@pytest.mark.parametrize("number", ["P-77", "p-88"])
def test_a_number_that_the_engineer_has_typed_is_never_another_by_the_walk(paper: Paper, number: str) -> None:
    assert paper.engineers(number="P-88").status_code == 200
    same = number == "p-88"
    assert paper.type(number).json()["stands"] is same
    assert paper.now["number"].upper() == "P-88"
    assert (paper.now["valid_from"] is not None) is same


def test_a_second_walker_did_not_overrule_the_number_that_the_engineer_typed_and_the_first_confirmed(
    paper: Paper,
) -> None:
    assert paper.engineers(number="P-88").status_code == 200
    assert paper.type("P-88").json()["stands"] is True
    assert paper.type("P-99", uid="paper-0002").json()["stands"] is False
    later = {"valid_to": "2026-03-16T17:00:00Z"}
    assert paper.type("P-88", uid="paper-0003", **later).json()["stands"] is True
    assert (paper.now["number"], paper.now["valid_to"]) == ("P-88", later["valid_to"])


@pytest.mark.parametrize("name", ["valid_from", "valid_to"])
def test_times_that_the_engineer_typed_without_a_number_were_not_lost_to_others(
    paper: Paper, name: str
) -> None:
    engineers = {"valid_from": "2026-03-16T08:00:00Z", "valid_to": "2026-03-16T16:00:00Z"}
    assert paper.engineers(**engineers).status_code == 200
    assert paper.type(**{name: "2026-03-16T12:00:00Z"}).json()["stands"] is False
    assert (paper.now["number"], paper.now[name]) == ("", engineers[name])
    assert paper.type(uid="paper-0002").json()["stands"] is True
    assert paper.now["number"] == "P-88"


def test_a_closed_permit_stays_closed_and_a_granted_one_as_it_is(paper: Paper) -> None:
    full = {
        "number": "P-88",
        "issuer": "J. Wren",
        "valid_from": "2026-03-16T07:00:00Z",
        "valid_to": "2026-03-16T15:00:00Z",
    }
    assert paper.engineers(**full).status_code == 200
    for way, state in (("grant", "granted"), ("close", "closed")):
        assert paper.engineers(way).status_code == 200
        assert paper.type("P-90", uid=f"paper-{way}").json()["stands"] is False
        assert (paper.now["state"], paper.now["number"]) == (state, "P-88")
    assert paper.pack()["not_open"] == "NOT OPEN: PERMIT CLOSED"


@pytest.mark.parametrize(
    ("wrong", "field"),
    [
        ({"valid_from": "soon"}, "valid_from"),
        ({"valid_to": "2026-03-16"}, "valid_to"),
        ({"valid_to": "2026-03-16T07:59"}, "valid_to"),
        ({"stop_id": 987_654}, "stop_id"),
    ],
)
def test_what_is_no_permit_is_told_and_nothing_is_stored(
    paper: Paper, wrong: dict[str, Any], field: str
) -> None:
    answer = paper.type(**wrong)
    assert answer.status_code == 422
    assert [problem["field"] for problem in answer.json()["problems"]] == [field]
    assert (paper.listed(), paper.now["number"]) == ([], "")


def test_one_id_names_one_paper_and_a_stop_without_a_permit_has_none(store: Store, paper: Paper) -> None:
    paper.type()
    assert paper.type("P-99").status_code == 409
    uncovered = next(access for access in Access if not access.behind_cover)
    change(store, EquipmentRow, paper.device.issued.plant.equipment_ids[0], access=uncovered.value)
    bare = issue(store, plant=paper.device.issued.plant, walked_at=MORNING)
    with store.look() as unit:
        stop_id = pictures.places_of_round(unit, bare.round_id).stops[0].stop_id
    body = {"stop_id": stop_id, "number": "P-88", **TIMES}
    answer = paper.device.put("typed-permits", body, round_id=bare.round_id)
    assert (answer.status_code, "No permit was asked" in answer.text) == (409, True)


def test_who_walked_it_before_is_noted_and_changes_nothing(store: Store, paper: Paper) -> None:
    hand_on(store, paper.device.issued, None)
    assert paper.type().json()["stands"] is False
    assert paper.now["number"] == ""
    stranger = browser(
        paper.device.app, session_of(store, second_technician(store, paper.device.issued.plant), NOW)
    )
    path = f"/api/v1/rounds/{paper.device.issued.round_id}/typed-permits/paper-0009"
    body = {"stop_id": paper.stop_id, "number": "P-1", **TIMES}
    assert stranger.put(path, json=body, headers={"If-None-Match": "*"}).status_code == 404
