"""The rounds' pages, opened as people do: list, build, issue, walk, print, sign off."""

import re
from collections.abc import Callable
from datetime import date, datetime

import pytest
from starlette.testclient import TestClient

from service.domain.words import Role
from service.storage import rounds
from service.storage.tables.register import InstrumentRow
from service.storage.unit import Store
from service.usecases.rounds.due import refresh_due
from service.usecases.rounds.mark_returned import mark_returned
from tests.builders import build_plant
from tests.doors import browser_as, open_app
from tests.rounds.builders import NOW, Walk, change, cover, draft, issued, read_row, rows_of

Clock = Callable[[], datetime]


def opened(walk: Walk, clock: Clock, role: Role = Role.ENGINEER) -> TestClient:
    return browser_as(open_app(walk.store, clock), walk.store, walk.plant, role, NOW)


def version_in(page: str) -> str:
    found = re.search(r'name="version" value="(\d+)"', page)
    assert found is not None
    return found.group(1)


def stops(walk: Walk) -> list[int]:
    with walk.store.look() as unit:
        return [stop.id for stop in rounds.stops_of(unit, walk.round.id)]


@pytest.mark.parametrize("role", Role)
@pytest.mark.parametrize("path", ["", "/build", "/go", "/sheets"])
def test_who_sees_a_round_sees_all_its_pages(store: Store, clock: Clock, role: Role, path: str) -> None:
    walk = issued(store, boards=2, bearings=1)
    answer = opened(walk, clock, role).get(f"/rounds/{walk.round.id}{path}")
    if path == "/sheets" and role is Role.ADMINISTRATOR:
        assert answer.status_code == 403, "sheets, files and letters are no administrator's"
        return
    assert answer.status_code == 200
    assert walk.round.code in answer.text or "Go to 1" in answer.text


def test_the_month_lists_its_rounds_and_what_is_due(store: Store, clock: Clock) -> None:
    walk = draft(store)
    with store.begin() as unit:
        refresh_due(unit, walk.plant.point_ids, NOW)
    page = opened(walk, clock).get("/rounds?month=2026-12").text
    assert "One round in December 2026, not issued yet" in page
    assert "6\u00a0points due by the end of the month, 6 of them on a round to come." in page
    assert "Never read" in page
    assert opened(walk, clock).get("/rounds?month=soon").status_code == 422


def test_an_empty_month_names_the_next_step(store: Store, clock: Clock) -> None:
    walk = draft(store)
    page = opened(walk, clock).get("/rounds?month=2027-05").text
    assert "No rounds in May 2027 yet" in page
    assert 'href="/rounds/new"' in page


def test_a_round_is_built_from_what_is_due(store: Store, clock: Clock) -> None:
    walk = draft(store)
    with store.begin() as unit:
        refresh_due(unit, walk.plant.point_ids, NOW)
    client = opened(walk, clock)
    form = {"name": "West", "planned_on": "2026-12-09", "start": "06:30", "due": walk.plant.site_ids[0]}
    answer = client.post("/rounds/new", data=form)
    assert answer.status_code == 303
    page = client.get(answer.headers["location"]).text
    assert "West, Wednesday 9 December 2026" in page
    assert "MW-261209-1" in page


def test_a_form_with_problems_keeps_what_was_typed_and_links_to_the_boxes(store: Store, clock: Clock) -> None:
    walk = draft(store)
    answer = opened(walk, clock).post(
        "/rounds/new", data={"name": "", "planned_on": "2026-12-09", "start": "7"}
    )
    assert answer.status_code == 422
    assert 'href="#field-start"' in answer.text
    assert 'value="2026-12-09"' in answer.text


def test_stops_move_by_plain_buttons_and_by_a_whole_order(store: Store, clock: Clock) -> None:
    walk = draft(store, boards=3)
    client, address = opened(walk, clock), f"/rounds/{walk.round.id}"
    a, b, c = stops(walk)
    page = client.get(f"{address}/build").text
    assert f'formaction="{address}/stops/{b}/up"' in page
    answer = client.post(f"{address}/stops/{b}/up", data={"version": version_in(page)})
    assert answer.status_code == 303
    assert stops(walk) == [b, a, c]
    page = client.get(f"{address}/build").text
    client.post(f"{address}/order", data={"version": version_in(page), "stop": [c, b, a]})
    assert stops(walk) == [c, b, a]
    assert client.post(f"{address}/stops/{b}/up", data={"version": version_in(page)}).status_code == 409


def test_the_builder_draws_the_timetable_and_names_stops_outside_load_hours(
    store: Store, clock: Clock
) -> None:
    from service.storage.tables.register import EquipmentRow
    from tests.rounds.builders import change

    walk = draft(store, boards=2)
    change(store, EquipmentRow, walk.plant.equipment_ids[1], load_hours="12:30-16:00")
    page = opened(walk, clock).get(f"/rounds/{walk.round.id}/build").text
    assert '<svg class="timetable"' in page
    assert "One stop would be read while the equipment is idle or lightly loaded." in page
    assert "outside load hours until 12:30" in page
    assert "Time at equipment" in page


def test_issuing_tells_all_that_is_missing_and_then_goes_through(store: Store, clock: Clock) -> None:
    walk = draft(store, person=False)
    cover(store, walk.plant.equipment_ids[0])
    client, address = opened(walk, clock), f"/rounds/{walk.round.id}"
    page = client.get(address).text
    answer = client.post(f"{address}/issue", data={"version": version_in(page)})
    assert answer.status_code == 422
    assert "Nobody is named to walk it." in answer.text
    assert "no permit is asked for" in answer.text
    details = {
        "version": version_in(page),
        "name": "South",
        "planned_on": "2026-12-08",
        "start": "07:00",
        "person_id": walk.plant.people[Role.TECHNICIAN],
    }
    assert client.post(f"{address}/details", data=details).status_code == 303
    assert client.post(f"{address}/permits/new", data={"stop": stops(walk)}).status_code == 303
    page = client.get(address).text
    answer = client.post(f"{address}/issue", data={"version": version_in(page)})
    assert answer.status_code == 303
    assert "Issued" in client.get(address).text


def test_an_overdue_calibration_wants_its_reason_beside_the_button(store: Store, clock: Clock) -> None:
    walk = draft(store)
    client, address = opened(walk, clock), f"/rounds/{walk.round.id}"
    assert "calibration_reason" not in client.get(address).text
    change(store, InstrumentRow, walk.plant.instrument_id, calibration_due=date(2026, 12, 7))
    page = client.get(address).text
    assert "Why it goes out with this instrument all the same" in page
    answer = client.post(f"{address}/issue", data={"version": version_in(page)})
    assert answer.status_code == 422
    assert 'href="#field-calibration-reason"' in answer.text
    assert 'id="field-calibration-reason"' in answer.text
    typed = {"version": version_in(page), "calibration_reason": "checked against the body this morning"}
    assert client.post(f"{address}/issue", data=typed).status_code == 303
    assert "checked against the body this morning" in client.get(address).text


def test_a_permit_is_typed_granted_and_closed_on_its_page(store: Store, clock: Clock) -> None:
    walk = draft(store)
    cover(store, walk.plant.equipment_ids[0])
    client, address = opened(walk, clock), f"/rounds/{walk.round.id}"
    client.post(f"{address}/permits/new", data={"stop": stops(walk)})
    page = client.get(address).text
    permit = re.search(r'href="(/permits/\d+)"', page)
    assert permit is not None
    assert "Not open: no permit number" in page
    paper = {
        "stop": stops(walk),
        "number": "P-88",
        "issuer": "J. Wren",
        "valid_from": "2026-12-08T07:00",
        "valid_to": "2026-12-08T15:00",
    }
    version = version_in(client.get(permit.group(1)).text)
    assert client.post(f"{permit.group(1)}/grant", data=paper | {"version": version}).status_code == 303
    page = client.get(address).text
    assert "Granted; valid 8 Dec 2026, 07:00 to 8 Dec 2026, 15:00" in page
    assert "Not open" not in page
    version = version_in(client.get(permit.group(1)).text)
    assert client.post(f"{permit.group(1)}/close", data={"version": version}).status_code == 303


def test_the_phone_goes_to_the_first_stop_not_read_yet(store: Store, clock: Clock) -> None:
    walk = issued(store, boards=2)
    cover(store, walk.plant.equipment_ids[1])
    for row in rows_of(store, walk.round.id)[:6]:
        read_row(store, row)
    page = opened(walk, clock, Role.TECHNICIAN).get(f"/rounds/{walk.round.id}/go").text
    assert "Go to 2: Board 2" in page
    assert "NOT OPEN: NO PERMIT ASKED" in page
    assert "Local codes come first" in page


def test_sheets_print_boxes_triggers_codes_and_three_signatures(store: Store, clock: Clock) -> None:
    walk = issued(store, boards=2)
    cover(store, walk.plant.equipment_ids[0])
    page = opened(walk, clock, Role.TECHNICIAN).get(f"/rounds/{walk.round.id}/sheets").text
    assert page.count('<article class="sheet"') == 2
    assert page.count("NOT OPEN: NO PERMIT NUMBER") == 1
    assert page.count("not given: ask the permit issuer") == 2
    assert page.count("Below it nothing is cleared.") == 4
    assert page.count("Qualified person") == 2
    assert "Sheet 2 of 2" in page
    with store.look() as unit:
        for stop in rounds.stops_of(unit, walk.round.id):
            assert stop.sheet_code in page  # type: ignore[operator]


def test_a_sheet_code_opens_its_stop(store: Store, clock: Clock) -> None:
    walk = issued(store, boards=2)
    with store.look() as unit:
        stop = rounds.stops_of(unit, walk.round.id)[1]
    client = opened(walk, clock, Role.TECHNICIAN)
    answer = client.get("/rounds/sheet", params={"code": (stop.sheet_code or "").lower()})
    assert answer.headers["location"] == f"/rounds/{walk.round.id}/go?stop={stop.id}"
    wrong = client.get("/rounds/sheet", params={"code": "222-223"})
    assert wrong.status_code == 422
    assert "not a sheet code" in wrong.text


def test_the_files_are_offered_under_the_rounds_code(store: Store, clock: Clock) -> None:
    walk = issued(store)
    client = opened(walk, clock, Role.TECHNICIAN)
    for kind in ("csv", "xlsx"):
        answer = client.get(f"/rounds/{walk.round.id}/file.{kind}")
        assert answer.status_code == 200
        assert answer.headers["content-disposition"] == f'attachment; filename="{walk.round.code}.{kind}"'


def test_signing_off_asks_for_reasons_and_closes(store: Store, clock: Clock) -> None:
    walk = issued(store)
    read_row(store, rows_of(store, walk.round.id)[0])
    with store.begin() as unit:
        mark_returned(unit, walk.technician(), walk.round.id, NOW)
    client, address = opened(walk, clock), f"/rounds/{walk.round.id}/sign-off"
    page = client.get(address).text
    assert "5\u00a0points not read: why?" in page
    assert client.post(address, data={"version": version_in(page)}).status_code == 422
    answer = client.post(address, data={"version": version_in(page), "reason_for_all": "T"})
    assert answer.status_code == 303
    assert "Signed off with 6 of 6\u00a0points" in client.get(f"/rounds/{walk.round.id}").text


def test_a_route_is_made_put_in_order_and_retired(store: Store, clock: Clock) -> None:
    plant = build_plant(store, boards=3)
    client = browser_as(open_app(store, clock), store, plant, Role.ENGINEER, NOW)
    a, b, c = plant.equipment_ids
    site = plant.site_ids[0]
    answer = client.post("/routes/new", data={"site": site, "name": "South", "equipment": [a, b, c]})
    address = answer.headers["location"]
    form = {"version": "1", "name": "South", "stop": [a, b, c], "step": f"{c}:up"}
    assert client.post(f"{address}/edit", data=form).status_code == 303
    page = client.get(address).text
    assert re.findall(r'name="stop" value="(\d+)"', page) == [str(a), str(c), str(b)]
    assert client.post(f"{address}/retire", data={"version": "2"}).status_code == 303
    assert client.get(address).status_code == 404


@pytest.mark.parametrize("path", ["/rounds/new", "/routes", "/routes/new"])
@pytest.mark.parametrize("role", [Role.TECHNICIAN, Role.MANAGER])
def test_only_engineers_open_the_forms(store: Store, clock: Clock, path: str, role: Role) -> None:
    walk = draft(store)
    status = opened(walk, clock, role).get(path).status_code
    assert status == (200 if (path, role) == ("/routes", Role.MANAGER) else 403)


def test_foreign_rounds_and_permits_are_not_there(store: Store, clock: Clock) -> None:
    walk = draft(store, person=False)
    client = opened(walk, clock, Role.TECHNICIAN)
    for path in ("", "/build", "/go", "/sheets", "/file.csv", "/permits/new"):
        assert client.get(f"/rounds/{walk.round.id}{path}").status_code == 404


def test_the_page_of_a_pump_spoke_of_a_closed_front(store: Store, clock: Clock) -> None:
    walk = issued(store, boards=1, bearings=1)
    board, pump = stops(walk)
    client = opened(walk, clock)
    told = {stop: client.get(f"/rounds/{walk.round.id}/go?stop={stop}").text for stop in (board, pump)}
    assert "Scan the closed front before anything else." in told[board]
    assert "closed front" not in told[pump]
    assert "Scan it from a distance before you step closer" in told[pump]
    assert "closed front" not in client.get(f"/equipment/{walk.plant.equipment_ids[1]}").text.lower()
    page = client.get(f"/rounds/{walk.round.id}").text
    assert (page.count("Closed front"), page.count("Stands free")) == (1, 1)
