"""A round of eighty-one points walked with no signal, on a phone that is reloaded and closed, over a bad line."""

from collections import Counter
from pathlib import Path

import pytest
from playwright.sync_api import Browser, BrowserContext, Page, Route

from service.storage.unit import Store
from tests.browser.field_walks import (
    all_sent,
    begin_stop,
    go,
    issued_today,
    kept,
    opened,
    phone,
    read_view,
    readings_of,
    take_along,
)

pytestmark = pytest.mark.browser
BOARDS, VIEWS, PHASES = 9, 3, 3


def bad_line(context: BrowserContext) -> Counter[str]:
    """Every third reading fails: now before the server has it, now after it stored it and before anybody hears."""
    met: Counter[str] = Counter()

    def pass_on(route: Route) -> None:
        met["sent"] += 1
        if met["sent"] % 3:
            route.continue_()
        elif met["sent"] % 2:
            met["dropped before"] += 1
            route.abort("connectionreset")
        else:
            met["dropped after"] += 1
            route.fetch()
            route.abort("timedout")

    context.route("**/readings/*", pass_on)
    return met


def walk_stops(page: Page, stops: range) -> None:
    for stop in stops:
        begin_stop(page, f"2{stop}.0")
        for view in range(VIEWS):
            read_view(page, [f"3{stop}.{view}", f"3{stop}.{view + 3}", f"3{stop}.{view + 6}"])
        page.locator("main[data-screen=stop]").wait_for()
        go(page)


def test_eighty_one_points_offline_over_a_bad_line_are_stored_once_each(
    store: Store, chromium: Browser, live: str, tmp_path: Path
) -> None:
    walk = issued_today(store, boards=BOARDS, views=VIEWS)
    points = BOARDS * VIEWS * PHASES
    assert len(walk.rows) == points
    with phone(chromium, tmp_path, address=live, walk=walk) as context:
        page = context.pages[0]
        take_along(page)
        context.set_offline(True)
        page.reload()
        opened(page, f"#/rounds/{walk.round_id}")
        go(page)
        walk_stops(page, range(3))
        page.reload()
        page.locator("main[data-screen=stop]").wait_for()
        begin_stop(page, "23.0")
        page.keyboard.type("33.")
        kept(page, walk, '"temperature":"33."')
        page.reload()  # in the middle of a number
        page.locator("main[data-screen=view]").wait_for()
        assert page.locator(".box input").first.input_value() == "33."
        page.keyboard.type("0")
        page.locator("[data-key=next]").click()
        read_view(page, ["33.3", "33.6"])
        for view in (1, 2):
            read_view(page, [f"33.{view}", f"33.{view + 3}", f"33.{view + 6}"])
        page.locator("main[data-screen=stop]").wait_for()
    assert readings_of(store, walk.round_id) == []
    with phone(chromium, tmp_path, address=live, walk=walk) as context:  # closed, and opened again
        context.set_offline(True)
        page = opened(context.pages[0], f"#/rounds/{walk.round_id}")
        assert page.locator(".lead").inner_text().startswith(f"36 of {points} points read")
        go(page)
        walk_stops(page, range(4, BOARDS))
        page.get_by_text(f"{points} of {points} points read").wait_for()
        met = bad_line(context)
        context.set_offline(False)
        all_sent(page)
    stored = readings_of(store, walk.round_id)
    assert len(stored) == points
    assert {row.row_id for row in stored} == {row.row_id for row in stored if row.revision == 1}
    assert len({row.row_id for row in stored}) == points
    assert {round(row.temperature_c or 0, 1) for row in stored} == {
        round(30 + stop + tenth / 10, 1) for stop in range(BOARDS) for tenth in range(9)
    }
    assert met["dropped before"] > 5
    assert met["dropped after"] > 5
