"""Checks of the instrument: noted on a round or under Set-up, said on both, kept in its history."""

import re
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from starlette.testclient import TestClient

from service.domain.instrument_checks import CheckFields, InstrumentCheck, Outcome
from service.domain.people import Actor
from service.domain.words import Role
from service.errors import Conflict, Forbidden, Invalid, NotFound
from service.storage.tables.record import AuditRow
from service.storage.tables.register import InstrumentRow
from service.storage.unit import Store
from service.usecases.rounds.instrument_checks import (
    check_instrument,
    check_on_round,
    list_round_checks,
    see_instrument,
)
from service.usecases.rounds.issue import issue_round
from tests.doors import browser_as, open_app, program_as
from tests.rounds.builders import NOW, Walk, change, draft, issued

Clock = Callable[[], datetime]


def on_round(walk: Walk, actor: Actor | None = None, **typed: Any) -> InstrumentCheck:
    instrument_id = typed.pop("instrument_id", None)
    fields: dict[str, Any] = {"occasion": "start", "at": NOW, "reference_c": 35.0, "shown_c": 35.4} | typed
    return check_on_round(
        walk.store, actor or walk.technician(), walk.round.id, instrument_id=instrument_id,
        fields=CheckFields(**fields), now=NOW,
    )  # fmt: skip


def grant_accuracy(walk: Walk, kelvin: float = 2.0) -> None:
    change(walk.store, InstrumentRow, walk.plant.instrument_id, accuracy_k=kelvin)


def opened(walk: Walk, clock: Clock, role: Role = Role.ENGINEER) -> TestClient:
    return browser_as(open_app(walk.store, clock), walk.store, walk.plant, role, NOW)


def plain(page: str) -> str:
    return re.sub(r"\s+", " ", page.replace("\u00a0", " "))


def test_the_walker_notes_a_check_of_the_round_s_own_instrument(any_store: Store) -> None:
    walk = issued(any_store)
    grant_accuracy(walk)
    noted = on_round(walk, note="Blackbody 2")
    assert noted.instrument.id == walk.plant.instrument_id
    assert (noted.outcome, noted.by) == (Outcome.WITHIN, "Test technician")
    assert noted.deviation_k == pytest.approx(0.4)
    assert list_round_checks(any_store, walk.engineer, walk.round.id) == (noted,)
    assert see_instrument(any_store, walk.engineer, walk.plant.instrument_id).checks == (noted,)


def test_the_very_same_check_sent_again_is_one(any_store: Store) -> None:
    walk = issued(any_store)
    assert on_round(walk).id == on_round(walk).id
    assert on_round(walk, shown_c=35.5).id != on_round(walk).id
    with any_store.look() as unit:
        rows = unit.session.query(AuditRow).filter_by(noun="instrument check").all()
        assert len(rows) == 2
        assert rows[0].after is not None
        assert (rows[0].site_id, rows[0].after["shown_c"]) == (walk.plant.site_ids[0], 35.4)


def test_only_who_brings_its_readings_in_notes_a_check_on_a_round(any_store: Store) -> None:
    walk = issued(any_store)
    for role in (Role.MANAGER, Role.ADMINISTRATOR):
        with pytest.raises(Forbidden):
            on_round(walk, walk.plant.actor(role))
    stranger = walk.plant.actor(Role.TECHNICIAN, person_id=walk.plant.people[Role.MANAGER])
    with pytest.raises(NotFound):
        on_round(walk, stranger)
    with pytest.raises(Forbidden):
        check_instrument(
            any_store, walk.technician(), walk.plant.instrument_id, fields=CheckFields("start", NOW, 35.0, 35.0),
            now=NOW,
        )  # fmt: skip


def test_a_check_needs_a_round_that_is_out_and_an_instrument_that_shows_degrees(any_store: Store) -> None:
    walk = draft(any_store)
    with pytest.raises(Conflict, match="draft"):
        on_round(walk)
    out = replace(
        walk,
        round=issue_round(any_store, walk.engineer, walk.round.id, version=walk.round.version, now=NOW).round,
    )
    change(any_store, InstrumentRow, walk.plant.instrument_id, kind="ammeter")
    with pytest.raises(Conflict, match="shows no degrees"):
        on_round(out)
    change(any_store, InstrumentRow, walk.plant.instrument_id, kind="camera", retired_at=NOW)
    with pytest.raises(Conflict, match="retired"):
        on_round(out)


def test_an_instrument_of_another_client_is_not_there(any_store: Store) -> None:
    walk = issued(any_store)
    with pytest.raises(NotFound):
        see_instrument(any_store, walk.plant.actor(clients=frozenset()), walk.plant.instrument_id)
    with pytest.raises(NotFound):
        on_round(walk, instrument_id=987654)


def test_the_history_names_a_round_only_to_who_sees_it(any_store: Store) -> None:
    walk = issued(any_store)
    on_round(walk)
    (seen,) = see_instrument(any_store, walk.engineer, walk.plant.instrument_id).checks
    assert seen.round_code == walk.round.code
    elsewhere = walk.plant.actor(sites=frozenset({987654}))
    (hidden,) = see_instrument(any_store, elsewhere, walk.plant.instrument_id).checks
    assert (hidden.round_code, hidden.round_id, hidden.shown_c) == ("", None, 35.4)


def test_every_problem_is_told_at_once_and_nothing_is_kept(any_store: Store) -> None:
    walk = issued(any_store)
    with pytest.raises(Invalid) as refused:
        on_round(walk, occasion="noon", reference_c=None, at=NOW + timedelta(days=1), note="\x00")
    assert {p.field for p in refused.value.problems} == {"occasion", "reference_c", "at", "note"}
    assert list_round_checks(any_store, walk.engineer, walk.round.id) == ()


# ---- pages ------------------------------------------------------------------------------------


def test_there_was_no_form_for_a_check_on_a_round(store: Store, clock: Clock) -> None:
    walk = issued(store)
    grant_accuracy(walk)
    client, address = opened(walk, clock, Role.TECHNICIAN), f"/rounds/{walk.round.id}/return"
    assert "Note a check" in client.get(address).text
    form = {
        "instrument_id": walk.plant.instrument_id,
        "occasion": "start",
        "reference_c": "35,0",
        "shown_c": "37.6",
    }
    answer = client.post(f"{address}/checks", data=form)
    assert answer.status_code == 303
    (noted,) = list_round_checks(store, walk.engineer, walk.round.id)
    assert (noted.reference_c, noted.shown_c, noted.at) == (35.0, 37.6, clock())


def test_a_failed_check_is_said_on_the_round_and_on_the_instrument(store: Store, clock: Clock) -> None:
    walk = issued(store)
    grant_accuracy(walk)
    on_round(walk, shown_c=37.6)
    client = opened(walk, clock)
    told = (
        "Camera 1 (IR-1) was outside its accuracy when checked at the start: it showed 37.6 °C where 35.0 °C was "
        "true, 2.6 K too high; ± 2.0 K is allowed."
    )
    for address in (f"/rounds/{walk.round.id}", f"/rounds/{walk.round.id}/return"):
        assert told in plain(client.get(address).text), address
    of_it = plain(client.get(f"/set-up/instruments/{walk.plant.instrument_id}").text)
    assert "Camera 1: outside its accuracy when last checked" in of_it
    assert walk.round.code in of_it
    listed = plain(client.get("/set-up/instruments").text)
    assert "One instrument: one outside its accuracy" in listed
    on_round(walk, shown_c=35.2)
    assert told not in plain(client.get(f"/rounds/{walk.round.id}").text), "the repeated check stands"


def test_who_builds_the_next_round_is_told_that_its_instrument_failed_last(
    store: Store, clock: Clock
) -> None:
    walk = issued(store)
    grant_accuracy(walk)
    on_round(walk, shown_c=31.0, occasion="after a drop")
    following = draft(store, plant=walk.plant)
    page = plain(opened(walk, clock).get(f"/rounds/{following.round.id}/build").text)
    assert (
        "Last checked against a reference 25 Nov 2026, after a drop: 4.0 K too low, outside its accuracy"
        in page
    )
    assert "Camera 1 (IR-1) was outside its accuracy when last checked, on 2026-11-25." in page


def test_a_check_is_noted_under_set_up_on_the_clock_of_the_sites(store: Store, clock: Clock) -> None:
    walk = issued(store)
    address = f"/set-up/instruments/{walk.plant.instrument_id}"
    client = opened(walk, clock)
    assert "When (Europe/London)" in client.get(address).text
    form = {"occasion": "after a drop", "reference_c": "60", "shown_c": "60.2", "at": "2026-07-01T08:00"}
    assert client.post(f"{address}/checks", data=form).status_code == 303
    (noted,) = see_instrument(store, walk.engineer, walk.plant.instrument_id).checks
    assert noted.at == datetime(2026, 7, 1, 7, 0, tzinfo=UTC)
    assert (noted.round_id, noted.outcome) == (None, Outcome.UNKNOWN)
    assert "no accuracy on record" in client.get(address).text


def test_what_was_typed_wrongly_stays_in_its_box_with_its_problem(store: Store, clock: Clock) -> None:
    walk = issued(store)
    wrong = {"occasion": "end", "reference_c": "warm", "shown_c": "", "at": "2026-03-29T01:30"}
    for address in (
        f"/rounds/{walk.round.id}/return/checks",
        f"/set-up/instruments/{walk.plant.instrument_id}/checks",
    ):
        answer = opened(walk, clock).post(address, data=wrong)
        assert answer.status_code == 422
        assert 'value="warm"' in answer.text
        assert "skipped this time" in answer.text
        assert 'href="#field-reference-c"' in answer.text


def test_programs_note_and_read_checks(store: Store, clock: Clock) -> None:
    walk = issued(store)
    grant_accuracy(walk)
    app = open_app(store, clock)
    body = {"occasion": "end", "at": NOW.isoformat(), "reference_c": 35.0, "shown_c": 32.0}
    phone = program_as(app, store, walk.plant, Role.TECHNICIAN, NOW)
    noted = phone.post(f"/api/v1/rounds/{walk.round.id}/checks", json=body)
    assert noted.status_code == 201
    assert (noted.json()["outcome"], noted.json()["deviation_k"]) == ("outside its accuracy", -3.0)
    assert phone.get(f"/api/v1/rounds/{walk.round.id}/checks").json() == [noted.json()]
    desk = program_as(app, store, walk.plant, Role.ENGINEER, NOW)
    address = f"/api/v1/instruments/{walk.plant.instrument_id}/checks"
    for minutes in (1, 2):
        at = (NOW - timedelta(minutes=minutes)).isoformat()
        assert desk.post(address, json=body | {"at": at}).status_code == 201
    first = desk.get(address, params={"limit": 2}).json()
    rest = desk.get(address, params={"limit": 2, "after": first["next_after"]}).json()
    assert [len(page["checks"]) for page in (first, rest)] == [2, 1]
    assert [one["at"] for one in first["checks"]] > [one["at"] for one in rest["checks"]]
