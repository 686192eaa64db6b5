"""Bringing readings in by page: file, preview, stop by stop, Act now, two readings."""

import re
from datetime import date

import pytest
from starlette.testclient import TestClient

from service.storage.unit import Store
from tests.readings.builders import Issued, issue
from tests.readings.test_api import as_csv


@pytest.fixture
def issued(store: Store) -> Issued:
    return issue(store, boards=1, views=1, day=date(2026, 11, 24))


def choose(client: TestClient, issued: Issued, content: bytes) -> str:
    """Send a file as the page does; the address of its preview."""
    answer = client.post(
        f"/rounds/{issued.round_id}/return",
        files={"file": ("south.csv", content, "text/csv")},
        data={"decimal": "", "degrees": "C"},
    )
    assert answer.status_code == 303, answer.text
    return str(answer.headers["location"])


def test_a_file_is_looked_at_then_stored(technician: TestClient, issued: Issued) -> None:
    page = technician.get(f"/rounds/{issued.round_id}/return").text
    assert "0 of" in page
    address = choose(technician, issued, as_csv(issued))
    preview = technician.get(address).text
    assert "would be stored" in preview
    assert "Store all of it" in preview
    stored = technician.post(address.partition("?")[0], data={"decimal": "", "degrees": "C"})
    done = technician.get(stored.headers["location"]).text
    assert "stored" in done
    assert "Nothing found" in done
    again = technician.get(address).text
    assert "This file is stored already" in again


def test_five_mistakes_are_named_at_once_and_nothing_is_stored(
    technician: TestClient, issued: Issued
) -> None:
    lines = as_csv(issued).decode("utf-8-sig").splitlines()
    lines[1] = lines[1].replace(";40.0;", ";forty;")
    lines[2] = lines[2].replace(issued.rows[1][0], "r0000")
    lines[3] = lines[3].replace(issued.code, "MW-000000-1").replace(";90.0;", ";-90;")
    lines.append(lines[1].replace(";forty;", ";;").replace(";90.0;", ";;"))
    lines.append(f"{issued.code};;;;;;;;;;2026-11-24 09:00;44")
    preview = technician.get(choose(technician, issued, "\n".join(lines).encode())).text
    for row in (2, 3, 4, 6):
        assert f"Row {row}</th>" in preview
    assert "Store all of it" not in preview
    assert technician.get(f"/rounds/{issued.round_id}/return").text.count("0 of 3") == 2


def test_a_file_that_is_none_is_told_beside_its_box(technician: TestClient, issued: Issued) -> None:
    for content in (b"", b"PK\x03\x04broken", b"a;b\n1;2\n"):
        answer = technician.post(
            f"/rounds/{issued.round_id}/return", files={"file": ("x.csv", content, "text/csv")}
        )
        assert answer.status_code == 422
        assert "Nothing was stored" in answer.text


def stop_address(client: TestClient, issued: Issued) -> str:
    page = client.get(f"/rounds/{issued.round_id}/return").text
    found = re.search(rf"/rounds/{issued.round_id}/return/stops/\d+", page)
    assert found is not None
    return found.group(0)


def boxes(issued: Issued, *temperatures: str, **more: str) -> dict[str, str]:
    typed = {f"temperature_c-{row[0]}": t for row, t in zip(issued.rows, temperatures, strict=False)}
    typed |= {f"current_a-{row[0]}": "90" for row in issued.rows[: len(temperatures)]}
    return typed | {f"ambient_c-v{issued.rows[0][3]}": "25,5", "taken_at": "2026-11-24 09:10"} | more


def test_a_stop_is_typed_without_script(technician: TestClient, issued: Issued) -> None:
    address = stop_address(technician, issued)
    assert "Seen, heard or smelt" in technician.get(address).text
    answer = technician.post(address, data=boxes(issued, "40,5", "40,2", "40,1"))
    assert answer.status_code == 303, answer.text
    filled = technician.get(address).text
    assert 'value="40.5"' in filled
    assert "Why it is changed" in filled
    untouched = dict(re.findall(r'name="([^"]+-(?:r|v)[0-9a-f]+)" value="([^"]*)"', filled))
    again = technician.post(address, data=untouched)
    assert "Nothing%20new" in again.headers["set-cookie"]


def test_what_was_typed_stays_when_it_has_problems(technician: TestClient, issued: Issued) -> None:
    answer = technician.post(stop_address(technician, issued), data=boxes(issued, "40", "hot", "40"))
    assert answer.status_code == 422
    assert f'href="#field-temperature-c-{issued.rows[1][0]}"' in answer.text
    assert 'value="hot"' in answer.text
    assert 'value="25,5"' in answer.text


def test_what_looks_odd_is_asked_once_and_never_refused(technician: TestClient, issued: Issued) -> None:
    address = stop_address(technician, issued)
    typed = boxes(issued, "40", "41", "40") | {f"current_a-{issued.rows[2][0]}": "60"}
    asked = technician.post(address, data=typed)
    assert asked.status_code == 200
    assert "I have looked" in asked.text
    kept = technician.post(address, data=typed | {"looked": "yes"})
    assert kept.status_code == 303


def test_an_act_now_asks_at_once_whom_was_told(technician: TestClient, issued: Issued) -> None:
    answer = technician.post(
        stop_address(technician, issued), data=boxes(issued, "40", "90", "40", looked="yes")
    )
    page = technician.get(answer.headers["location"]).text
    found = re.search(r'action="(/findings/\d+/told)"', page)
    assert found is not None
    told = technician.post(found.group(1), data={"told_whom": "control room", "answer": "load is taken off"})
    assert told.status_code == 303


def test_the_engineer_decides_between_two_readings(
    technician: TestClient, engineer: TestClient, issued: Issued
) -> None:
    address = stop_address(technician, issued)
    technician.post(address, data=boxes(issued, "40", "40", "40", looked="yes"))
    uid = issued.rows[1][0]
    only = {f"temperature_c-{uid}": "46", f"current_a-{uid}": "90", "taken_at": "09:20", "looked": "yes"}
    assert engineer.post(address, data=only).status_code == 303
    page = f"/rounds/{issued.round_id}/return/doubles"
    assert "Let this one stand" not in technician.get(page).text
    text = engineer.get(page).text
    uid, source = re.findall(
        r'name="row_uid" value="([^"]+)"><input type="hidden" name="source" value="([^"]+)"', text
    )[1]
    assert engineer.post(page, data={"row_uid": uid, "source": source}).status_code == 303
    assert "<b>Stands</b>" in engineer.get(page).text
    assert engineer.post(page, data={"row_uid": uid, "source": "nobody"}).status_code == 422
