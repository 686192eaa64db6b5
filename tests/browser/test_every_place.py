"""Every place opens for every person, on a desk and on a phone, and its console stays quiet."""

from collections.abc import Callable
from datetime import datetime

import pytest

from service.domain.words import Role
from service.storage.unit import Store
from tests.browser.accessible import violations
from tests.browser.conftest import Visitor, seen
from tests.builders import build_plant
from tests.doors import session_of

PLACES = {
    Role.TECHNICIAN: ("/", "/desk", "/rounds", "/equipment"),
    Role.ENGINEER: (
        "/",
        "/desk",
        "/rounds",
        "/rounds/new",
        "/rounds/people",
        "/rounds/permits",
        "/rounds/plans",
        "/rounds/plans/new",
        "/routes",
        "/equipment",
        "/reports",
        "/reports/trends",
        "/reports/year",
        "/register/import",
        "/set-up",
        "/set-up/instruments",
        "/set-up/criteria",
        "/set-up/phrases",
        "/set-up/tokens",
        "/set-up/calendar",
        "/set-up/audit",
        "/load-hours",
        "/labels",
    ),
    Role.MANAGER: ("/", "/desk", "/rounds", "/equipment", "/reports", "/reports/year", "/set-up"),
    Role.ADMINISTRATOR: ("/", "/set-up", "/set-up/people", "/set-up/tokens", "/set-up/audit"),
}


#: The engineer has every place and looks at it in two sights; the others see fewer of them, in one.
SIGHTS_OF = {
    Role.TECHNICIAN: ("dark phone",),
    Role.ENGINEER: ("light desk", "dark phone"),
    Role.MANAGER: ("light desk",),
    Role.ADMINISTRATOR: ("light desk",),
}


@pytest.mark.parametrize(
    ("role", "size", "dark"),
    [sight for role, usual in SIGHTS_OF.items() for sight in seen(*usual, role=role)],
)
def test_every_place_opens_fits_and_is_accessible(
    store: Store,
    address: str,
    visit: Callable[[str], Visitor],
    now: datetime,
    *,
    role: Role,
    dark: bool,
    size: dict[str, int],
) -> None:
    plant = build_plant(store, boards=2, bearings=1)
    page = visit(address).with_session(session_of(store, plant.people[role], now), size=size, dark=dark)
    faults = []
    technician = plant.people[Role.TECHNICIAN]
    of_engineers = (f"/rounds/people/{technician}",) if role is Role.ENGINEER else ()
    of_all = (
        f"/points/{plant.point_ids[0]}",
        f"/points/{plant.point_ids[0]}/pictures",
        f"/equipment/{plant.equipment_ids[0]}",
    )
    for place in (*PLACES[role], *of_engineers, *of_all):
        if role is Role.TECHNICIAN and place.startswith(("/points/", "/equipment/")):
            continue  # of rounds given to them only
        answer = page.goto(place)
        assert answer is not None
        if answer.status != 200:
            faults.append(f"{place}: {answer.status}")
            continue
        if page.evaluate("document.documentElement.scrollWidth > innerWidth"):
            faults.append(f"{place}: wider than the screen")
        found = violations(page)
        faults += [f"{place}: {rule['id']} {rule['nodes'][0]['html'][:150]}" for rule in found]
    assert faults == []
