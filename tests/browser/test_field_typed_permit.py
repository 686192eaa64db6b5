"""A stop that is shut for want of a permit's number opens on the phone once it is typed from the paper, with no signal."""

from datetime import datetime, time
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from playwright.sync_api import Browser, Page

from service.domain.words import Access
from service.storage import permits, pictures
from service.storage.tables.register import EquipmentRow, SiteRow
from service.storage.unit import Store
from service.usecases.rounds.permits import PermitFields, ask_permit, close_permit
from tests.browser.accessible import violations
from tests.browser.conftest import Visitor, true_now
from tests.browser.field_walks import (
    all_sent,
    begin_stop,
    go,
    issued_today,
    opened,
    phone,
    read_view,
    readings_of,
    take_along,
)
from tests.browser.test_field_screens import faults_of
from tests.doors import session_of
from tests.readings.builders import Issued
from tests.rounds.builders import change

pytestmark = pytest.mark.browser
SHUT = "NOT OPEN: NO PERMIT NUMBER"


def asked(store: Store, walk: Issued, **said: Any) -> int:
    """The walk's only stop behind a cover, under a permit that says nothing yet, or no more than ``said``."""
    change(store, EquipmentRow, walk.plant.equipment_ids[0], access=Access.HINGED_COVER.value)
    with store.look() as unit:
        stop_id = pictures.places_of_round(unit, walk.round_id).stops[0].stop_id
    permit = ask_permit(
        store, walk.engineer, walk.round_id, site_id=walk.plant.site_ids[0], stop_ids=[stop_id],
        fields=PermitFields(**said), now=true_now(),
    )  # fmt: skip
    return permit.id


def at_the_shut_stop(page: Page, walk: Issued) -> None:
    """The round taken along, no signal, cautions read."""
    take_along(page)
    page.context.set_offline(True)
    opened(page, f"#/rounds/{walk.round_id}")
    go(page)
    page.get_by_text(SHUT).wait_for()
    assert page.locator(".permit-form").count() == 0, "cautions come before the boxes"
    page.locator(".steps .go").click()
    page.locator(".permit-form").wait_for()


def typed(page: Page, number: str, since: str = "06:00", until: str = "20:00") -> None:
    day = true_now().strftime("%Y-%m-%d")
    page.get_by_label("Number").fill(number)
    page.get_by_label("From").fill(f"{day}T{since}")
    page.get_by_label("To").fill(f"{day}T{until}")
    page.get_by_role("button", name="Keep it, open this stop").click()


def test_a_stop_opens_with_no_signal_by_what_the_paper_says_and_the_engineer_sees_it(
    store: Store, chromium: Browser, live: str, tmp_path: Path
) -> None:
    walk = issued_today(store, boards=1, views=1)
    permit_id = asked(store, walk)
    with phone(chromium, tmp_path, address=live, walk=walk) as context:
        page = context.pages[0]
        at_the_shut_stop(page, walk)
        assert faults_of(page, "shut stop") == []
        typed(page, "")
        page.get_by_text("Type the number of the permit.").wait_for()
        typed(page, "P-88", since="20:00", until="06:00")
        page.get_by_text("It ends before it begins.").wait_for()
        typed(page, "P-88")
        page.get_by_text("typed here as shown by the issuer").wait_for()
        page.reload()
        page.locator("html[data-ready=yes]").wait_for(state="attached")
        assert page.get_by_text(SHUT).count() == 0
        assert page.locator(".cautions").count() == 1
        begin_stop(page, "24.0")
        read_view(page, ["30.1", "30.2", "30.3"])
        context.set_offline(False)
        all_sent(page)
    assert [row.no_permit_recorded for row in readings_of(store, walk.round_id)] == [False] * 3
    desk = Visitor(chromium, live)
    engineer = desk.with_session(session_of(store, walk.engineer.person_id or 0, true_now()))
    engineer.goto(f"/permits/{permit_id}")
    engineer.get_by_text("Typed on the walk").wait_for()
    assert engineer.get_by_label("Permit number").input_value() == "P-88"
    faults = violations(engineer)
    engineer.get_by_role("button", name="Keep", exact=True).click()
    engineer.goto(f"/permits/{permit_id}")
    engineer.get_by_text("by Test engineer.").first.wait_for()
    desk.leave()
    assert (desk.complaints, faults) == ([], [])


def test_times_of_a_permit_were_taken_for_those_of_the_phones_own_zone(
    store: Store, chromium: Browser, live: str, tmp_path: Path
) -> None:
    walk = issued_today(store, boards=1, views=1)
    zone, day = ZoneInfo("Asia/Kolkata"), true_now().date()
    change(store, SiteRow, walk.plant.site_ids[0], time_zone=zone.key)
    until = datetime.combine(day, time(20), zone)
    asked(store, walk, valid_to=until)
    with phone(chromium, tmp_path, address=live, walk=walk) as context:
        page = context.pages[0]
        at_the_shut_stop(page, walk)
        assert page.get_by_label("To").input_value() == f"{day}T20:00"
        typed(page, "P-88", until="21:00")
        page.get_by_text(f"The round says to {day} 20:00. Ask the engineer").wait_for()
        typed(page, "P-88")
        page.get_by_text("Permit P-88, 06:00 to 20:00, typed here as shown by the issuer").wait_for()
        context.set_offline(False)
        all_sent(page)
    with store.look() as unit:
        (permit,) = permits.permits_of(unit, walk.round_id)
    assert (permit.valid_from, permit.valid_to) == (datetime.combine(day, time(6), zone), until)


def test_a_permit_that_is_closed_meanwhile_shuts_the_stop_again(
    store: Store, chromium: Browser, live: str, tmp_path: Path
) -> None:
    walk = issued_today(store, boards=1, views=1)
    permit_id = asked(store, walk)
    with phone(chromium, tmp_path, address=live, walk=walk) as context:
        page = context.pages[0]
        at_the_shut_stop(page, walk)
        typed(page, "P-88")
        page.get_by_text("typed here as shown by the issuer").wait_for()
        context.set_offline(False)
        all_sent(page)
        with store.look() as unit:
            version = permits.permits_of(unit, walk.round_id)[0].version
        close_permit(store, walk.engineer, permit_id, version=version, now=true_now())
        opened(page)
        page.get_by_role("button", name="Bring up to date").click()
        page.wait_for_function(
            """async (round) => {
              const opening = indexedDB.open("riseline-field");
              await new Promise((done) => { opening.onsuccess = done; });
              const asked = opening.result.transaction("packs").objectStore("packs").get(round);
              await new Promise((done) => { asked.onsuccess = done; });
              opening.result.close();
              return asked.result.stops[0].permit.state === "closed";
            }""",
            arg=walk.round_id,
        )
        opened(page, f"#/rounds/{walk.round_id}")
        go(page)
        page.get_by_text("NOT OPEN: PERMIT CLOSED").wait_for()
        assert page.locator(".permit-form").count() == 0
