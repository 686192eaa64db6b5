"""A technician who works in °F walks a round: typed, told and asked in °F, judged and stored in °C. By hand: 104 °F = 40 °C."""

import re
from pathlib import Path

import pytest
from playwright.sync_api import Browser

from service.domain.words import Role
from service.storage.tables.people import PersonRow
from service.storage.unit import Store
from tests.browser.field_walks import (
    all_sent,
    issued_today,
    offline_at_first_view,
    opened,
    phone,
    readings_of,
)
from tests.rounds.builders import change

pytestmark = pytest.mark.browser


def test_what_is_typed_in_fahrenheit_is_stored_in_celsius_with_what_was_typed(
    store: Store, chromium: Browser, live: str, tmp_path: Path
) -> None:
    walk = issued_today(store, boards=1, views=2)
    change(store, PersonRow, walk.plant.people[Role.TECHNICIAN], temperature_unit="f")
    with phone(chromium, tmp_path, address=live, walk=walk) as context:
        page = context.pages[0]
        offline_at_first_view(page, walk, air="77")
        for text in ("104", "104", "158"):
            page.keyboard.type(text)
            page.locator("[data-key=next]").click()
        page.locator(".verdict strong").wait_for()
        told = page.locator("main").inner_text()
        assert "54.0 °F over its like parts" in told  # 70 - 40 = 30 K
        assert not re.search(r"°C|\d K\b", told)
        page.reload()  # a round that is begun keeps its unit, whatever is chosen since
        page.locator("main[data-screen=view]").wait_for()
        assert page.locator(".box input").first.input_value() == "104"
        change(store, PersonRow, walk.plant.people[Role.TECHNICIAN], temperature_unit="c")
        context.set_offline(False)
        opened(page, f"#/rounds/{walk.round_id}/kept")
        all_sent(page)
    stored = sorted(readings_of(store, walk.round_id), key=lambda row: row.temperature_c or 0)
    assert [row.temperature_c for row in stored] == [40.0, 40.0, 70.0]
    assert {row.ambient_c for row in stored} == {25.0}
    typed = stored[0].typed or {}
    assert (typed["temperature_c"], typed["ambient_c"], typed["temperature_unit"]) == (104, 77, "°F")
