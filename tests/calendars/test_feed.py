"""One's own calendar: under a secret address, of rounds in sight, gone at once when it should be."""

import logging
from collections.abc import Callable
from datetime import date, datetime, timedelta
from typing import Any

import pytest
from icalendar import Calendar, Event
from starlette.testclient import TestClient

from service.cli import _WithoutSecrets
from service.domain.audit import AuditQuestion
from service.domain.people import Actor
from service.domain.rounds import Round
from service.domain.words import Access, Role
from service.errors import Forbidden, NotFound
from service.storage.tables.people import GrantRow
from service.storage.tables.planning import CalendarFeedRow
from service.storage.unit import Store
from service.usecases.calendars.own_feed import make_feed, read_feed, revoke_feed
from service.usecases.calendars.read_calendar import BACK
from service.usecases.people.accounts import set_active, show_person
from service.usecases.people.audit_trail import read_audit
from service.usecases.rounds.edit import RoundDetails, details_of, edit_round
from service.usecases.rounds.issue import issue_round
from service.usecases.rounds.plan import RoundWish, plan_round
from service.usecases.rounds.withdraw import withdraw_round
from tests.builders import Plant, build_plant
from tests.doors import browser, browser_as, open_app
from tests.rounds.builders import DAY, NOW, Walk, cover, draft, issued
from tests.rounds.test_permits import FULL, asked

Clock = Callable[[], datetime]


def feed_of(walk: Walk, clock: Clock, role: Role = Role.TECHNICIAN) -> tuple[TestClient, str]:
    """A calendar program without any session, and the address that was made for a person."""
    _, secret = make_feed(walk.store, walk.plant.actor(role), now=NOW)
    return browser(open_app(walk.store, clock)), f"/calendar/{secret}.ics"


def events(client: TestClient, address: str) -> list[Event]:
    answer = client.get(address)
    assert answer.status_code == 200, answer.text
    return list(Calendar.from_ical(answer.content).walk("VEVENT"))


def given(walk: Walk, round_: Round, **fields: Any) -> Round:
    details = details_of(round_)
    values = {name: getattr(details, name) for name in RoundDetails.__slots__} | fields
    return edit_round(
        walk.store, walk.engineer, round_.id, RoundDetails(**values), version=round_.version, now=NOW
    )


def test_the_feed_tells_each_round_that_somebody_walks_in_either_place(
    any_store: Store, clock: Clock
) -> None:
    walk = draft(any_store, boards=2)
    plant = walk.plant
    wish = RoundWish(name="North, again", planned_on=DAY, equipment_ids=tuple(plant.equipment_ids[:1]))
    other = plan_round(any_store, walk.engineer, wish, now=NOW)
    client, address = feed_of(walk, clock)
    (event,) = events(client, address)
    assert (event["summary"], event["status"]) == (f"South ({walk.round.code})", "TENTATIVE")
    given(walk, other, second_person_id=plant.people[Role.TECHNICIAN])
    told = {str(one["summary"]) for one in events(client, address)}
    assert told == {f"South ({walk.round.code})", f"North, again ({other.code})"}


def test_states_become_the_three_of_a_calendar(store: Store, clock: Clock) -> None:
    walk = draft(store)
    client, address = feed_of(walk, clock)
    assert [event["status"] for event in events(client, address)] == ["TENTATIVE"]
    done = issue_round(store, walk.engineer, walk.round.id, version=walk.round.version, now=NOW).round
    assert [event["status"] for event in events(client, address)] == ["CONFIRMED"]
    withdraw_round(store, walk.engineer, done.id, reason="rain", version=done.version, now=NOW)
    assert [event["status"] for event in events(client, address)] == ["CANCELLED"]


def test_a_change_keeps_the_uid_and_counts_the_sequence_up(store: Store, clock: Clock) -> None:
    walk = draft(store)
    client, address = feed_of(walk, clock)
    (before,) = events(client, address)
    given(walk, walk.round, planned_on=DAY + timedelta(days=1), start_min=9 * 60)
    (after,) = events(client, address)
    assert after["uid"] == before["uid"]
    assert after["sequence"] > before["sequence"]
    assert after["dtstart"].dt - before["dtstart"].dt == timedelta(days=1, hours=2)


def test_the_entry_says_what_is_read_and_how_the_permits_stand_and_permits_nothing(
    store: Store, clock: Clock
) -> None:
    walk = draft(store)
    cover(store, walk.plant.equipment_ids[0], Access.HINGED_COVER)
    client, address = feed_of(walk, clock)
    (event,) = events(client, address)
    told = str(event["description"])
    assert "Draft. 1 stop, 6 points. Back by 07:" in told
    assert "Reads: Test technician. Goes along: Test engineer." in told
    assert "Permits: none noted; 1 stop not open: no permit asked." in told
    assert "07:10 Site 1, Board 1 (S1-MCC1)" in told
    assert told.endswith("Local codes and the site's own rules come first.")
    assert "gives no one permission" in told
    assert (event["location"], event["url"]) == ("Site 1", f"http://testserver/rounds/{walk.round.id}")
    asked(walk, FULL)
    (event,) = events(client, address)
    assert "Permits: 1 asked for." in str(event["description"])


def test_who_is_taken_off_sees_the_round_cancelled_and_nothing_else_of_it(
    any_store: Store, clock: Clock
) -> None:
    walk = draft(any_store)
    client, address = feed_of(walk, clock)
    (before,) = events(client, address)
    given(walk, walk.round, person_id=None, name="Quite another walk")
    (event,) = events(client, address)
    assert (event["uid"], event["status"]) == (before["uid"], "CANCELLED")
    assert event["sequence"] > before["sequence"]
    assert event["description"] == "You no longer walk this round."
    assert event["summary"] == walk.round.code
    assert "url" not in event
    assert "location" not in event


def test_who_swaps_places_still_walks(store: Store, clock: Clock) -> None:
    walk = draft(store)
    client, address = feed_of(walk, clock)
    technician, engineer = walk.plant.people[Role.TECHNICIAN], walk.plant.people[Role.ENGINEER]
    given(walk, walk.round, person_id=engineer, second_person_id=technician)
    assert [event["status"] for event in events(client, address)] == ["TENTATIVE"]


def test_the_feed_goes_back_ninety_days_and_no_further(store: Store, clock: Clock) -> None:
    walk = draft(store)
    technician = walk.plant.people[Role.TECHNICIAN]
    for back in (BACK, BACK + timedelta(days=1)):
        wish = RoundWish(
            name=f"{back.days}", planned_on=NOW.date() - back, equipment_ids=(walk.plant.equipment_ids[0],)
        )
        given(walk, plan_round(store, walk.engineer, wish, now=NOW), person_id=technician)
    client, address = feed_of(walk, clock)
    assert [str(event["summary"]).partition(" ")[0] for event in events(client, address)] == ["90", "South"]


def test_what_is_out_of_sight_is_out_of_the_feed_at_once(any_store: Store, clock: Clock) -> None:
    walk = draft(any_store)
    client, address = feed_of(walk, clock)
    tag = client.get(address).headers["etag"]
    with any_store.begin() as unit:
        technician = walk.plant.people[Role.TECHNICIAN]
        unit.session.query(GrantRow).filter_by(person_id=technician).delete()
    answer = client.get(address, headers={"If-None-Match": tag})
    assert answer.status_code == 200, "an entry that is gone changes the tag"
    assert list(Calendar.from_ical(answer.content).walk("VEVENT")) == []


def test_unchanged_it_answers_304_and_the_same_bytes(store: Store) -> None:
    walk = issued(store)
    minutes = iter(range(1000))
    client, address = feed_of(walk, lambda: NOW + timedelta(minutes=next(minutes)))
    first, second = client.get(address), client.get(address)
    assert first.content == second.content
    assert first.headers["content-type"] == "text/calendar; charset=utf-8"
    assert first.headers["cache-control"] == "private, no-cache"
    tag = first.headers["etag"]
    for sent in (tag, f"W/{tag}", f'"other", {tag}'):
        answer = client.get(address, headers={"If-None-Match": sent})
        assert (answer.status_code, answer.content, answer.headers["etag"]) == (304, b"", tag)
    for headers in ({"If-None-Match": '"other"'}, {"If-Modified-Since": first.headers["last-modified"]}):
        assert client.get(address, headers=headers).status_code == 200
    permit = asked(walk)
    assert permit.id
    assert client.get(address, headers={"If-None-Match": tag}).status_code == 200, "a permit was asked for"


# ---- the secret ------------------------------------------------------------------------------


def test_a_revoked_address_and_one_that_never_was_are_told_alike(any_store: Store, clock: Clock) -> None:
    walk = draft(any_store)
    technician = walk.technician()
    client, address = feed_of(walk, clock)
    feed = read_feed(any_store, technician)
    assert feed is not None
    revoke_feed(any_store, technician, feed.id, now=NOW)
    revoke_feed(any_store, technician, feed.id, now=NOW)
    answers = [client.get(one) for one in (address, "/calendar/never-was.ics")]
    assert [answer.status_code for answer in answers] == [404, 404]
    assert read_feed(any_store, technician) is None


def test_another_address_ends_the_one_before(store: Store, clock: Clock) -> None:
    walk = draft(store)
    client, old = feed_of(walk, clock)
    _, new = feed_of(walk, clock)
    assert [client.get(one).status_code for one in (old, new)] == [404, 200]


def test_a_closed_account_has_no_calendar_and_opened_again_it_has_none_either(
    store: Store, clock: Clock
) -> None:
    walk = draft(store)
    client, address = feed_of(walk, clock)
    person, administrator = walk.plant.people[Role.TECHNICIAN], walk.plant.actor(Role.ADMINISTRATOR)
    for active in (False, True):
        version = show_person(store, administrator, person).person.version
        set_active(store, administrator, person, active, version=version, now=NOW)
        assert client.get(address).status_code == 404


def test_nobody_ends_the_address_of_another_and_a_token_makes_none(store: Store) -> None:
    plant = build_plant(store)
    feed, _ = make_feed(store, plant.actor(Role.TECHNICIAN), now=NOW)
    for role in (Role.ENGINEER, Role.MANAGER, Role.ADMINISTRATOR):
        with pytest.raises(NotFound):
            revoke_feed(store, plant.actor(role), feed.id, now=NOW)
    for actor in (plant.actor(by_token=True), plant.actor(Role.MANAGER), plant.actor(person_id=None)):
        with pytest.raises(Forbidden):
            make_feed(store, actor, now=NOW)


def test_only_a_digest_is_kept_and_the_trail_names_no_secret(store: Store, clock: Clock) -> None:
    walk = draft(store)
    client, address = feed_of(walk, clock)
    secret = address.removeprefix("/calendar/").removesuffix(".ics")
    assert client.get(address).status_code == 200
    with store.look() as unit:
        row = unit.session.query(CalendarFeedRow).one()
        kept = {column.name: getattr(row, column.name) for column in CalendarFeedRow.__table__.columns}
    assert kept["used_at"] is not None
    assert secret not in map(str, kept.values())
    entries = read_audit(store, walk.plant.actor(Role.ADMINISTRATOR), AuditQuestion(limit=50))
    assert ("make", "calendar feed") in {(entry.verb, entry.noun) for entry in entries}
    assert secret not in repr(entries)


def test_the_address_is_shown_once_on_the_page_that_makes_it(store: Store, clock: Clock) -> None:
    plant = build_plant(store)
    client = browser_as(open_app(store, clock), store, plant, Role.TECHNICIAN, NOW)
    assert "/set-up/calendar" in client.get("/set-up").text
    made = client.post("/set-up/calendar").text
    address = made.partition('<code class="secret">')[2].partition("</code>")[0]
    assert client.get(address).status_code == 200
    assert address not in client.get("/set-up/calendar").text
    feed = read_feed(store, plant.actor(Role.TECHNICIAN))
    assert feed is not None
    assert client.post(f"/set-up/calendar/{feed.id}/revoke").status_code == 303
    assert client.get(address).status_code == 404
    assert "No calendar reads your rounds" in client.get("/set-up/calendar").text


def test_logs_do_not_keep_the_secret(
    store: Store, clock: Clock, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    line = ("127.0.0.1:1", "GET", "/calendar/abc-secret.ics?x=1", "1.1", 200)
    record = logging.LogRecord("uvicorn.access", logging.INFO, "", 0, '%s - "%s %s HTTP/%s" %d', line, None)
    assert _WithoutSecrets().filter(record)
    assert record.getMessage() == '127.0.0.1:1 - "GET /calendar/…?x=1 HTTP/1.1" 200'

    def fails(*_: object, **__: object) -> None:
        raise RuntimeError("unforeseen")

    monkeypatch.setattr("service.pages.calendars.read_own_calendar", fails)
    client = TestClient(open_app(store, clock), raise_server_exceptions=False)
    assert client.get("/calendar/abc-secret.ics").status_code == 500
    assert "unforeseen error at GET /calendar/…" in caplog.text
    assert "abc-secret" not in caplog.text


# ---- one round -------------------------------------------------------------------------------


@pytest.mark.parametrize("role", [Role.TECHNICIAN, Role.ENGINEER, Role.MANAGER])
def test_who_sees_a_round_takes_it_into_a_calendar(store: Store, clock: Clock, role: Role) -> None:
    walk = draft(store)
    client = browser_as(open_app(store, clock), store, walk.plant, role, NOW)
    assert f"/rounds/{walk.round.id}/round.ics" in client.get(f"/rounds/{walk.round.id}").text
    answer = client.get(f"/rounds/{walk.round.id}/round.ics")
    (event,) = Calendar.from_ical(answer.content).walk("VEVENT")
    assert event["summary"] == f"South ({walk.round.code})"
    assert answer.headers["content-disposition"] == 'attachment; filename="round.ics"'


def test_a_round_without_stops_has_no_clock_and_says_so(store: Store, clock: Clock) -> None:
    plant: Plant = build_plant(store)
    engineer: Actor = plant.actor()
    empty = plan_round(
        store,
        engineer,
        RoundWish(name="Empty", planned_on=date(2026, 12, 8), client_id=plant.client_id),
        now=NOW,
    )
    client = browser_as(open_app(store, clock), store, plant, Role.ENGINEER, NOW)
    answer = client.get(f"/rounds/{empty.id}/round.ics")
    assert answer.status_code == 409
    assert "has no stops" in answer.text
