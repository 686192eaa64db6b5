"""What is asked of people who are not there, and what is typed wrongly."""

from collections.abc import Callable
from dataclasses import replace
from datetime import datetime

import pytest
from fastapi import FastAPI

from service.domain.people import Actor, PersonFields
from service.domain.permissions import sees_round
from service.domain.words import Role
from service.errors import Invalid, NotFound, NotSignedIn, RiselineError, TooManyTries, Unavailable
from service.security.passwords import Hasher
from service.storage.unit import Store
from service.usecases.people import accounts, certifying, granting, own_tokens, passwords
from service.usecases.people.accounts import COMMAND
from service.usecases.people.sign_in import actor_by_session
from tests.builders import Plant
from tests.doors import CHEAP, browser_as, program, session_of
from tests.people.test_accounts import ADA, HELD, PASSWORD

NOBODY = 9999


@pytest.mark.parametrize(
    "ask",
    [
        lambda store, now: accounts.show_person(store, COMMAND, NOBODY),
        lambda store, now: accounts.edit_person(store, COMMAND, NOBODY, ADA, version=1, now=now),
        lambda store, now: accounts.set_active(store, COMMAND, NOBODY, False, version=1, now=now),
        lambda store, now: passwords.set_password(
            store, COMMAND, NOBODY, PASSWORD, version=1, now=now, hasher=CHEAP
        ),
        lambda store, now: granting.grant(store, COMMAND, NOBODY, 1, now=now),
        lambda store, now: granting.revoke(store, COMMAND, NOBODY, 1, version=1, now=now),
        lambda store, now: certifying.add_certificate(store, COMMAND, NOBODY, HELD, now=now),
        lambda store, now: certifying.remove_certificate(store, COMMAND, NOBODY, 1, version=1, now=now),
        lambda store, now: own_tokens.revoke_token(store, COMMAND, NOBODY, now=now),
    ],
)
def test_somebody_who_is_not_there_is_not_found(
    any_store: Store, now: datetime, ask: Callable[[Store, datetime], object]
) -> None:
    with pytest.raises(NotFound):
        ask(any_store, now)


def test_the_service_itself_has_no_tokens(store: Store) -> None:
    with pytest.raises(NotSignedIn):
        own_tokens.list_tokens(store, COMMAND)


@pytest.mark.parametrize("field", ["name", "email"])
def test_a_sign_that_cannot_be_printed_is_a_problem_of_its_field(
    store: Store, now: datetime, field: str
) -> None:
    fields: PersonFields = replace(ADA, **{field: "a@b\x07c"})  # type: ignore[arg-type]
    with pytest.raises(Invalid) as refusal:
        accounts.add_person(store, COMMAND, fields, PASSWORD, now=now, hasher=CHEAP)
    assert [p.field for p in refusal.value.problems] == [field]


def test_a_weak_password_is_not_set(store: Store, now: datetime, plant: Plant) -> None:
    person_id = plant.people[Role.MANAGER]
    with pytest.raises(Invalid):
        passwords.set_password(
            store, COMMAND, person_id, "passwordpassword", version=1, now=now, hasher=CHEAP
        )
    assert accounts.show_person(store, COMMAND, person_id).person.version == 1


def test_ones_present_password_is_not_guessed_by_many_tries(store: Store, now: datetime) -> None:
    person = accounts.add_person(store, COMMAND, ADA, PASSWORD, now=now, hasher=CHEAP).person
    actor = actor_by_session(store, session_of(store, person.id, now), now=now)
    refused: list[type[RiselineError]] = []
    for k in range(11):
        guess = PASSWORD if k == 10 else "wrong"
        with pytest.raises(RiselineError) as refusal:
            passwords.change_own_password(store, actor, guess, "violet harbour stone", now=now, hasher=CHEAP)
        refused.append(type(refusal.value))
    assert refused == [Invalid] * 10 + [TooManyTries]


def test_a_token_of_a_round_sees_no_other_round() -> None:
    walker = Actor(person_id=1, name="x", role=Role.TECHNICIAN, only_round=5)
    assert sees_round(walker, 5, walkers=(1, None))
    assert not sees_round(walker, 6, walkers=(1, None))
    assert not sees_round(walker, 5, walkers=(None, None))


def test_when_every_turn_is_taken_one_is_asked_to_come_again(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("service.security.passwords.WAIT_SECONDS", 0.01)
    hasher = Hasher(time_cost=1, memory_kib=8, parallelism=1, at_once=1)
    with hasher._turn(), pytest.raises(Unavailable):
        hasher.hash(PASSWORD)
    assert hasher.hash(PASSWORD)


def test_a_wrong_form_is_told_on_its_page_with_nothing_kept(
    app: FastAPI, store: Store, plant: Plant, now: datetime
) -> None:
    boss = browser_as(app, store, plant, Role.ADMINISTRATOR, now)
    person_id = plant.people[Role.MANAGER]
    address = f"/set-up/people/{person_id}"
    wrong = [
        (f"{address}/edit", {"name": "", "login": "x", "role": "manager", "version": "1"}, "login"),
        (f"{address}/edit", {"name": "A", "login": "aa", "role": "emperor", "version": "1"}, "role"),
        (f"{address}/password", {"password": "short", "version": "1"}, "password"),
        (f"{address}/grants", {"opens": "77/1"}, "opens"),
        (f"{address}/certificates", {"category": "9", "scope": "x", "expires_on": "2027-01-01"}, "category"),
        ("/set-up/tokens", {"name": "x", "days": "1000"}, "days"),
        ("/set-up/tokens", {"name": "x", "days": "many"}, "days"),
    ]
    for path, typed, field in wrong:
        answer = boss.post(path, data=typed)
        assert answer.status_code == 422, path
        assert f'href="#field-{field}"' in answer.text
    record = accounts.show_person(store, COMMAND, person_id)
    assert (record.person.version, record.certificates) == (1, ())


def test_an_account_is_opened_again_in_the_browser(
    app: FastAPI, store: Store, plant: Plant, now: datetime
) -> None:
    boss = browser_as(app, store, plant, Role.ADMINISTRATOR, now)
    address = f"/set-up/people/{plant.people[Role.MANAGER]}"
    assert boss.post(f"{address}/close", data={"version": "1"}).status_code == 303
    assert "The account is closed." in boss.get(address).text
    assert boss.post(f"{address}/open", data={"version": "2"}).status_code == 303
    assert "The account is closed." not in boss.get(address).text


def test_many_people_are_listed_a_page_at_a_time(
    app: FastAPI, store: Store, plant: Plant, now: datetime
) -> None:
    for k in range(101):
        accounts.add_person(store, COMMAND, replace(ADA, login=f"walker{k}"), PASSWORD, now=now, hasher=CHEAP)
    boss = browser_as(app, store, plant, Role.ADMINISTRATOR, now)
    first = boss.get("/set-up/people").text
    assert 'href="/set-up/people?after=100"' in first
    assert 'rel="next"' not in boss.get("/set-up/people?after=100").text


def test_an_api_edit_without_its_version_is_refused(
    app: FastAPI, store: Store, plant: Plant, now: datetime
) -> None:
    boss = browser_as(app, store, plant, Role.ADMINISTRATOR, now)
    path = f"/api/v1/people/{plant.people[Role.MANAGER]}"
    body = {"login": "boss", "name": "B", "role": "manager"}
    answers = [boss.put(path, json=body, headers=tag).status_code for tag in ({}, {"If-Match": "1"})]
    assert answers == [428, 428], "without, and not quoted"
    assert boss.put(path, json=body, headers={"If-Match": '"7"'}).headers["etag"] == '"1"'
    assert boss.put(path, json=body, headers={"If-Match": '"1"'}).headers["etag"] == '"2"'
    assert program(app).get(path).headers["www-authenticate"] == "Bearer"
