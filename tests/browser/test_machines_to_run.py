"""An engineer notes by keyboard that a site was asked to run a pump, and what it answered."""

from collections.abc import Callable
from datetime import datetime

import pytest

from service.domain.words import Role, RunRequestState
from service.storage.tables.register import EquipmentRow
from service.storage.unit import Store
from service.usecases.rounds.run_requests import list_run_requests
from tests.browser.accessible import violations
from tests.browser.conftest import Visitor, seen
from tests.doors import session_of
from tests.rounds.builders import DAY, change, draft

pytestmark = pytest.mark.browser


@pytest.mark.parametrize(("size", "dark"), seen("light desk", "dark phone"))
def test_a_request_and_its_answer_are_noted(
    store: Store,
    address: str,
    visit: Callable[[str], Visitor],
    now: datetime,
    *,
    size: dict[str, int],
    dark: bool,
) -> None:
    walk = draft(store, sites=1, boards=3)
    for key in walk.plant.equipment_ids[:2]:
        change(store, EquipmentRow, key, duty_group="high-lift pumps")
    visitor = visit(address)
    secret = session_of(store, walk.plant.people[Role.ENGINEER], now)
    page = visitor.with_session(secret, size=size, dark=dark)
    page.goto(f"/rounds/permits?first={DAY}&last={DAY}")
    page.get_by_role("link", name="Note it as asked to run").focus()
    page.keyboard.press("Enter")
    page.wait_for_url("**/running")
    page.get_by_label("Whom was it asked of").fill("Control room")
    page.get_by_role("button", name="Note it as asked for").focus()
    page.keyboard.press("Enter")
    page.get_by_text("Noted: 2 machines asked for.").wait_for()
    page.get_by_label("The site’s answer").first.select_option("It will not run")
    page.get_by_label("In their words").first.fill("out for a new seal until Friday")
    page.get_by_role("button", name="Note the answer").first.click()
    page.get_by_text("The answer is noted.").wait_for()
    states = [one.state for one in list_run_requests(store, walk.engineer, walk.round.id)]
    assert states == [RunRequestState.ASKED, RunRequestState.REFUSED]
    for place in (page.url, f"/rounds/{walk.round.id}", f"/rounds/{walk.round.id}/build", "/rounds/permits"):
        page.goto(place)
        assert not page.evaluate("document.documentElement.scrollWidth > innerWidth"), place
        assert violations(page) == [], place
