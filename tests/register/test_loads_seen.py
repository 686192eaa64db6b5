"""Common loads learned from visits: offered with their numbers, taken by an engineer, never silently."""

from collections.abc import Callable
from datetime import date, datetime

import numpy as np
import pytest
from sqlalchemy import event, text

from service.domain.loads_seen import LoadPlace, suggested_loads
from service.domain.words import Role
from service.errors import Conflict, Forbidden, Stale
from service.storage.unit import Store
from service.usecases.register.learn_load import (
    list_load_suggestions,
    preview_load,
    see_load_suggestion,
    take_load,
)
from tests.builders import Plant, build_plant
from tests.conftest import NOW
from tests.doors import browser_as, open_app, program_as
from tests.readings.builders import issue
from tests.register.counting import ask

Clock = Callable[[], datetime]
AMPS = (52.0, 61.0, 58.0, 70.0, 66.0, 64.0)
#: linear 90th percentile of AMPS, by NumPy's quantile
LEARNED = float(f"{np.quantile(AMPS, 0.9):.3g}")


def place(amps: float | None = 200.0, source: str = "rating", rated: float | None = 400.0) -> LoadPlace:
    return LoadPlace(1, 1, 1, "T-1", "Board, view: T-1", amps, source, rated)


@pytest.mark.parametrize(
    ("registered", "offered"),
    [
        (place(), True),
        (place(None, ""), True),
        (place(None, "", None), True),
        (place(60.0, "highest known"), True),
        (place(90.0, "highest known"), False),
        (place(LEARNED, "rating"), False),
    ],
    ids=["rating", "rated current", "nothing", "raises what was known", "never lowers", "the same already"],
)
def test_what_is_offered(registered: LoadPlace, offered: bool) -> None:
    one = suggested_loads([registered], [AMPS])[0]
    assert (one.amps, one.visits, one.highest_a) == (LEARNED, 6, 70.0)
    assert one.offered is offered


def test_too_few_visits_offer_nothing() -> None:
    one = suggested_loads([place()], [AMPS[:4]])[0]
    assert (one.amps, one.visits, one.highest_a, one.offered) == (None, 4, 70.0, False)
    assert suggested_loads([], []) == ()


def walked(store: Store, **kinds: int) -> Plant:
    """Six visits with amps; the first points's load is the rating."""
    plant = build_plant(store, views=1, **kinds)
    with store.begin() as unit:
        unit.session.execute(text("UPDATE points SET common_load_a = 200, common_load_source = 'rating'"))
    for month, amps in enumerate(AMPS, start=1):
        issued = issue(store, plant=plant, day=date(2026, month, 12))
        issued.bring([issued.record(row, 44.0, current_a=amps) for row in range(len(issued.rows))])
    return plant


def test_a_load_is_taken_with_a_preview_and_a_record(any_store: Store) -> None:
    plant = walked(any_store)
    point, engineer = plant.point_ids[0], plant.actor()
    one = see_load_suggestion(any_store, engineer, point)
    assert (one.amps, one.visits, one.place.amps, one.offered) == (LEARNED, 6, 200.0, True)
    before = ask(any_store, "SELECT common_load_a, common_load_version FROM points WHERE id = :p", p=point)
    foreseen = preview_load(any_store, engineer, point, now=NOW)
    assert foreseen is not None
    assert foreseen.readings == 6
    assert (
        ask(any_store, "SELECT common_load_a, common_load_version FROM points WHERE id = :p", p=point)
        == before
    )
    version = one.place.version
    with pytest.raises(Conflict):
        take_load(any_store, engineer, point, amps=LEARNED + 1, version=version, now=NOW)
    with pytest.raises(Stale):
        take_load(any_store, engineer, point, amps=LEARNED, version=version + 1, now=NOW)
    done = take_load(any_store, engineer, point, amps=LEARNED, version=version, now=NOW)
    assert (done.readings, len(done.moved)) == (foreseen.readings, len(foreseen.moved))
    kept = ask(
        any_store,
        "SELECT common_load_a, common_load_version, common_load_source FROM points WHERE id = :p",
        p=point,
    )
    assert kept == [(LEARNED, 2, "highest known: 90th percentile of the amps at 6 visits")]
    assert ask(any_store, "SELECT count(*) FROM reevaluations") == [(1,)]
    assert not see_load_suggestion(any_store, engineer, point).offered


def test_looking_takes_nothing_and_others_do_not_see_it(store: Store) -> None:
    plant = walked(store)
    with pytest.raises(Forbidden):
        see_load_suggestion(store, plant.actor(Role.MANAGER), plant.point_ids[0])
    list_load_suggestions(store, plant.actor(), plant.site_ids[0])
    assert ask(store, "SELECT DISTINCT common_load_a FROM points") == [(200.0,)]


def test_the_list_of_a_site_costs_the_same_however_many_points_there_are(any_store: Store) -> None:
    plant = walked(any_store, boards=3)
    counted: list[str] = []

    def count(_c: object, _k: object, statement: str, *_rest: object) -> None:
        counted.append(statement)

    with any_store.look() as unit:
        engine = unit.session.get_bind()
    engine = getattr(engine, "engine", engine)
    costs = []
    event.listen(engine, "before_cursor_execute", count)
    try:
        for limit in (1, 500):
            counted.clear()
            page = list_load_suggestions(any_store, plant.actor(), plant.site_ids[0], limit=limit)
            costs.append(len(counted))
    finally:
        event.remove(engine, "before_cursor_execute", count)
    assert costs[0] == costs[1]
    assert (len(page.items), page.next_after) == (9, None)
    assert {one.amps for one in page.items} == {LEARNED}
    first = list_load_suggestions(any_store, plant.actor(), plant.site_ids[0], limit=4)
    rest = list_load_suggestions(
        any_store, plant.actor(), plant.site_ids[0], limit=9, after=first.next_after or 0
    )
    assert [len(first.items), len(rest.items)] == [4, 5]


def test_pages_and_api_show_the_numbers_and_one_click_takes_them(
    store: Store, clock: Clock, now: datetime
) -> None:
    plant = walked(store)
    app = open_app(store, clock)
    browser = browser_as(app, store, plant, Role.ENGINEER, now)
    point = plant.point_ids[0]
    form = browser.get(f"/register/point/{point}/edit").text.replace("\u00a0", " ").replace("\u202f", " ")
    assert f"The visits say {LEARNED:g} A: the 90th percentile of 6 visits" in form
    assert "the register says 200 A (rating)" in form
    listed = browser.get(f"/common-loads?site={plant.site_ids[0]}").text
    assert listed.count('/common-load"') == 3
    assert browser.get("/common-loads").headers["location"] == f"/common-loads?site={plant.site_ids[0]}"
    page = browser.get(f"/points/{point}/common-load").text
    assert "6 readings evaluated again" in page.replace("\u00a0", " ")
    told = (
        program_as(app, store, plant, Role.ENGINEER, now)
        .get(f"/api/v1/points/{point}/load-suggestion")
        .json()
    )
    assert (told["suggested_a"], told["visits"], told["offered"]) == (LEARNED, 6, True)
    version = see_load_suggestion(store, plant.actor(), point).place.version
    done = browser.post(f"/points/{point}/common-load", data={"version": str(version), "amps": str(LEARNED)})
    assert (done.status_code, done.headers["location"]) == (303, f"/points/{point}")
    assert ask(store, "SELECT common_load_a FROM points WHERE id = :p", p=point) == [(LEARNED,)]
