"""What may happen while a technician is out of reach: signed out, withdrawn, two phones, a wrong clock."""

from datetime import timedelta
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page
from sqlalchemy import delete, select

from service.domain.words import RoundState
from service.storage.tables.field import HeldSendRow
from service.storage.tables.people import SessionRow
from service.storage.tables.rounds import RoundRow
from service.storage.unit import Store
from service.usecases.rounds.withdraw import withdraw_round
from tests.browser.conftest import Visitor
from tests.browser.field_walks import (
    all_sent,
    issued_today,
    offline_at_first_view,
    opened,
    phone,
    read_view,
    readings_of,
    true_now,
)
from tests.doors import COOKIE, session_of
from tests.field.builders import hand_on, second_technician
from tests.readings.builders import Issued

pytestmark = pytest.mark.browser


def read_offline(page: Page, walk: Issued, temperatures: list[str]) -> None:
    """The round's first view, with the signal cut."""
    offline_at_first_view(page, walk)
    read_view(page, temperatures)


def test_a_session_that_ends_keeps_everything_and_asks_to_sign_in(
    store: Store, chromium: Browser, live: str, tmp_path: Path
) -> None:
    walk = issued_today(store, boards=1, views=2)
    with phone(chromium, tmp_path, address=live, walk=walk) as context:
        page = context.pages[0]
        read_offline(page, walk, ["30.1", "30.2", "30.3"])
        with store.begin() as unit:
            unit.session.execute(delete(SessionRow))
        context.set_offline(False)
        page.locator("#banner", has_text="Sign in again").wait_for()
        assert readings_of(store, walk.round_id) == []
        secret = session_of(store, walk.technician.person_id or 0, true_now())
        context.add_cookies([{"name": COOKIE, "value": secret, "url": live}])
        all_sent(page)
    assert sorted(row.temperature_c or 0 for row in readings_of(store, walk.round_id)) == [30.1, 30.2, 30.3]


def test_a_round_withdrawn_meanwhile_has_its_readings_kept_aside(
    store: Store, chromium: Browser, live: str, tmp_path: Path
) -> None:
    walk = issued_today(store, boards=1, views=2)
    with phone(chromium, tmp_path, address=live, walk=walk) as context:
        page = context.pages[0]
        read_offline(page, walk, ["31.1", "31.2", "31.3"])
        with store.look() as unit:
            version = unit.session.scalars(select(RoundRow.version)).one()
        withdraw_round(
            store, walk.engineer, walk.round_id, version=version, reason="plant shut", now=true_now()
        )
        context.set_offline(False)
        all_sent(page)
        opened(page, f"#/rounds/{walk.round_id}/kept")
        page.get_by_role("heading", name="kept aside for the engineer").wait_for()
        desk = Visitor(chromium, live)
        engineer = desk.with_session(session_of(store, walk.engineer.person_id or 0, true_now()))
        engineer.goto("/desk")
        told = engineer.locator("main").inner_text()
        desk.leave()
    assert readings_of(store, walk.round_id) == []
    assert "3 things wait for a decision" in told.replace("\N{NO-BREAK SPACE}", " ")
    assert "Test technician sent: 31.1 °C" in told
    with store.look() as unit:
        assert unit.session.scalars(select(RoundRow.state)).one() == RoundState.WITHDRAWN


def test_a_round_given_to_somebody_else_meanwhile_has_its_readings_kept_aside_and_says_so(
    store: Store, chromium: Browser, live: str, tmp_path: Path
) -> None:
    walk = issued_today(store, boards=1, views=2)
    with phone(chromium, tmp_path, address=live, walk=walk) as context:
        page = context.pages[0]
        read_offline(page, walk, ["31.1", "31.2", "31.3"])
        hand_on(store, walk, second_technician(store, walk.plant), now=true_now())
        context.set_offline(False)
        all_sent(page)
        opened(page, f"#/rounds/{walk.round_id}")
        told = page.locator("main[data-screen=round] .warn")
        told.get_by_text("was taken off Test technician meanwhile; it is with Test second.").wait_for()
        opened(page)
        page.get_by_role("button", name="Bring up to date").click()
        page.get_by_text("This round is not given to you any more.").wait_for()
    assert readings_of(store, walk.round_id) == []
    with store.look() as unit:
        held = unit.session.scalars(select(HeldSendRow.body).where(HeldSendRow.kind == "reading")).all()
    assert sorted(body["temperature_c"] for body in held) == [31.1, 31.2, 31.3]


def test_two_phones_on_one_point_keep_both_readings(
    store: Store, chromium: Browser, live: str, tmp_path: Path
) -> None:
    walk = issued_today(store, boards=1, views=1)
    with phone(chromium, tmp_path / "a", address=live, walk=walk) as first:
        read_offline(first.pages[0], walk, ["32.1", "32.2", "32.3"])
        first.set_offline(False)
        all_sent(first.pages[0])
    visitor = Visitor(chromium, live)
    second = visitor.with_session(session_of(store, walk.engineer.person_id or 0, true_now()), has_touch=True)
    read_offline(second, walk, ["36.1", "36.2", "36.3"])
    second.context.set_offline(False)
    all_sent(second)
    visitor.leave()
    stored = readings_of(store, walk.round_id)
    assert sorted(row.temperature_c or 0 for row in stored) == [32.1, 32.2, 32.3, 36.1, 36.2, 36.3]
    assert len({row.source for row in stored}) == 2
    with store.look() as unit:
        chosen = unit.session.scalars(select(RoundRow)).one()
        assert chosen.state == RoundState.RETURNED


@pytest.mark.parametrize("hours", [3, -3])
def test_a_phone_whose_clock_is_three_hours_off_is_put_right(
    store: Store, chromium: Browser, live: str, tmp_path: Path, hours: int
) -> None:
    walk = issued_today(store, boards=1, views=1)
    with phone(chromium, tmp_path, address=live, walk=walk) as context:
        page = context.pages[0]
        page.clock.install(time=true_now() + timedelta(hours=hours))
        before = true_now()
        read_offline(page, walk, ["33.1", "33.2", "33.3"])
        context.set_offline(False)
        all_sent(page)
        opened(page, f"#/rounds/{walk.round_id}/kept")
        said = page.locator("main[data-screen=kept]").inner_text()
    stored = readings_of(store, walk.round_id)
    assert len(stored) == 3
    for row in stored:
        assert before - timedelta(seconds=5) <= row.taken_at <= true_now() + timedelta(seconds=5)
        assert abs((row.skew_s or 0) - hours * 3600) < 30
    assert f"clock is 180 minutes {'ahead' if hours > 0 else 'behind'}" in said
