"""A machine that runs in turn is asked for: by whom, of whom, when, and what was answered."""

import csv
import io
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

import pytest

from service.domain.run_requests import run_words
from service.domain.words import Role, RunRequestState
from service.errors import Conflict, Forbidden, Invalid, NotFound, Stale
from service.storage.tables.register import EquipmentRow, SiteRow
from service.storage.unit import Store
from service.usecases.rounds.browse import read_round
from service.usecases.rounds.edit import details_of, edit_round
from service.usecases.rounds.permit_requests import AskedStop, list_permit_requests
from service.usecases.rounds.run_requests import answer_run_request, ask_to_run, list_run_requests
from service.usecases.rounds.withdraw import withdraw_round
from tests.doors import browser_as, open_app, program_as
from tests.rounds.builders import DAY, NOW, Walk, change, draft
from tests.storage.test_held_rows import statements

Clock = Callable[[], datetime]
GROUP = "high-lift pumps"
LATER = NOW + timedelta(hours=2)


def pumps(store: Store) -> Walk:
    """Three machines on a draft; the first two run in turn."""
    walk = draft(store, sites=1, boards=3)
    for key in walk.plant.equipment_ids[:2]:
        change(store, EquipmentRow, key, duty_group=GROUP)
    return walk


def listed(walk: Walk, *, now: datetime = NOW) -> list[AskedStop]:
    found = list_permit_requests(walk.store, walk.engineer, first=DAY, last=DAY, lead_days=5, now=now)
    return [asked for site in found.sites for one in site.requests for asked in one.to_run]


def ask(walk: Walk, *keys: int):  # type: ignore[no-untyped-def]
    return ask_to_run(walk.store, walk.engineer, walk.round.id, keys, asked_of=" Control room ", now=NOW)


def test_who_asked_whom_and_the_answer_stay_on_record(any_store: Store) -> None:
    walk = pumps(any_store)
    first, second = walk.plant.equipment_ids[:2]
    assert [one.run_waits for one in listed(walk)] == [True, True]
    (noted,) = ask(walk, first)
    assert (noted.asked_of, noted.asked_by, noted.day) == ("Control room", walk.engineer.name, DAY)
    assert noted.state is RunRequestState.ASKED
    assert [one.run_waits for one in listed(walk)] == [False, True]
    told = answer_run_request(
        any_store, walk.engineer, noted.id, agreed=True, answer="from 06:00", version=1, now=LATER
    )
    assert (told.state, told.answer, told.answered_at) == (RunRequestState.AGREED, "from 06:00", LATER)
    assert told.answered_by == walk.engineer.name
    by_key = {one.stop.facts.id: one.request for one in listed(walk)}
    assert by_key[first] == told
    assert by_key[second] is None


def test_the_last_request_counts_and_those_before_it_stay(store: Store) -> None:
    walk = pumps(store)
    key = walk.plant.equipment_ids[0]
    (one,) = ask(walk, key)
    answer_run_request(
        store, walk.engineer, one.id, agreed=False, answer="out for repair", version=1, now=NOW
    )
    (again,) = ask(walk, key)
    assert listed(walk)[0].request == again
    states = [request.state.value for request in list_run_requests(store, walk.engineer, walk.round.id)]
    assert states == ["refused", "asked"]


def test_what_will_not_run_is_not_counted_as_likely_to_clear(store: Store) -> None:
    walk = pumps(store)
    first = walk.plant.equipment_ids[0]
    before = read_round(store, walk.engineer, walk.round.id, now=NOW).day
    (one,) = ask(walk, first)
    answer_run_request(store, walk.engineer, one.id, agreed=False, answer="out", version=1, now=NOW)
    after = read_round(store, walk.engineer, walk.round.id, now=NOW).day
    assert before.likely_to_clear == before.points == after.points
    assert after.likely_to_clear == after.points - before.stops[0].tally.points
    assert [stop.will_not_run for stop in after.stops] == [True, False, False]


def test_a_round_that_moved_is_asked_for_again(store: Store) -> None:
    walk = pumps(store)
    ask(walk, *walk.plant.equipment_ids[:2])
    wish = replace(details_of(walk.round), planned_on=DAY + timedelta(days=1))
    edit_round(store, walk.engineer, walk.round.id, wish, version=walk.round.version, now=NOW)
    page = read_round(store, walk.engineer, walk.round.id, now=NOW)
    found = list_permit_requests(
        store, walk.engineer, first=DAY, last=DAY + timedelta(days=1), lead_days=5, now=NOW
    )
    assert found.runs_waiting == 2
    assert any("Nobody was asked to have this run" in told for told in page.warnings)


def test_issuing_says_which_machine_nobody_was_asked_to_run(store: Store) -> None:
    walk = pumps(store)
    first, second = walk.plant.equipment_ids[:2]

    def told() -> list[str]:
        page = read_round(store, walk.engineer, walk.round.id, now=NOW)
        return [one for one in page.warnings if one.startswith("Nobody was asked")]

    names = {stop.facts.id: stop.facts.title for stop in read_round_stops(walk)}
    assert told() == [f"Nobody was asked to have this run for the visit: {names[first]}, {names[second]}."]
    ask(walk, first)
    assert told() == [f"Nobody was asked to have this run for the visit: {names[second]}."]
    ask(walk, second)
    assert told() == []


def read_round_stops(walk: Walk):  # type: ignore[no-untyped-def]
    return read_round(walk.store, walk.engineer, walk.round.id, now=NOW).day.stops


def test_what_cannot_be_asked_or_answered_is_refused(store: Store) -> None:
    walk = pumps(store)
    first, alone = walk.plant.equipment_ids[0], walk.plant.equipment_ids[2]
    for wrong in ((), (alone,), (first, 99_999)):
        with pytest.raises(Invalid):
            ask(walk, *wrong)
    with pytest.raises(Forbidden):
        ask_to_run(store, walk.technician(), walk.round.id, [first], now=NOW)
    (one,) = ask(walk, first)
    with pytest.raises(Invalid) as refusal:
        answer_run_request(store, walk.engineer, one.id, agreed=False, version=1, now=NOW)
    assert refusal.value.problems[0].message == "Why does it not run, and when would it?"
    with pytest.raises(Stale):
        answer_run_request(store, walk.engineer, one.id, agreed=True, version=7, now=NOW)
    with pytest.raises(NotFound):
        answer_run_request(store, walk.engineer, one.id + 1, agreed=True, version=1, now=NOW)
    answer_run_request(store, walk.engineer, one.id, agreed=True, version=1, now=NOW)
    with pytest.raises(Conflict, match="answered already"):
        answer_run_request(store, walk.engineer, one.id, agreed=True, version=2, now=NOW)
    withdraw_round(store, walk.engineer, walk.round.id, reason="rain", version=walk.round.version, now=NOW)
    with pytest.raises(Conflict):
        ask(walk, first)


def test_page_list_file_and_program_say_the_same(store: Store, clock: Clock) -> None:
    walk = pumps(store)
    first, second = walk.plant.equipment_ids[:2]
    app = open_app(store, clock)
    browser = browser_as(app, store, walk.plant, Role.ENGINEER, NOW)
    page = browser.get(f"/rounds/{walk.round.id}/running").text
    assert "Two machines that run in turn are still to be asked for" in page
    sent = {"equipment": [str(first)], "asked_of": "Control room"}
    at = f"/rounds/{walk.round.id}/running"
    assert browser.post(at, data=sent).status_code == 303
    assert "Asked of Control room on 25 Nov" in browser.get(at).text
    wrong = browser.post("/run-requests/1/answer", data={"agreed": "", "version": "1"})
    assert wrong.status_code == 422
    assert 'href="#field-agreed"' in wrong.text
    said = {"agreed": "refused", "answer": "bearing out", "version": "1"}
    assert browser.post("/run-requests/1/answer", data=said).status_code == 303
    assert "it will not run (“bearing out”)" in browser.get(at).text
    file = browser.get(f"/rounds/permits.csv?first={DAY}&last={DAY}").content.decode("utf-8-sig")
    rows = {row["equipment_tag"]: row["run_request"] for row in csv.DictReader(io.StringIO(file))}
    assert rows == {"S1-MCC1": "refused", "S1-MCC2": "to be asked for"}
    assert "it will not run" in browser.get(f"/rounds/{walk.round.id}").text
    sheets = browser.get(f"/rounds/{walk.round.id}/sheets").text
    assert sheets.count(f"Runs in turn ({GROUP}).") == 2
    assert "it will not run" in sheets
    program = program_as(app, store, walk.plant, Role.ENGINEER, NOW)
    asked_at = f"/api/v1/rounds/{walk.round.id}/run-requests"
    asked = program.post(asked_at, json={"equipment_ids": [second], "asked_of": "Desk"})
    assert asked.status_code == 201
    two = asked.json()[0]["id"]
    told = program.post(
        f"/api/v1/run-requests/{two}/answer", json={"agreed": True}, headers={"If-Match": '"1"'}
    )
    assert (told.status_code, told.json()["state"]) == (200, "agreed")
    assert [one["state"] for one in program.get(asked_at).json()] == ["refused", "agreed"]


def test_the_evening_of_an_answer_was_told_as_the_day_before(store: Store) -> None:
    walk = pumps(store)
    change(store, SiteRow, walk.plant.site_ids[0], time_zone="Pacific/Auckland")
    (noted,) = ask(walk, walk.plant.equipment_ids[0])
    late = datetime(2026, 11, 25, 22, 30, tzinfo=UTC)  # the 26th there
    told = answer_run_request(store, walk.engineer, noted.id, agreed=True, version=1, now=late)
    assert "noted on 26 Nov 2026" in run_words(told, DAY)


def test_many_machines_asked_for_were_read_back_one_by_one(store: Store) -> None:
    walk = pumps(store)
    first, second = walk.plant.equipment_ids[:2]
    with statements(store.engine) as one:
        ask(walk, first)
    with statements(store.engine) as two:
        ask(walk, first, second)
    assert len([text for text in two if text.startswith("SELECT")]) == len(
        [text for text in one if text.startswith("SELECT")]
    )


@pytest.mark.parametrize(
    ("today", "told"),
    [(date(2026, 12, 1), "Ask by 1 Dec"), (date(2026, 12, 2), "At once: asking was due 1 Dec")],
)
def test_a_day_that_has_gone_by_is_no_advice(store: Store, clock: Clock, today: date, told: str) -> None:
    walk = pumps(store)
    now = datetime(today.year, today.month, today.day, 9, tzinfo=NOW.tzinfo)
    browser = browser_as(open_app(store, lambda: now), store, walk.plant, Role.ENGINEER, now)
    page = browser.get(f"/rounds/permits?first={DAY}&last={DAY}").text
    assert told in page
    assert ("Ask by" in page) == told.startswith("Ask by")
