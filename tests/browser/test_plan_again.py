"""A month whose weather turns, whose pumps take turns and whose gaps come back: by keyboard, on every screen."""

import re
from collections.abc import Callable
from datetime import datetime

import pytest
from playwright.sync_api import Page

from service.domain.forecasts import Forecast
from service.domain.words import Access, Reason, Role
from service.storage.unit import Store
from service.usecases.plans.forecasts import type_forecast
from service.usecases.plans.see import PlanPage, read_plan
from tests.browser.accessible import violations
from tests.browser.conftest import Visitor, seen
from tests.browser.test_plan_of_a_month import drawn_up
from tests.builders import Plant
from tests.doors import session_of
from tests.plans.builders import NOW, begun, planning_plant, set_equipment
from tests.plans.test_carried_over import came_back, points_of

pytestmark = pytest.mark.browser
Visit = Callable[[str], Visitor]


def turning_month(store: Store, open_as: Callable[[int], Page]) -> tuple[Plant, PlanPage, Page]:
    """Two boards outdoors, two pumps in turn, one cover that came back three times for want of a permit."""
    plant = planning_plant(store, boards=4)
    first, second, pump, other, cover = plant.equipment_ids[:5]
    for key in (first, second):
        set_equipment(store, key, outdoor=True, name=f"Yard kiosk {key}")
    for key in (pump, other):
        set_equipment(store, key, duty_group="high-lift pumps", name=f"High-lift pump {key}")
    set_equipment(store, cover, access=Access.BOLTED_COVER.value)
    came_back(store, points_of(plant, 4), *[Reason.LOCKED] * 3)
    came_back(store, points_of(plant, 1), Reason.WET_FOG_OR_SUN, Reason.OUT_OF_TIME)
    plan_id = begun(store, plant).id
    page = open_as(plant.people[Role.ENGINEER])
    page.goto(f"/rounds/plans/{plan_id}")
    drawn_up(page)
    out = read_plan(store, plant.actor(), plan_id).reserves[0].stands_for[0]
    wet = Forecast(plant.site_ids[0], out.day, words="showers", wind_m_s=7.0, rain_mm=4.0)
    type_forecast(store, plant.actor(), wet, now=NOW)
    return plant, read_plan(store, plant.actor(), plan_id), page


def press(page: Page, name: str | re.Pattern[str]) -> None:
    """A button by keyboard alone."""
    page.get_by_role("button", name=name).first.focus()
    page.keyboard.press("Enter")
    page.wait_for_load_state()


def test_the_weather_turns_and_the_outdoor_stops_move_by_keyboard(
    store: Store, address: str, visit: Visit, now: datetime
) -> None:
    visitor = visit(address)
    plant, plan, page = turning_month(
        store, lambda person: visitor.with_session(session_of(store, person, now))
    )
    page.goto(f"/rounds/plans/{plan.plan.id}")
    (spoiled,) = plan.spoiled
    assert spoiled.reserve is not None
    page.get_by_text("showers").first.wait_for()
    press(page, re.compile("^Move to "))
    page.wait_for_url("**/walks/*")
    moved = read_plan(store, plant.actor(), plan.plan.id)
    assert moved.spoiled == ()
    page.goto(f"/rounds/plans/{plan.plan.id}")
    press(page, "Level the weeks")
    page.get_by_text("as level as their walks").wait_for()
    press(page, "Undo")
    page.get_by_text("One step back.").wait_for()


@pytest.mark.parametrize(("size", "dark"), seen("light desk", "dark phone"))
def test_the_screens_fit_and_are_accessible(
    store: Store, address: str, visit: Visit, now: datetime, *, size: dict[str, int], dark: bool
) -> None:
    visitor = visit(address)
    _, plan, page = turning_month(
        store, lambda person: visitor.with_session(session_of(store, person, now), size=size, dark=dark)
    )
    base = f"/rounds/plans/{plan.plan.id}"
    out, kept = plan.reserves[0].stands_for[0], plan.reserves[0].walk
    faults = []
    for path in (base, f"{base}/walks/{out.key}", f"{base}/walks/{kept.key}", "/desk", "/rounds/permits"):
        page.goto(path)
        if page.evaluate("document.documentElement.scrollWidth > innerWidth"):
            faults.append(f"{path}: wider than the screen")
        faults += [f"{path}: {rule['id']} {rule['nodes'][0]['html'][:150]}" for rule in violations(page)]
    assert faults == []
