"""Tokens: what one may make, what it opens, how it ends."""

from dataclasses import replace
from datetime import datetime, timedelta

import pytest
from fastapi import FastAPI

from service.domain.people import Actor
from service.domain.permissions import ALLOWED, ONE_ROUND, Verb, may
from service.domain.words import Role
from service.errors import Conflict, Forbidden, Invalid, NotFound, NotSignedIn
from service.storage.tables.people import TokenRow
from service.storage.tables.rounds import RoundRow, StopRow
from service.storage.unit import Store
from service.usecases.people.own_tokens import list_tokens, make_token, revoke_token, rounds_to_walk
from service.usecases.people.sign_in import actor_by_token
from tests.builders import STAMPS, Plant, add
from tests.doors import program, token_of


def issue_round(store: Store, plant: Plant, *, walker: Role = Role.TECHNICIAN, site: int = 0) -> int:
    """An issued round of one stop at one site."""
    with store.begin() as unit:
        made = add(
            unit,
            RoundRow(
                client_id=plant.client_id,
                code=f"R-{site}-{walker}",
                name="Monthly",
                planned_on=STAMPS["created_at"].date(),
                state="issued",
                person_id=plant.people[walker],
                **STAMPS,
            ),
        )
        place = {"equipment_id": plant.equipment_ids[site], "site_id": plant.site_ids[site]}
        add(unit, StopRow(round_id=made.id, position=1, minutes=5, **place))
        round_id: int = made.id
    return round_id


def test_a_token_asks_in_its_owners_name_and_only_its_digest_is_kept(
    store: Store, now: datetime, plant: Plant
) -> None:
    owner = plant.actor(Role.ENGINEER)
    token, secret = make_token(store, owner, " spreadsheet ", 30, now=now)
    asker = actor_by_token(store, secret, now=now)
    assert (asker.person_id, asker.sites, asker.device) == (owner.person_id, owner.sites, "spreadsheet")
    assert asker.by_token
    assert token.expires_at == now + timedelta(days=30)
    assert secret.startswith(token.prefix)
    with store.look() as unit:
        row = unit.session.get_one(TokenRow, token.id)
        assert secret not in repr(vars(row))


@pytest.mark.parametrize("days", [0, -1, 366])
def test_a_token_lives_a_year_at_most(store: Store, now: datetime, plant: Plant, days: int) -> None:
    with pytest.raises(Invalid) as refusal:
        make_token(store, plant.actor(Role.ENGINEER), "", days, now=now)
    assert [p.field for p in refusal.value.problems] == ["name", "days"]


def test_a_token_ends_at_its_time_and_at_its_revocation(store: Store, now: datetime, plant: Plant) -> None:
    owner = plant.actor(Role.TECHNICIAN)
    token, secret = make_token(store, owner, "phone", 7, now=now)
    assert actor_by_token(store, secret, now=now + timedelta(days=7) - timedelta(seconds=1))
    with pytest.raises(NotSignedIn):
        actor_by_token(store, secret, now=now + timedelta(days=7))
    revoke_token(store, owner, token.id, now=now)
    assert revoke_token(store, owner, token.id, now=now + timedelta(hours=1)).revoked_at == now
    with pytest.raises(NotSignedIn):
        actor_by_token(store, secret, now=now)


def test_somebody_elses_token_is_not_there(store: Store, now: datetime, plant: Plant) -> None:
    token, secret = make_token(store, plant.actor(Role.ENGINEER), "mine", 7, now=now)
    with pytest.raises(NotFound):
        revoke_token(store, plant.actor(Role.MANAGER), token.id, now=now)
    assert list_tokens(store, plant.actor(Role.MANAGER)) == ()
    assert actor_by_token(store, secret, now=now)
    assert revoke_token(store, plant.actor(Role.ADMINISTRATOR), token.id, now=now).revoked_at == now


def test_a_token_makes_no_token(store: Store, now: datetime, plant: Plant) -> None:
    with pytest.raises(Forbidden):
        make_token(store, plant.actor(Role.ENGINEER, by_token=True), "heir", 7, now=now)


def test_fifty_living_tokens_are_enough(store: Store, now: datetime, plant: Plant) -> None:
    owner = plant.actor(Role.ENGINEER)
    for k in range(50):
        make_token(store, owner, f"token {k}", 1, now=now)
    with pytest.raises(Conflict):
        make_token(store, owner, "one more", 1, now=now)
    assert make_token(store, owner, "tomorrow", 1, now=now + timedelta(days=1))


def test_a_token_for_a_round_opens_that_round_for_a_week_at_most(
    store: Store, now: datetime, plant: Plant
) -> None:
    walker = plant.actor(Role.TECHNICIAN)
    mine, others = issue_round(store, plant), issue_round(store, plant, walker=Role.ENGINEER, site=1)
    assert [found.id for found in rounds_to_walk(store, walker)] == [mine]
    with pytest.raises(NotFound):
        make_token(store, walker, "phone", 7, round_id=others, now=now)
    with pytest.raises(NotFound):
        make_token(store, walker, "phone", 7, round_id=9999, now=now)
    with pytest.raises(Invalid):
        make_token(store, walker, "phone", 8, round_id=mine, now=now)
    _, secret = make_token(store, walker, "phone", 7, round_id=mine, now=now)
    asker = actor_by_token(store, secret, now=now)
    assert asker.only_round == mine
    assert asker.sites == {plant.site_ids[0]}
    assert not asker.clients


def test_an_administrators_token_for_a_round_sees_its_site_alone(
    store: Store, now: datetime, plant: Plant
) -> None:
    round_id = issue_round(store, plant)
    _, secret = make_token(store, plant.actor(Role.ADMINISTRATOR), "x", 7, round_id=round_id, now=now)
    asker = actor_by_token(store, secret, now=now)
    assert not asker.every_site
    assert asker.sites == {plant.site_ids[0]}


@pytest.mark.parametrize("role", list(Role))
def test_a_token_for_a_round_never_does_more_than_walk_it(role: Role) -> None:
    asker = Actor(person_id=1, name="x", role=role, only_round=5)
    allowed = {verb for verb in Verb if may(asker, verb)}
    assert allowed == {verb for verb in ONE_ROUND if role in ALLOWED[verb]}
    assert allowed < {verb for verb in Verb if may(replace(asker, only_round=None), verb)}


def test_at_the_door_a_token_for_a_round_opens_no_other_address(
    store: Store, now: datetime, plant: Plant, app: FastAPI
) -> None:
    round_id = issue_round(store, plant)
    secret = token_of(store, plant.people[Role.TECHNICIAN], now, round_id=round_id)
    client = program(app, secret)
    closed = ["/people/me", "/tokens", "/people/colleagues", "/findings", f"/rounds/{round_id}0", "/rounds"]
    assert {path: client.get(f"/api/v1{path}").status_code for path in closed} == dict.fromkeys(closed, 404)
