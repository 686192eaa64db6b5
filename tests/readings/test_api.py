"""The JSON door for readings: keys, content types, paging, corrections."""

import csv
import io
from collections.abc import Iterator
from datetime import date
from typing import Any

import pytest
import xlsxwriter
from starlette.testclient import TestClient

from service.domain.boxes import box_keys
from service.domain.round_columns import COLUMNS, SHEET_NAME
from service.domain.words import Role
from service.storage.unit import Store
from tests.conftest import NOW
from tests.doors import open_app, program_as
from tests.readings.builders import Issued, issue

XLSX = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"


@pytest.fixture
def issued(store: Store) -> Issued:
    return issue(store, boards=1, views=2, day=date(2026, 11, 24))


@pytest.fixture
def client(store: Store, issued: Issued) -> Iterator[TestClient]:
    app = open_app(store, lambda: NOW)
    with program_as(app, store, issued.plant, Role.TECHNICIAN, NOW) as made:
        yield made


def send(client: TestClient, issued: Issued, key: str, **more: Any) -> Any:
    body = {"json": {"rows": issued.all_records()}} | more
    headers = {"Idempotency-Key": key} | body.pop("headers", {})
    return client.post(f"/api/v1/rounds/{issued.round_id}/uploads", headers=headers, **body)


def as_cells(issued: Issued) -> list[list[object]]:
    header: list[object] = [column.header for column in COLUMNS]
    rows = [header]
    for record, row in zip(issued.all_records(), issued.rows, strict=True):
        typed = record | {"round_code": issued.code, "point_tag": row[1]}
        rows.append([typed.get(column.name, "") for column in COLUMNS])
    return rows


def as_csv(issued: Issued) -> bytes:
    text = io.StringIO()
    csv.writer(text, delimiter=";").writerows(as_cells(issued))
    return text.getvalue().encode("utf-8-sig")


def as_workbook(issued: Issued) -> bytes:
    content = io.BytesIO()
    with xlsxwriter.Workbook(content, {"in_memory": True}) as book:
        sheet = book.add_worksheet(SHEET_NAME)
        for place, row in enumerate(as_cells(issued)):
            sheet.write_row(place, 0, row)
    return content.getvalue()


def test_the_same_send_is_answered_byte_for_byte(client: TestClient, issued: Issued) -> None:
    first = send(client, issued, "k-1")
    assert first.status_code == 201
    assert first.json()["rows_new"] == 6
    again = send(client, issued, "k-1")
    assert (again.status_code, again.content) == (201, first.content)
    other = send(client, issued, "k-1", json={"rows": issued.all_records()[:1]})
    assert other.status_code == 422
    assert other.json()["type"] == "urn:riseline:problem:KeyReused"


@pytest.mark.parametrize(
    "key", [None, "", "two words", "é", "x" * 256], ids=["none", "empty", "space", "é", "long"]
)
def test_an_upload_without_a_key_is_refused(client: TestClient, issued: Issued, key: str | None) -> None:
    headers = {} if key is None else {"Idempotency-Key": key.encode()}
    answer = client.post(
        f"/api/v1/rounds/{issued.round_id}/uploads",
        json={"rows": issued.all_records()},
        headers=headers,  # type: ignore[arg-type]
    )
    assert answer.status_code in (400, 422)
    assert answer.headers["content-type"] == "application/problem+json"


@pytest.mark.parametrize("kind", ["text/csv", XLSX])
def test_a_filled_file_goes_the_same_way(client: TestClient, issued: Issued, kind: str) -> None:
    content = as_csv(issued) if kind == "text/csv" else as_workbook(issued)
    preview = client.post(
        f"/api/v1/rounds/{issued.round_id}/uploads/preview", content=content, headers={"Content-Type": kind}
    )
    assert preview.json()["storable"], preview.json()
    assert preview.json()["rows_new"] == 6
    answer = send(client, issued, "k", json=None, content=content, headers={"Content-Type": kind})
    assert answer.status_code == 201, answer.text
    assert answer.json()["levels"] == {"Nothing found": 6}
    stored = client.get(f"/api/v1/rounds/{issued.round_id}/readings").json()
    assert [r["temperature_c"] for r in stored] == [40.0] * 6


@pytest.mark.parametrize(
    ("kind", "content", "status"),
    [
        ("application/json", b"{", 422),
        ("application/json", b"\xff\xfe{}", 422),
        ("application/json", b'{"rows": [{"temperature_c": NaN}]}', 422),
        ("application/json", b"[" * 100_000, 422),
        ("application/json", b'{"rows": []}', 422),
        ("application/json", b'{"rows": [{}], "more": 1}', 422),
        ("application/json", b'{"rows": [1, null, "x"], "temperature_unit": 7}', 422),
        ("application/xml", b"<a/>", 415),
        (XLSX, b"PK\x03\x04 not a workbook", 422),
        ("text/csv", b"\x00\x01\x02", 422),
    ],
)
def test_a_body_that_is_none_is_told(
    client: TestClient, issued: Issued, kind: str, content: bytes, status: int
) -> None:
    answer = send(client, issued, "k", json=None, content=content, headers={"Content-Type": kind})
    assert answer.status_code == status, answer.text
    assert answer.headers["content-type"] == "application/problem+json"


def test_a_reading_is_put_under_the_clients_own_id(client: TestClient, issued: Issued) -> None:
    address = f"/api/v1/rounds/{issued.round_id}/readings/phone-7-0001"
    body = issued.record(0)
    assert client.put(address, json=body).status_code == 428
    first = client.put(address, json=body, headers={"If-None-Match": "*"})
    assert first.status_code == 201, first.text
    again = client.put(address, json=body, headers={"If-None-Match": "*"})
    assert again.content == first.content
    changed = client.put(address, json=body | {"temperature_c": 41.0}, headers={"If-None-Match": "*"})
    assert changed.status_code == 422
    assert len(client.get(f"/api/v1/rounds/{issued.round_id}/readings").json()) == 1


def test_readings_are_listed_by_cursor(client: TestClient, issued: Issued) -> None:
    send(client, issued, "k")
    address = f"/api/v1/rounds/{issued.round_id}/readings"
    first = client.get(address, params={"limit": 4}).json()
    rest = client.get(address, params={"limit": 4, "after": first[-1]["id"]}).json()
    assert (len(first), len(rest)) == (4, 2)
    assert client.get(address, params={"limit": 501}).status_code == 422
    of_point = client.get(f"/api/v1/points/{issued.rows[0][2]}/readings").json()
    assert [r["point_id"] for r in of_point] == [issued.rows[0][2]]
    assert client.get("/api/v1/points/987654/readings").status_code == 404


def test_a_correction_names_the_revision_it_was_made_on(client: TestClient, issued: Issued) -> None:
    send(client, issued, "k")
    (reading,) = client.get(f"/api/v1/points/{issued.rows[1][2]}/readings").json()
    address = f"/api/v1/readings/{reading['uid']}"
    tag = client.get(address).headers["etag"]
    body = {"changes": {"temperature_c": 47.5, "note": None}, "reason": "typed 40 for 47.5"}
    assert (
        client.post(f"{address}/corrections", json=body, headers={"Idempotency-Key": "c"}).status_code == 428
    )
    headers = {"Idempotency-Key": "c-1", "If-Match": tag}
    made = client.post(f"{address}/corrections", json=body, headers=headers)
    assert made.status_code == 201, made.text
    assert (made.json()["revision"], made.json()["temperature_c"], made.headers["etag"]) == (2, 47.5, '"2"')
    again = client.post(f"{address}/corrections", json=body, headers=headers)
    assert again.content == made.content
    stale = client.post(
        f"{address}/corrections", json=body | {"reason": "else"}, headers=headers | {"Idempotency-Key": "c-2"}
    )
    assert stale.status_code == 412
    assert not client.get(address).json()["current"], "the reading that was corrected stays to be seen"


def test_an_act_now_comes_back_with_the_finding_to_tell_about(client: TestClient, issued: Issued) -> None:
    records = issued.all_records()
    records[1]["temperature_c"] = 90.0
    answer = send(client, issued, "k", json={"rows": records}).json()
    assert [a["point_tag"] for a in answer["act_now"]] == [issued.rows[1][1]]
    kept = client.get(f"/api/v1/rounds/{issued.round_id}/uploads/{answer['upload_id']}").json()
    assert kept == answer


FOUND_HERE: dict[str, Any] = {
    "emissivity": 0.82,
    "emissivity_standing": "measured",
    "reflected_standing": "table",
    "through_window": True,
    "window_transmission": 0.71,
    "window_c": 29.5,
    "path_transmission": 0.996,
    "distance_m": 1.2,
    "humidity_percent": 45.0,
    "minutes_at_load": 90.0,
    "reflected_set_c": 21.0,
    "transmission_set": 0.9,
    "boxes": {"discoloured": True},
}


def test_what_was_found_on_the_visit_comes_back_as_sent_and_corrected(
    client: TestClient, issued: Issued
) -> None:
    answer = send(client, issued, "k", json={"rows": [issued.record(0, **FOUND_HERE)]})
    assert answer.status_code == 201, answer.text
    (stored,) = client.get(f"/api/v1/rounds/{issued.round_id}/readings").json()
    assert {name: stored[name] for name in FOUND_HERE} == FOUND_HERE
    corrected = client.post(
        f"/api/v1/readings/{stored['uid']}/corrections",
        json={"changes": {"boxes": {"discoloured": False}, "window_c": None}, "reason": "looked again"},
        headers={"Idempotency-Key": "c", "If-Match": '"1"'},
    )
    assert corrected.status_code == 201, corrected.text
    expected = FOUND_HERE | {"boxes": {"discoloured": False}, "window_c": None}
    assert {name: corrected.json()[name] for name in expected} == expected
    one = client.put(
        f"/api/v1/rounds/{issued.round_id}/readings/own-id-0001",
        json=issued.record(1, **FOUND_HERE),
        headers={"If-None-Match": "*"},
    )
    assert one.status_code == 201, one.text
    kept = client.get("/api/v1/readings/own-id-0001").json()
    assert {name: kept[name] for name in FOUND_HERE} == FOUND_HERE


def test_the_document_names_unit_and_range_of_what_is_found(client: TestClient) -> None:
    document = client.get("/api/v1/openapi.json").json()
    rows = document["paths"]["/api/v1/rounds/{round_id}/uploads"]["post"]["requestBody"]["content"][
        "application/json"
    ]["schema"]["properties"]["rows"]["items"]["properties"]
    assert set(FOUND_HERE) <= set(rows)
    assert "[-60 to 200 °C]" in rows["window_c"]["description"]
    for name in ("emissivity", "window_transmission", "path_transmission"):
        assert (rows[name]["anyOf"][0]["minimum"], rows[name]["anyOf"][0]["maximum"]) == (0.01, 1)
    boxes = rows["boxes"]["properties"]
    assert set(boxes) == set(box_keys())
    assert (boxes["speed_rpm"]["minimum"], boxes["speed_rpm"]["maximum"]) == (0, 100_000)
    assert "[1/min]" in boxes["speed_rpm"]["description"]
    assert boxes["speed_rpm"]["x-kinds"] == ["bearing"]
    corrections = document["components"]["schemas"]["CorrectableBody"]["properties"]
    assert set(FOUND_HERE) <= set(corrections)
    assert set(FOUND_HERE) <= set(document["components"]["schemas"]["ReadingReply"]["properties"])
